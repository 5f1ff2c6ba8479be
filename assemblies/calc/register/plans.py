"""What each row of a register would do, before anything is done."""

import datetime as dt
import hashlib
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Literal

from .entries import CellRefusal, RegisterEntry
from .facts import HOSE_FACTS, POSITION_FACTS, STAY_FACTS, Change
from .known import KnownHose, KnownMachine, KnownPosition, MachineKey

Outcome = Literal["new", "changed", "same", "refused", "left_out"]
OUTCOMES: tuple[Outcome, ...] = ("new", "changed", "same", "refused", "left_out")


@dataclass(slots=True)
class RowPlan:
    """One row: what would become of it, shown to a person, and what writing needs to know.

    `adds` names in words what else the row brings (a machine, a place, a reading).
    """

    row_number: int
    outcome: Outcome
    label: str = ""
    reason: str = ""
    refusals: tuple[CellRefusal, ...] = ()
    adds: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()  # said of the row, and no change
    entry: RegisterEntry | None = None
    machine_key: MachineKey = ""
    place_key: str = ""
    mark_key: str = ""
    own_tag: str = ""
    place_no: int = 0
    position: KnownPosition | None = None
    hose: KnownHose | None = None
    hose_changes: Sequence[Change] = ()
    stay_changes: Sequence[Change] = ()
    position_changes: Sequence[Change] = ()
    inspected: dt.date | None = None

    def detail(self) -> dict[str, object]:
        """What is shown of the row, and compared when it is confirmed."""
        if self.outcome == "same" and not self.notes:
            return {}
        changed = [*self.hose_changes, *self.stay_changes, *self.position_changes]
        shown: dict[str, object] = {}
        if self.reason:
            shown["reason"] = self.reason
        if self.refusals:
            shown["refusals"] = [[r.cell, r.header, r.found, r.reason] for r in self.refusals]
        if self.outcome == "new" and self.entry is not None:
            shown["facts"] = facts_in_words(self.entry)
        if changed:
            shown["changes"] = [list(change.in_words()) for change in changed]
        if self.notes:
            shown["notes"] = list(self.notes)
        if self.adds:
            shown["adds"] = list(self.adds)
        return shown


def facts_in_words(entry: RegisterEntry) -> list[list[str]]:
    """What a row says of a new hose: each fact by its label, as it was read.

    >>> RegisterPlan([], {}, {}).counts()["new"]
    0
    """
    said = [(fact, fact.of(entry)) for fact in (*HOSE_FACTS, *POSITION_FACTS, *STAY_FACTS)]
    return [[fact.label, fact.show(values)] for fact, values in said if values is not None]


@dataclass(slots=True)
class MachinePlan:
    """A machine that rows name: known or to be made, and what the rows change of it."""

    key: MachineKey
    number: str
    known: KnownMachine | None
    changes: list[Change] = field(default_factory=list)
    stated: dict[str, tuple[int, object]] = field(default_factory=dict)
    needed: bool = False  # by a row that would be written


@dataclass(frozen=True, slots=True)
class ReadingPlan:
    """An hour reading that a row brings."""

    machine_key: MachineKey
    on: dt.date
    tenths: int
    typed: str


@dataclass(slots=True)
class RegisterPlan:
    """The whole file: its rows in order, the machines they name, the readings they bring."""

    rows: list[RowPlan]
    machines: dict[MachineKey, MachinePlan]
    readings: dict[int, ReadingPlan]  # by the row that brings it

    def counts(self) -> dict[str, int]:
        seen = Counter(row.outcome for row in self.rows)
        return {outcome: seen.get(outcome, 0) for outcome in OUTCOMES}

    def digest(self) -> str:
        """Changes with any outcome, reason or value shown; stays the same while they do."""
        return digest_of(self.rows)


def digest_of(rows: Iterable[RowPlan]) -> str:
    summed = hashlib.sha256()
    for row in rows:
        shown = (row.row_number, row.outcome, row.label, row.detail())
        summed.update(repr(shown).encode())
    return summed.hexdigest()
