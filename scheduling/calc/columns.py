"""One trigger for many rows: the table from which dates are decided and explained."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import IntEnum
from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt

from scheduling.calc.calendar import Ints
from scheduling.calc.exemptions import put_off_until
from scheduling.calc.inputs import (
    LAST_DAY,
    NONE,
    DueInputs,
    Exemptions,
    Flag,
    Place,
    RuleTable,
    Trigger,
)
from scheduling.calc.limits import matching_limits

Bools = npt.NDArray[np.bool_]


class State(IntEnum):
    """Why a trigger has a date, or has none."""

    DATED = 0
    NO_LIMIT = 1
    ELSEWHERE = 2
    NOT_KNOWN = 3
    STANDING = 4
    TOO_FAR = 5
    KEPT = 6
    NOTHING_OPEN = 7
    AGE_KNOWN = 8
    SCRAPPED = 9


# As plain numbers: a member of an enum is looked up slowly, and this is done for every column.
_DATED: Final = int(State.DATED)
_STANDING: Final = int(State.STANDING)
_TOO_FAR: Final = int(State.TOO_FAR)
_KEPT: Final = int(State.KEPT)
_SCRAPPED: Final = int(State.SCRAPPED)
_FITTED: Final = int(Place.FITTED)


class Span(NamedTuple):
    """An uncertain day: its earliest and latest bounds, shape (n,) each."""

    early: Ints
    late: Ints


@dataclass(frozen=True)
class TriggerColumn:
    """One trigger for n rows, shape (n,) each; `NONE` where there is no such day, limit or rule."""

    trigger: Trigger
    state: Ints
    start_on: Ints
    limit: Ints
    rule: Ints
    early: Ints
    likely: Ints
    late: Ints
    until_on: Ints
    notes: Ints
    empty: bool = False


class Rows:
    """The inputs with what several triggers need of them, worked out once."""

    def __init__(self, inputs: DueInputs, rules: RuleTable, exemptions: Exemptions) -> None:
        self.inputs = inputs
        self.limits = matching_limits(inputs, rules)
        self.until = put_off_until(inputs, exemptions)
        self.alive: Bools = inputs.place != int(Place.SCRAPPED)
        self.all_alive = bool(self.alive.all())
        self.fitted: Bools = inputs.place == _FITTED
        self.loose: Bools = self.alive & ~self.fitted
        self.made = _span(inputs.made_early_on, inputs.made_late_on)
        self.placed = _span(inputs.placed_early_on, inputs.placed_late_on)
        self.own_built = _span(inputs.built_early_on, inputs.built_late_on)
        self.stand_in: Bools = (self.own_built.early == NONE) & (self.made.early != NONE)
        self.built = either(self.stand_in, self.made, self.own_built)
        self.nothing: Ints = np.broadcast_to(np.int64(NONE), (inputs.size,))
        self.zero: Ints = np.broadcast_to(np.int64(0), (inputs.size,))


def _span(early: Ints, late: Ints) -> Span:
    """Exact where no later bound is known; not known where no earliest bound is."""
    return Span(early, np.where((late == NONE) | (early == NONE) | (late < early), early, late))


def either(choice: Bools, first: Span, second: Span) -> Span:
    """The first day where chosen, else the second."""
    if not choice.any():
        return second
    return Span(
        np.where(choice, first.early, second.early), np.where(choice, first.late, second.late)
    )


def noted(where: Bools, flag: Flag) -> Ints:
    """The flag's number where it holds, else 0.

    >>> flag = Flag.UNCERTAIN_DATE
    >>> noted(np.array([True, False]), flag).tolist() == [int(flag), 0]
    True
    """
    return where * np.int64(flag)


def without_date(rows: Rows, trigger: Trigger, why: State = State.NO_LIMIT) -> TriggerColumn:
    """A trigger that gives no row a date: no rule sets its limit, or nothing is there to count."""
    state = np.where(rows.alive, int(why), _SCRAPPED)
    none, zero = rows.nothing, rows.zero
    return TriggerColumn(trigger, state, none, none, none, none, none, none, none, zero, empty=True)


def sealed(
    rows: Rows,
    trigger: Trigger,
    state: Ints,
    *,
    start_on: Ints,
    limit: Ints,
    rule: Ints,
    dates: tuple[Ints, Ints, Ints],
    notes: Ints,
) -> TriggerColumn:
    """A column with its exemptions applied; dates stand only where the state says so.

    Besides dated rows two kinds may show an early day alone: those of a standing machine whose high
    bound still runs, and reels that were possibly, not likely, too old.
    """
    state, dates, notes = _standing(rows, state, dates, notes)
    return _put_off(rows, trigger, (state, start_on, limit, rule), dates, notes)


def sealed_together(
    rows: Rows,
    triggers: Sequence[Trigger],
    state: Ints,
    *,
    start_on: Ints,
    limit: Ints,
    rule: Ints,
    dates: tuple[Ints, Ints, Ints],
    notes: Ints,
) -> list[TriggerColumn]:
    """Likewise several columns at once, shape (triggers, n) each: few rows cost as much as one."""
    state, dates, notes = _standing(rows, state, dates, notes)
    facts = zip(triggers, state, start_on, limit, rule, *dates, notes, strict=True)
    return [
        _put_off(rows, trigger, (state, start_on, limit, rule), (early, likely, late), notes)
        for trigger, state, start_on, limit, rule, early, likely, late, notes in facts
    ]


def _standing(
    rows: Rows, state: Ints, dates: tuple[Ints, Ints, Ints], notes: Ints
) -> tuple[Ints, tuple[Ints, Ints, Ints], Ints]:
    """State, dates and notes of rows that live, within the calendar; any number of columns."""
    dated = state == _DATED
    shown = (dated | (state == _STANDING) | (state == _KEPT)) & rows.alive
    likely = np.where(shown & (dates[1] <= LAST_DAY), dates[1], NONE)
    early, late = (
        likely if day is dates[1] else np.where(shown & (day <= LAST_DAY), day, NONE)
        for day in (dates[0], dates[2])
    )
    state = np.where(dated & (likely == NONE), _TOO_FAR, state)
    if not rows.all_alive:
        state = np.where(rows.alive, state, _SCRAPPED)
        notes = np.where(rows.alive, notes, 0)
    return state, (early, likely, late), notes


def _put_off(
    rows: Rows,
    trigger: Trigger,
    facts: tuple[Ints, Ints, Ints, Ints],
    dates: tuple[Ints, Ints, Ints],
    notes: Ints,
) -> TriggerColumn:
    """The column, its dates moved to the days that exemptions grant."""
    if trigger not in rows.until:
        return TriggerColumn(trigger, *facts, *dates, rows.nothing, notes)
    until, early = rows.until[trigger], dates[0]
    moved = (until != NONE) & (early != NONE) & (until > early)
    granted = np.where(until == NONE, -NONE, until)
    early, likely, late = (np.maximum(day, granted) for day in dates)
    notes = notes | noted(moved, Flag.EXEMPTED)
    return TriggerColumn(trigger, *facts, early, likely, late, until, notes)
