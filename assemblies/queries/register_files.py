"""Uploaded registers as their pages show them: the list, one file, its rows page by page."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from assemblies.models import ColumnMemory, RegisterFile, RegisterRow
from fleet.models import Person, Site
from fleet.permissions import may
from fleet.queries.keyset import Order, Page, page_of

BY_ROW = Order("row_number")


@dataclass(frozen=True, slots=True)
class FileLine:
    """One file of the list."""

    file_id: int
    name: str
    site: str
    state: str
    words: str
    sent_at: dt.datetime
    sent_by: str
    new: int
    changed: int
    refused: int


@dataclass(frozen=True, slots=True)
class RowLine:
    """What one row would do, in words."""

    row_number: int
    outcome: str
    label: str
    reason: str
    refusals: Sequence[Sequence[str]]
    changes: Sequence[Sequence[str]]
    facts: Sequence[Sequence[str]]
    adds: Sequence[str]
    notes: Sequence[str]


def sites_to_import_into(person: Person) -> list[Site]:
    """The sites whose register this person may import."""
    return [
        site
        for site in Site.objects.visible_to(person).filter(withdrawn_at=None)
        if may(person, "import_register", site)
    ]


def register_file_for(person: Person, file_id: int) -> RegisterFile | None:
    """A file of a site whose register this person may import; its bytes come when asked for."""
    seen = RegisterFile.objects.visible_to(person).select_related("site", "sent_by")
    file: RegisterFile | None = seen.defer("content").filter(pk=file_id).first()
    return file if file is not None and may(person, "import_register", file.site_id) else None


def files_of(person: Person, *, most: int = 30) -> list[FileLine]:
    """The last files of the person's sites, the newest first; without their bytes."""
    ids = [site.pk for site in sites_to_import_into(person)]
    found = RegisterFile.objects.filter(site__in=ids).exclude(state=RegisterFile.State.DROPPED)
    rows = found.defer("content").select_related("site", "sent_by").order_by("-id")[:most]
    return [
        FileLine(
            file.pk,
            file.name,
            file.site.name,
            file.state,
            file.get_state_display(),
            file.sent_at,
            str(file.sent_by or "the command line"),
            *(int(file.counts.get(name, 0)) for name in ("new", "changed", "refused")),
        )
        for file in rows
    ]


def rows_of(
    file: RegisterFile, *, outcome: str, after: tuple[object, ...] | None, size: int
) -> Page[RowLine]:
    """A page of a file's rows in their order, all or those of one outcome."""
    rows = RegisterRow.objects.filter(file=file)
    if outcome:
        rows = rows.filter(outcome=outcome)
    page = page_of(rows, order=BY_ROW, after=after, size=size)
    return Page(tuple(_line(row) for row in page.rows), page.after)


def refused_numbers(file: RegisterFile) -> dict[int, str]:
    """The refused rows by number, each with its reasons in one sentence."""
    rows = RegisterRow.objects.filter(file=file, outcome=RegisterRow.Outcome.REFUSED)
    return {
        row.row_number: reasons(row.detail.get("refusals", ()))
        for row in rows.order_by("row_number")
    }


def reasons(refusals: Sequence[Sequence[str]]) -> str:
    """The reasons of a refused row in one line, each with its cell and what was found there."""
    return " ".join(
        f"{cell} “{found}”: {reason}" if told(found, reason) else f"{cell}: {reason}"
        for cell, _, found, reason in refusals
    )


def told(found: str, reason: str) -> str:
    """What was found in a cell, unless the reason says it itself."""
    return "" if found and f"“{found}”" in reason else found


def remembered_answers(site: Site) -> dict[str, str]:
    """The answers that the site gave last: suggestions, never taken unasked."""
    memory = ColumnMemory.objects.filter(site=site).first()
    return dict(memory.answers) if memory else {}


def _line(row: RegisterRow) -> RowLine:
    detail = row.detail
    refusals = detail.get("refusals", ())
    return RowLine(
        row.row_number,
        row.outcome,
        row.label,
        detail.get("reason", ""),
        [(cell, name, told(found, why), why) for cell, name, found, why in refusals],
        detail.get("changes", ()),
        detail.get("facts", ()),
        detail.get("adds", ()),
        detail.get("notes", ()),
    )
