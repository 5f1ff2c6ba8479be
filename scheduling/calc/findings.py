"""Triggers that an inspection, a release or a missing age sets, and the inspection interval."""

import numpy as np

from scheduling.calc.ages import Asked
from scheduling.calc.calendar import Ints, add_months
from scheduling.calc.columns import (
    Rows,
    Span,
    State,
    TriggerColumn,
    either,
    noted,
    sealed,
    without_date,
)
from scheduling.calc.hour_triggers import inspection_base
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


def inspection_asked(rows: Rows) -> Asked:
    """Calendar months since the last inspection, while on a machine."""
    return Asked(
        Trigger.INSPECT_MONTHS,
        "inspect_months",
        inspection_base(rows),
        Flag.FITTED_UNKNOWN,
        rows.fitted,
        noted(rows.inputs.inspected_on == NONE, Flag.NEVER_INSPECTED),
    )


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
    inputs = rows.inputs
    unknown = (rows.built.early == NONE) & (rows.made.early == NONE)
    if not unknown.any():
        return without_date(rows, Trigger.UNKNOWN_AGE, State.AGE_KNOWN)
    since = (inputs.inspected_on != NONE) & (inputs.inspected_on >= inputs.known_from_on)
    found = rows.limits.of("inspect_months")
    limit, rule = found if found is not None else (rows.nothing, rows.nothing)
    months = np.where(limit == NONE, PRACTICE_MONTHS, limit)
    again = unknown & since
    inspected = np.where(again, inputs.inspected_on, 0)
    day = add_months(inspected, np.where(again, months, 0)) if again.any() else inspected
    day = np.where(since, day, inputs.known_from_on)
    start = either(
        since,
        Span(inputs.inspected_on, inputs.inspected_on),
        Span(inputs.known_from_on, inputs.known_from_on),
    )
    return sealed(
        rows,
        Trigger.UNKNOWN_AGE,
        np.where(unknown, int(State.DATED), int(State.AGE_KNOWN)),
        start_on=start.early,
        limit=np.where(again, months, NONE),
        rule=np.where(again, rule, NONE),
        dates=(day, day, day),
        notes=noted(unknown, Flag.UNKNOWN_AGE),
    )


def _given(rows: Rows, trigger: Trigger, day: Ints, flag: int = 0) -> TriggerColumn:
    given = day != NONE
    if not given.any():
        return without_date(rows, trigger, State.NOTHING_OPEN)
    return sealed(
        rows,
        trigger,
        np.where(given, int(State.DATED), int(State.NOTHING_OPEN)),
        start_on=day,
        limit=rows.nothing,
        rule=rows.nothing,
        dates=(day, day, day),
        notes=noted(given, Flag(flag)),
    )
