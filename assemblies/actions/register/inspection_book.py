"""Who keeps inspections: an app above this one, which says so when it starts.

A register tells when a hose was last looked at. Inspections are kept above the assemblies, so
whoever keeps them gives the import two functions here.
"""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

from fleet.models import Person, Site


@dataclass(frozen=True, slots=True)
class Looked:
    """A hose that was looked at on a day, and the position it sat on."""

    assembly_id: int
    position_id: int | None
    on: dt.date


class InspectionBook(Protocol):
    """What the keeper of inspections can do."""

    def last_days(self, assembly_ids: Sequence[int]) -> dict[int, dt.date]:
        """The last day each was looked at; those never looked at are left out."""

    def record(
        self, looked: Sequence[Looked], *, site: Site, person: Person | None, at: dt.datetime
    ) -> None:
        """Record looks that a register tells of. Call inside the transaction of the import."""


_books: list[InspectionBook] = []


def keep_inspections_in(book: InspectionBook) -> None:
    """Make a book the keeper; the last one that says so is."""
    _books[:] = [book]


def last_inspections(assembly_ids: Sequence[int]) -> dict[int, dt.date]:
    """The last day each of some hoses was looked at; nothing where nobody keeps inspections."""
    return _books[0].last_days(assembly_ids) if _books else {}


def record_looks(
    looked: Sequence[Looked], *, site: Site, person: Person | None, at: dt.datetime
) -> None:
    if _books and looked:
        _books[0].record(looked, site=site, person=person, at=at)
