"""Sheets that were printed from a recipe's revision which was withdrawn, or is about to be."""

import datetime as dt
from dataclasses import dataclass
from typing import Final

from assemblies.models import FrozenSheet, RecipeRevision
from assemblies.queries.build_facts import recipes_of_sheet
from assemblies.queries.sheets import content_of
from fleet.models import Person

MOST: Final = 50


@dataclass(frozen=True, slots=True)
class WithdrawnRecipe:
    """A withdrawn revision that a sheet gives figures of, and at which end."""

    end: str
    revision_id: int
    number: int
    withdrawn_at: dt.datetime | None
    reason: str

    @property
    def sentence(self) -> str:
        why = f": {self.reason.rstrip('.')}" if self.reason else ""
        return (
            f"Revision {self.number} of the recipe at end {self.end} was withdrawn since this "
            f"sheet was printed{why}. Build nothing by it: draw the sheet anew."
        )


@dataclass(frozen=True, slots=True)
class NamedSheet:
    """A sheet that was not built yet, in the words of a list."""

    site_id: int
    number: int
    words: str


def withdrawn_recipes_of(sheet: FrozenSheet) -> tuple[WithdrawnRecipe, ...]:
    """The revisions behind a frozen sheet that are withdrawn by now, end by end."""
    found = recipes_of_sheet(sheet, content_of(sheet))
    return tuple(
        WithdrawnRecipe(end, row.pk, row.number, row.withdrawn_at, row.withdrawal_reason)
        for end, row in sorted(found.items())
        if row.state == RecipeRevision.State.WITHDRAWN
    )


def unbuilt_sheets_of(person: Person, revision_id: int) -> tuple[NamedSheet, ...]:
    """Sheets at the person's sites that give figures of a revision and were not built yet.

    The newest fifty of its joint are looked at; those that were put aside are left out.
    """
    revision = RecipeRevision.objects.select_related("header").filter(pk=revision_id).first()
    if revision is None:
        return ()
    joint = revision.header
    of_joint = FrozenSheet.objects.visible_to(person).filter(
        aside_at=None,
        batches=None,
        spec__hose=joint.hose_id,
        spec__ends__fitting=joint.fitting_id,
        spec__ends__shell=joint.shell_id,
    )
    rows = of_joint.select_related("site", "spec__header").distinct().order_by("-id")[:MOST]
    return tuple(
        NamedSheet(row.site_id, row.number, f"{row.site.code} {row.number}, {row.spec}")
        for row in rows
        if _names(row, revision)
    )


def _names(sheet: FrozenSheet, revision: RecipeRevision) -> bool:
    """Whether the sheet's content gives the revision's figures at an end of its joint."""
    joint = revision.header
    return any(
        end.crimp is not None
        and end.crimp.revision == revision.number
        and end.fitting_code == joint.fitting.code
        and (end.shell_code or "") == (joint.shell.code if joint.shell else "")
        for end in content_of(sheet).ends
    )
