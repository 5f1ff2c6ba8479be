"""Triggers that an inspection, a release or a missing age sets."""

import numpy as np

from scheduling.calc.calendar import Ints, add_months, some
from scheduling.calc.columns import (
    Rows,
    State,
    TriggerColumn,
    noted,
    sealed,
    without_date,
)
from scheduling.calc.inputs import NONE, Flag, Trigger

PRACTICE_MONTHS = 12  # between inspections of a hose of unknown age; common practice, no source


def given_day_columns(rows: Rows) -> tuple[TriggerColumn, ...]:
    """Take out now, replace by, conditional release: their own day, no sum."""
    return (
        _given(rows, Trigger.TAKE_OUT, rows.inputs.take_out_on, Flag.TAKE_OUT_NOW),
        _given(rows, Trigger.REPLACE_BY, rows.inputs.replace_by_on),
        _given(rows, Trigger.RELEASE, rows.inputs.release_on, Flag.RELEASED),
    )


def recheck_column(rows: Rows) -> TriggerColumn:
    """A finding that says recheck by a day."""
    return _given(rows, Trigger.RECHECK, rows.inputs.recheck_on)


def unknown_age_column(rows: Rows) -> TriggerColumn:
    """A hose with neither made nor built day: inspected since the register knew of it, or due.

    Due on the day it was first known; once inspected on or after that day, the strictest matching
    inspection interval after the inspection, or 12 months where no rule gives one.

    >>> from scheduling.calc.inputs import DueInputs, Exemptions, RuleTable
    >>> nobody = Exemptions.from_rows(np.array([], dtype=np.int64))
    >>> hose = DueInputs.of(place=1, known_from_on=20_000)
    >>> column = unknown_age_column(Rows(hose, RuleTable.of(rule=7, built_months=72), nobody))
    >>> int(column.likely[0])  # no date known: due on the day the register first knew of it
    20000
    """
    unknown = (rows.built.early == NONE) & (rows.made.early == NONE)
    if not some(unknown):
        return without_date(rows, Trigger.UNKNOWN_AGE, State.AGE_KNOWN)
    inspected_on, known_from = rows.inputs.inspected_on, rows.inputs.known_from_on
    since = (inspected_on != NONE) & (inspected_on >= known_from)
    found = rows.limits.of("inspect_months")
    limit, rule = found if found is not None else (rows.nothing, rows.nothing)
    months = np.where(limit == NONE, PRACTICE_MONTHS, limit)
    again = unknown & since
    day = known_from.copy()
    day[again] = add_months(inspected_on[again], months[again])
    return sealed(
        rows,
        Trigger.UNKNOWN_AGE,
        np.where(unknown, int(State.DATED), int(State.AGE_KNOWN)),
        start_on=np.where(since, inspected_on, known_from),
        limit=np.where(again, months, NONE),
        rule=np.where(again, rule, NONE),
        dates=(day,),
        notes=noted(unknown, Flag.UNKNOWN_AGE),
    )


def _given(rows: Rows, trigger: Trigger, day: Ints, flag: int = 0) -> TriggerColumn:
    given = day != NONE
    if not some(given):
        return without_date(rows, trigger, State.NOTHING_OPEN)
    return sealed(
        rows,
        trigger,
        np.where(given, int(State.DATED), int(State.NOTHING_OPEN)),
        start_on=day,
        limit=rows.nothing,
        rule=rows.nothing,
        dates=(day,),
        notes=noted(given, Flag(flag)),
    )
