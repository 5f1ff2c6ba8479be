"""The workshop's tools as pages show them: calibrations, what a dial is off, what was changed."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.db.models import F

from assemblies.calc.calibration import Calibration, calibration
from assemblies.models import Crimper, Instrument
from assemblies.queries.dials import DieLine, learnt_dials
from fleet.models import Person, TrailEntry

MOST = 400
MOST_CHANGES = 40


@dataclass(frozen=True, slots=True)
class ToolKind:
    """A kind of tool: its table and its names."""

    slug: str
    noun: str
    plural: str
    model: Any


KINDS: Mapping[str, ToolKind] = {
    "crimper": ToolKind("crimper", "crimper", "Crimpers", Crimper),
    "instrument": ToolKind("instrument", "instrument", "Measuring instruments", Instrument),
}


@dataclass(frozen=True, slots=True)
class ToolLine:
    """One tool of a list."""

    tool_id: int
    slug: str
    code: str
    description: str
    site: str
    calibrated_on: dt.date | None
    due_on: dt.date | None
    calibration: Calibration
    withdrawn: str

    @property
    def state(self) -> str:
        return "withdrawn" if self.withdrawn else self.calibration.state

    @property
    def state_words(self) -> str:
        return "withdrawn" if self.withdrawn else self.calibration.words


@dataclass(frozen=True, slots=True)
class ChangeLine:
    """One entry of a tool's trail."""

    deed: str
    by: str
    at: dt.datetime
    words: str


@dataclass(frozen=True, slots=True)
class ToolPage:
    """One tool, whole."""

    tool: Any
    line: ToolLine
    dies: tuple[DieLine, ...]
    changes: tuple[ChangeLine, ...]


def tool_lines(
    person: Person, slug: str, *, today: dt.date, site_id: int | None = None
) -> tuple[ToolLine, ...]:
    """The tools of a kind at the person's sites: what is due first, the withdrawn last.

    One query; a workshop has few, and the first four hundred are shown.
    """
    found = KINDS[slug].model.objects.visible_to(person).select_related("site")
    if site_id is not None:
        found = found.filter(site=site_id)
    order = (
        F("withdrawn_at").asc(nulls_first=True),
        F("calibration_due_on").asc(nulls_first=True),
        "code_key",
    )
    return tuple(_line(slug, row, today) for row in found.order_by(*order)[:MOST])


def tool_for(person: Person, slug: str, tool_id: int) -> Any:
    """One tool, where the person may see its site; else None."""
    seen = KINDS[slug].model.objects.visible_to(person).filter(pk=tool_id)
    return seen.select_related("site", "withdrawn_by").first()


def tool_page(person: Person, slug: str, tool_id: int, *, today: dt.date) -> ToolPage | None:
    """One tool with its calibration, its trail, and for a crimper what its dial is off."""
    tool = tool_for(person, slug, tool_id)
    if tool is None:
        return None
    dies = learnt_dials(tool) if slug == "crimper" else ()
    return ToolPage(tool, _line(slug, tool, today), dies, _changes(tool))


def _line(slug: str, tool: Any, today: dt.date) -> ToolLine:
    withdrawn = (tool.withdrawal_reason or "withdrawn") if tool.withdrawn_at else ""
    return ToolLine(
        tool.pk,
        slug,
        tool.code,
        tool.description,
        tool.site.name,
        tool.calibrated_on,
        tool.calibration_due_on,
        calibration(tool.calibration_due_on, on=today),
        withdrawn,
    )


def _changes(tool: Any) -> tuple[ChangeLine, ...]:
    rows = TrailEntry.objects.filter(
        subject_type=tool._meta.label_lower, subject_id=str(tool.pk)
    ).order_by("-pk")[:MOST_CHANGES]
    return tuple(ChangeLine(row.deed, row.actor_label, row.at, _words(row)) for row in rows)


_NAMES = {
    "code": "code",
    "description": "what it is",
    "calibrated_on": "calibrated",
    "calibration_due_on": "due again",
}


def _words(row: TrailEntry) -> str:
    before: Mapping[str, Any] = row.before
    told = [
        f"{words} {row.after[name]}" + (f" (was {before[name]})" if before.get(name) else "")
        for name, words in _NAMES.items()
        if row.after.get(name)
    ]
    return "; ".join([*told, *([row.reason] if row.reason else [])])
