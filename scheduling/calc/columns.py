"""One trigger for many rows: the table from which dates are decided and explained."""

from collections.abc import Iterator, Sequence
from enum import IntEnum
from functools import cached_property
from typing import Final, NamedTuple

import numpy as np

from scheduling.calc.calendar import Bools, Ints, beside, every, some
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


class State(IntEnum):
    """Why a trigger has a date, or has none. The first three may show a day."""

    DATED = 0
    STANDING = 1
    KEPT = 2
    NO_LIMIT = 3
    ELSEWHERE = 4
    NOT_KNOWN = 5
    TOO_FAR = 6
    NOTHING_OPEN = 7
    AGE_KNOWN = 8
    SCRAPPED = 9


# As plain numbers: a member of an enum is looked up slowly, and this is done for every column.
_DATED: Final = int(State.DATED)
_KEPT: Final = int(State.KEPT)
_TOO_FAR: Final = int(State.TOO_FAR)
_SCRAPPED: Final = int(State.SCRAPPED)
_NO_LIMIT: Final = int(State.NO_LIMIT)
_ELSEWHERE: Final = int(State.ELSEWHERE)
_FITTED: Final = int(Place.FITTED)
_GONE: Final = int(Place.SCRAPPED)
_NONE: Final = np.array(NONE)  # beside an array numpy takes this sooner than a plain number


class Span(NamedTuple):
    """An uncertain day: its earliest and latest bounds, shape (n,) each."""

    early: Ints
    late: Ints


class TriggerColumn(NamedTuple):
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
        self.alive: Bools = inputs.place != _GONE
        self.all_alive = every(self.alive)
        self.fitted: Bools = inputs.place == _FITTED
        self.made, self.placed, self.own_built = _spans(
            beside([inputs.made_early_on, inputs.placed_early_on, inputs.built_early_on]),
            beside([inputs.made_late_on, inputs.placed_late_on, inputs.built_late_on]),
        )
        self.stand_in: Bools = (self.own_built.early == _NONE) & (self.made.early != _NONE)
        self.built = either(self.stand_in, self.made, self.own_built)
        self.nothing: Ints = np.full(inputs.size, NONE)
        self.zero: Ints = np.zeros(inputs.size, dtype=np.int64)
        self._idle: dict[State, Ints] = {}

    @property
    def loose(self) -> Bools:
        """Where the hose is neither fitted nor scrapped."""
        return self.alive & ~self.fitted

    @cached_property
    def inspection_base(self) -> Span:
        """The day from which an inspection interval runs.

        The last inspection; without one the fitted day, for the look before first use is part of
        fitting; without that the built day, and last the day on which the register first knew of
        it.
        """
        inspected, known_from = self.inputs.inspected_on, self.inputs.known_from_on
        base = either(self.built.early != _NONE, self.built, Span(known_from, known_from))
        base = either(self.placed.early != _NONE, self.placed, base)
        return either(inspected != _NONE, Span(inspected, inspected), base)

    def idle(self, why: State) -> Ints:
        """The state of a trigger that gives no row a date."""
        if why not in self._idle:
            state = np.full(self.inputs.size, int(why))
            self._idle[why] = state if self.all_alive else np.where(self.alive, state, _SCRAPPED)
        found: Ints = self._idle[why]
        return found


def _spans(early: Ints, late: Ints) -> Iterator[Span]:
    """Exact where no later bound is known; not known where no earliest bound is."""
    return map(Span, early, np.where(late == _NONE, early, np.maximum(early, late)))


def either(choice: Bools, first: Span, second: Span) -> Span:
    """The first day where chosen, else the second."""
    number = np.count_nonzero(choice)
    if number in (0, choice.size):
        return first if number else second
    return Span(
        np.where(choice, first.early, second.early), np.where(choice, first.late, second.late)
    )


def noted(where: Bools, flag: Flag) -> Ints:
    """The flag's number where it holds, else 0.

    >>> flag = Flag.UNCERTAIN_DATE
    >>> noted(np.array([True, False]), flag).tolist() == [int(flag), 0]
    True
    """
    numbers: Ints = where * np.array(int(flag))
    return numbers


def without_date(rows: Rows, trigger: Trigger, why: State = State.NO_LIMIT) -> TriggerColumn:
    """A trigger that gives no row a date: no rule sets its limit, or nothing is there to count."""
    none = rows.nothing
    facts = (trigger, rows.idle(why), none, none, none, none, none, none, none, rows.zero)
    return TriggerColumn(*facts, empty=True)


def not_counted(limit: Ints) -> Ints:
    """The state of rows whose clock doesn't run: no rule limits it, or the hose is elsewhere."""
    state: Ints = np.where(limit == _NONE, _NO_LIMIT, _ELSEWHERE)
    return state


def sealed(
    rows: Rows,
    trigger: Trigger,
    state: Ints,
    *,
    start_on: Ints,
    limit: Ints,
    rule: Ints,
    dates: tuple[Ints, ...],
    notes: Ints,
) -> TriggerColumn:
    """A column with its exemptions applied; dates stand only where the state says so.

    `dates` are early, likely and late, or one where all three are the same. Besides dated rows two
    kinds may show an early day alone: those of a standing machine whose high bound still runs, and
    reels that were possibly, not likely, too old.
    """
    state, days, notes = _standing(rows, state, dates, notes)
    return _put_off(rows, trigger, (state, start_on, limit, rule), days, notes)


def sealed_together(
    rows: Rows,
    triggers: Sequence[Trigger],
    state: Ints,
    *,
    start_on: Ints,
    limit: Ints,
    rule: Ints,
    dates: tuple[Ints, ...],
    notes: Ints,
) -> list[TriggerColumn]:
    """Likewise several columns at once, shape (triggers, n) each: few rows cost as much as one."""
    state, days, notes = _standing(rows, state, dates, notes)
    facts = zip(triggers, state, start_on, limit, rule, *days, notes, strict=True)
    return [
        _put_off(rows, trigger, (state, start_on, limit, rule), (early, likely, late), notes)
        for trigger, state, start_on, limit, rule, early, likely, late, notes in facts
    ]


def _standing(
    rows: Rows, state: Ints, dates: tuple[Ints, ...], notes: Ints
) -> tuple[Ints, tuple[Ints, Ints, Ints], Ints]:
    """State, dates and notes of rows that live, within the calendar; any number of columns."""
    shown = state <= _KEPT
    if not rows.all_alive:
        shown &= rows.alive
    days = [np.where(shown & (day <= LAST_DAY), day, _NONE) for day in dates]
    early, likely, late = days if len(days) > 1 else days * 3
    too_far = (state == _DATED) & (likely == _NONE)
    if some(too_far):
        state = np.where(too_far, _TOO_FAR, state)
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
