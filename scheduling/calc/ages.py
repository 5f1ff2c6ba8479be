"""Triggers that count calendar months: hose made, assembly built, fitted, storage, reel age."""

import numpy as np

from scheduling.calc.calendar import Ints, add_months
from scheduling.calc.columns import (
    Bools,
    Rows,
    Span,
    State,
    TriggerColumn,
    noted,
    sealed,
    without_date,
)
from scheduling.calc.inputs import NONE, Flag, Trigger


def age_columns(rows: Rows) -> tuple[TriggerColumn, ...]:
    """Made, built, fitted and storage age, in that order.

    >>> from scheduling.calc.inputs import DueInputs, Exemptions, RuleTable
    >>> nobody = Exemptions.from_rows(np.array([], dtype=np.int64))
    >>> hose = DueInputs.of(place=1, built_early_on=19_844, known_from_on=20_000)
    >>> built = age_columns(Rows(hose, RuleTable.of(rule=7, built_months=72), nobody))[1]
    >>> int(built.likely[0])  # 2024-05-01 + 72 months = 2030-05-01
    22035
    """
    built_notes = noted(rows.stand_in, Flag.BUILT_FROM_MADE)
    return (
        months_column(rows, Trigger.MADE, "made_months", rows.made, unknown=Flag.MADE_UNKNOWN),
        months_column(
            rows,
            Trigger.BUILT,
            "built_months",
            rows.built,
            unknown=Flag.BUILT_UNKNOWN,
            notes=built_notes,
        ),
        months_column(
            rows,
            Trigger.FITTED,
            "fitted_months",
            rows.placed,
            unknown=Flag.FITTED_UNKNOWN,
            counts=rows.fitted,
        ),
        months_column(
            rows,
            Trigger.STORAGE,
            "storage_months",
            rows.built,
            unknown=Flag.BUILT_UNKNOWN,
            counts=rows.loose,
            notes=built_notes,
        ),
    )


def months_column(
    rows: Rows,
    trigger: Trigger,
    limit_name: str,
    start: Span,
    *,
    unknown: Flag,
    counts: Bools | None = None,
    notes: Ints | None = None,
) -> TriggerColumn:
    """The start + a limit in calendar months; late counts from its latest day.

    `counts` says in which rows the clock runs; `unknown` is noted where it runs from no known day;
    `notes` stand beside a date.
    """
    found = rows.limits.of(limit_name)
    if found is None:
        return without_date(rows, trigger)
    limit, rule = found
    wanted = limit != NONE
    if counts is not None:
        wanted = wanted & counts
    dated = wanted & (start.early != NONE)
    early = _months_after(start.early, limit, dated)
    late = early
    spread = dated & (start.late != start.early)
    if spread.any():
        late = np.where(spread, _months_after(start.late, limit, spread), early)
    said = noted(spread, Flag.UNCERTAIN_DATE) | noted(wanted & ~dated, unknown)
    if notes is not None:
        said = said | np.where(dated, notes, 0)
    state = _state(limit, wanted, dated)
    facts = {"start_on": start.early, "limit": limit, "rule": rule}
    return sealed(rows, trigger, state, **facts, dates=(early, early, late), notes=said)


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
