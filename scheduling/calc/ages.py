"""Triggers that count calendar months: hose made, assembly built, fitted, storage, reel age."""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from scheduling.calc.calendar import Ints, add_months, beside
from scheduling.calc.columns import (
    Bools,
    Rows,
    Span,
    State,
    TriggerColumn,
    noted,
    sealed,
    sealed_together,
    without_date,
)
from scheduling.calc.inputs import NONE, Flag, Trigger


class Asked(NamedTuple):
    """One trigger that counts calendar months.

    `counts` says in which rows the clock runs; `unknown` is noted where it runs from no known day;
    `notes` stand beside a date.
    """

    trigger: Trigger
    limit_name: str
    start: Span
    unknown: Flag
    counts: Bools
    notes: Ints


def ages_asked(rows: Rows) -> tuple[Asked, ...]:
    """Made, built, fitted and storage age, in that order."""
    stands_in = noted(rows.stand_in, Flag.BUILT_FROM_MADE)
    built, no_built = rows.built, Flag.BUILT_UNKNOWN
    return (
        Asked(Trigger.MADE, "made_months", rows.made, Flag.MADE_UNKNOWN, rows.alive, rows.zero),
        Asked(Trigger.BUILT, "built_months", built, no_built, rows.alive, stands_in),
        Asked(
            Trigger.FITTED,
            "fitted_months",
            rows.placed,
            Flag.FITTED_UNKNOWN,
            rows.fitted,
            rows.zero,
        ),
        Asked(Trigger.STORAGE, "storage_months", built, no_built, rows.loose, stands_in),
    )


def months_columns(rows: Rows, asked: Sequence[Asked]) -> list[TriggerColumn]:
    """The start + a limit in calendar months; late counts from its latest day.

    >>> from scheduling.calc.inputs import DueInputs, Exemptions, RuleTable
    >>> nobody = Exemptions.from_rows(np.array([], dtype=np.int64))
    >>> hose = DueInputs.of(place=1, built_early_on=19_844, known_from_on=20_000)
    >>> rows = Rows(hose, RuleTable.of(rule=7, built_months=72), nobody)
    >>> built = months_columns(rows, ages_asked(rows))[1]
    >>> int(built.likely[0])  # 2024-05-01 + 72 months = 2030-05-01
    22035
    """
    limited = [one for one in asked if rows.limits.of(one.limit_name) is not None]
    found = {column.trigger: column for column in _together(rows, limited)} if limited else {}
    return [found.get(one.trigger) or without_date(rows, one.trigger) for one in asked]


def _together(rows: Rows, asked: Sequence[Asked]) -> list[TriggerColumn]:
    """Those that some rule limits, worked out at once, shape (triggers, n)."""
    found = [rows.limits.of(one.limit_name) for one in asked]
    limit, rule = (beside([pair[at] for pair in found if pair]) for at in (0, 1))
    early_on, late_on = beside([a.start.early for a in asked]), [a.start.late for a in asked]
    wanted = (limit != NONE) & beside([one.counts for one in asked])
    known = early_on != NONE
    dated = wanted & known
    early = late = _months_after(early_on, limit, dated)
    spread = dated & (late_on != early_on)
    if spread.any():
        late = np.where(spread, _months_after(beside(late_on), limit, spread), early)
    unknown = np.array([[int(one.unknown)] for one in asked])
    notes = np.where(dated, beside([one.notes for one in asked]), 0)
    notes |= noted(spread, Flag.UNCERTAIN_DATE) | np.where(wanted & ~known, unknown, 0)
    return sealed_together(
        rows,
        [one.trigger for one in asked],
        _state(limit, wanted, dated),
        start_on=early_on,
        limit=limit,
        rule=rule,
        dates=(early, early, late),
        notes=notes,
    )


def _state(limit: Ints, wanted: Bools, dated: Bools) -> Ints:
    """Why an age has a day or none: wanted where a limit's clock runs, dated where its start is."""
    idle = np.where(limit == NONE, int(State.NO_LIMIT), int(State.ELSEWHERE))
    return np.where(wanted, np.where(dated, int(State.DATED), int(State.NOT_KNOWN)), idle)


def _months_after(day: Ints, months: Ints, where: Bools) -> Ints:
    """Days `months` later in the rows asked for; elsewhere of no meaning."""
    if where.all():
        return add_months(day, months)
    return add_months(np.where(where, day, 0), np.where(where, months, 0))


def reel_age_column(rows: Rows) -> TriggerColumn:
    """A hose that was too old when it was built into an assembly is due on the day it was built.

    Too old: built after hose made + limit (on that day itself is in time). Early where that may be
    (made at its earliest, built at its latest), likely with both at their earliest, late where it
    is certain. The built day must be the assembly's own.
    """
    found = rows.limits.of("reel_age_months")
    if found is None:
        return without_date(rows, Trigger.REEL_AGE)
    limit, rule = found
    wanted = limit != NONE
    made, built = rows.made, rows.own_built
    known = wanted & (made.early != NONE) & (built.early != NONE)
    last_day = _months_after(made.early, limit, known)
    last_day_late = _months_after(made.late, limit, known)
    possible = known & (built.late > last_day)
    likely = known & (built.early > last_day)
    state = np.where(likely, int(State.DATED), int(State.KEPT))
    state = np.where(known, state, np.where(wanted, int(State.NOT_KNOWN), int(State.NO_LIMIT)))
    dates = (
        np.where(possible, built.early, NONE),
        np.where(likely, built.early, NONE),
        np.where(known & (built.early > last_day_late), built.late, NONE),
    )
    unsure = possible & ((made.late != made.early) | (built.late != built.early))
    notes = (
        noted(unsure, Flag.UNCERTAIN_DATE)
        | noted(wanted & (made.early == NONE), Flag.MADE_UNKNOWN)
        | noted(wanted & (built.early == NONE), Flag.BUILT_UNKNOWN)
    )
    facts = {"start_on": made.early, "limit": limit, "rule": rule, "notes": notes}
    return sealed(rows, Trigger.REEL_AGE, state, dates=dates, **facts)
