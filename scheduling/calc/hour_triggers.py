"""Triggers that count hours: of this fitting, in all, and since the last inspection."""

import numpy as np

from scheduling.calc.calendar import Ints
from scheduling.calc.columns import (
    Bools,
    Rows,
    Span,
    State,
    TriggerColumn,
    either,
    noted,
    sealed,
    without_date,
)
from scheduling.calc.hours import HoursDates, hours_dates
from scheduling.calc.inputs import NONE, Flag, Trigger


def fitting_hours_column(rows: Rows) -> TriggerColumn:
    """Hours on this position.

    >>> from scheduling.calc.inputs import DueInputs, Exemptions, RuleTable
    >>> nobody = Exemptions.from_rows(np.array([], dtype=np.int64))
    >>> hose = DueInputs.of(place=1, known_from_on=9, placed_tenths=0,
    ...     placed_early_on=19_000, meter_tenths=20_000,
    ...     meter_on=20_000, rate_low_milli=8_000, rate_milli=8_000,
    ...     rate_high_milli=8_000)
    >>> rules = RuleTable.of(rule=7, fitting_tenths=20_000)
    >>> int(fitting_hours_column(Rows(hose, rules, nobody)).likely[0])  # reached at the reading
    20000
    """
    found = rows.limits.of("fitting_tenths")
    if found is None:
        return without_date(rows, Trigger.HOURS_FITTING)
    limit, rule = found
    wanted = (limit != NONE) & rows.fitted
    dates = hours_dates(
        rows.inputs, np.where(wanted, limit, NONE), rows.inputs.placed_tenths, *rows.placed
    )
    state = _state(limit, wanted, dates)
    return _column(
        rows, Trigger.HOURS_FITTING, state, limit=limit, rule=rule, start=rows.placed, found=dates
    )


def total_hours_column(rows: Rows) -> TriggerColumn:
    """Hours over all stays. Off a machine the clock stands; a limit used up before is due at once.

    Where hours of earlier stays are missing the date stands at its latest, and that is flagged.
    """
    found = rows.limits.of("total_tenths")
    if found is None:
        return without_date(rows, Trigger.HOURS_TOTAL)
    limit, rule = found
    inputs = rows.inputs
    limited = limit != NONE
    wanted = limited & rows.fitted
    budget = np.where(wanted, limit - inputs.earlier_tenths, NONE)
    dates = hours_dates(inputs, budget, inputs.placed_tenths, *rows.placed)
    spent = limited & ~rows.fitted & (inputs.earlier_tenths >= limit)
    if spent.any():
        dates = _at_once(rows, spent, dates)
    missing = noted(limited & (inputs.earlier_missing > 0), Flag.EARLIER_HOURS_UNKNOWN)
    state = _state(limit, wanted | spent, dates)
    said = HoursDates(dates.early, dates.likely, dates.late, dates.notes | missing)
    return _column(
        rows, Trigger.HOURS_TOTAL, state, limit=limit, rule=rule, start=rows.placed, found=said
    )


def inspection_hours_column(rows: Rows) -> TriggerColumn:
    """Hours since the last inspection of this stay, else since fitting."""
    found = rows.limits.of("inspect_tenths")
    if found is None:
        return without_date(rows, Trigger.INSPECT_HOURS)
    limit, rule = found
    inputs = rows.inputs
    wanted = (limit != NONE) & rows.fitted
    fitted_on = rows.placed.early
    inspected = inputs.inspected_on != NONE
    here = inspected & ((fitted_on == NONE) | (inputs.inspected_on >= fitted_on))
    base = either(here, Span(inputs.inspected_on, inputs.inspected_on), inspection_base(rows))
    tenths = np.where(here, inputs.inspected_tenths, inputs.placed_tenths)
    base = either(~here & (fitted_on != NONE), rows.placed, base)
    dates = hours_dates(inputs, np.where(wanted, limit, NONE), tenths, *base)
    never = noted(wanted & ~inspected, Flag.NEVER_INSPECTED)
    said = HoursDates(dates.early, dates.likely, dates.late, dates.notes | never)
    state = _state(limit, wanted, dates)
    return _column(
        rows, Trigger.INSPECT_HOURS, state, limit=limit, rule=rule, start=base, found=said
    )


def inspection_base(rows: Rows) -> Span:
    """The day from which an inspection interval runs.

    The last inspection; without one the fitted day, for the look before first use is part of
    fitting; without that the built day, and last the day on which the register first knew of it.
    """
    inspected = rows.inputs.inspected_on
    known_from = rows.inputs.known_from_on
    base = either(rows.built.early != NONE, rows.built, Span(known_from, known_from))
    base = either(rows.placed.early != NONE, rows.placed, base)
    return either(inspected != NONE, Span(inspected, inspected), base)


def _at_once(rows: Rows, spent: Bools, dates: HoursDates) -> HoursDates:
    """Due since the hose came off, or since the register knew of it."""
    known_from = rows.inputs.known_from_on
    since = either(rows.placed.early != NONE, rows.placed, Span(known_from, known_from))
    return HoursDates(
        np.where(spent, since.early, dates.early),
        np.where(spent, since.early, dates.likely),
        np.where(spent, since.late, dates.late),
        dates.notes,
    )


def _state(limit: Ints, wanted: Bools, dates: HoursDates) -> Ints:
    standing = (dates.notes & int(Flag.STANDING)) != 0
    unknown = (dates.notes & int(Flag.HOURS_UNKNOWN)) != 0
    state = np.where(standing, int(State.STANDING), int(State.DATED))
    state = np.where(unknown, int(State.NOT_KNOWN), state)
    idle = np.where(limit == NONE, int(State.NO_LIMIT), int(State.ELSEWHERE))
    return np.where(wanted, state, idle)


def _column(
    rows: Rows,
    trigger: Trigger,
    state: Ints,
    *,
    limit: Ints,
    rule: Ints,
    start: Span,
    found: HoursDates,
) -> TriggerColumn:
    guessed = (found.notes & int(Flag.ESTIMATED_FROM_DAYS)) != 0
    uncertain = noted(guessed & (start.late != start.early), Flag.UNCERTAIN_DATE)
    return sealed(
        rows,
        trigger,
        state,
        start_on=start.early,
        limit=limit,
        rule=rule,
        dates=(found.early, found.likely, found.late),
        notes=found.notes | uncertain,
    )
