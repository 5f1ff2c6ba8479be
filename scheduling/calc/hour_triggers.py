"""Triggers that count hours: of this fitting, in all, and since the last inspection."""

from collections.abc import Callable
from typing import Final, NamedTuple

import numpy as np

from scheduling.calc.calendar import Bools, Ints, beside, some
from scheduling.calc.columns import (
    Rows,
    Span,
    State,
    TriggerColumn,
    either,
    not_counted,
    noted,
    sealed_together,
    without_date,
)
from scheduling.calc.hours import HoursDates, hours_dates
from scheduling.calc.inputs import NONE, Flag, Trigger


class Asked(NamedTuple):
    """One trigger that counts hours: tenths used up before, the counter at its base, and the
    base's day; what must be said of a row beside its date."""

    trigger: Trigger
    limit_name: str
    used_tenths: Ints
    base_tenths: Ints
    start: Span


def _of_fitting(rows: Rows) -> Asked:
    """Hours on this position."""
    base = rows.inputs.placed_tenths
    return Asked(Trigger.HOURS_FITTING, "fitting_tenths", rows.zero, base, rows.placed)


def _in_all(rows: Rows) -> Asked:
    """Hours over all stays."""
    inputs = rows.inputs
    used, base = inputs.earlier_tenths, inputs.placed_tenths
    return Asked(Trigger.HOURS_TOTAL, "total_tenths", used, base, rows.placed)


def _since_inspection(rows: Rows) -> Asked:
    """Hours since the last inspection of this stay, else since fitting."""
    inputs, fitted_on = rows.inputs, rows.placed.early
    unfitted, inspected_on = fitted_on == NONE, inputs.inspected_on
    here = (inspected_on != NONE) & (unfitted | (inspected_on >= fitted_on))
    tenths = np.where(here, inputs.inspected_tenths, inputs.placed_tenths)
    base = either(unfitted, rows.inspection_base, rows.placed)
    base = either(here, Span(inspected_on, inspected_on), base)
    return Asked(Trigger.INSPECT_HOURS, "inspect_tenths", rows.zero, tenths, base)


# In the order in which the limits are laid beside each other.
_ASKED: Final[tuple[tuple[Trigger, str, Callable[[Rows], Asked]], ...]] = (
    (Trigger.HOURS_FITTING, "fitting_tenths", _of_fitting),
    (Trigger.HOURS_TOTAL, "total_tenths", _in_all),
    (Trigger.INSPECT_HOURS, "inspect_tenths", _since_inspection),
)


def hours_columns(rows: Rows) -> list[TriggerColumn]:
    """Hours on this position, over all stays, and since the last inspection, in that order.

    Off a machine the clock of the hours in all stands; a limit used up before is due at once. Where
    hours of earlier stays are missing the date stands at its latest, and that is flagged.

    >>> from scheduling.calc.inputs import DueInputs, Exemptions, RuleTable
    >>> nobody = Exemptions.from_rows(np.array([], dtype=np.int64))
    >>> hose = DueInputs.of(place=1, known_from_on=9, placed_tenths=0,
    ...     placed_early_on=19_000, meter_tenths=20_000,
    ...     meter_on=20_000, rate_low_milli=8_000, rate_milli=8_000,
    ...     rate_high_milli=8_000)
    >>> rules = RuleTable.of(rule=7, fitting_tenths=20_000)
    >>> int(hours_columns(Rows(hose, rules, nobody))[0].likely[0])  # reached at the reading
    20000
    """
    asked = [ask(rows) for _, name, ask in _ASKED if name in rows.limits.names]
    found = {column.trigger: column for column in _together(rows, asked)} if asked else {}
    return [found.get(trigger) or without_date(rows, trigger) for trigger, *_ in _ASKED]


def _together(rows: Rows, asked: list[Asked]) -> list[TriggerColumn]:
    """Those that some rule limits, worked out at once, shape (triggers, n)."""
    triggers = [one.trigger for one in asked]
    limit, rule = rows.limits.together([one.limit_name for one in asked])
    limited = limit != NONE
    wanted = limited & rows.fitted
    budget = np.where(wanted, limit - beside([one.used_tenths for one in asked]), NONE)
    start = Span(*(beside([one.start[at] for one in asked]) for at in (0, 1)))
    found = hours_dates(rows.inputs, budget, beside([one.base_tenths for one in asked]), *start)
    _say_uncertain(found, start)
    if Trigger.HOURS_TOTAL in triggers:
        at = triggers.index(Trigger.HOURS_TOTAL)
        wanted[at] |= _used_up_before(rows, limit[at], HoursDates(*(part[at] for part in found)))
    if Trigger.INSPECT_HOURS in triggers:
        never = wanted[-1] & (rows.inputs.inspected_on == NONE)
        found.notes[-1] |= noted(never, Flag.NEVER_INSPECTED)
    return sealed_together(
        rows,
        triggers,
        _state(limit, wanted, found.notes),
        start_on=start.early,
        limit=limit,
        rule=rule,
        dates=found[:3],
        notes=found.notes,
    )


def _say_uncertain(found: HoursDates, start: Span) -> None:
    """A guess that counts from an uncertain day is uncertain."""
    spread = start.late != start.early
    if some(spread):
        guessed = (found.notes & int(Flag.ESTIMATED_FROM_DAYS)) != 0
        found.notes[:] |= noted(guessed & spread, Flag.UNCERTAIN_DATE)


def _used_up_before(rows: Rows, limit: Ints, found: HoursDates) -> Bools:
    """Off a machine: due since the hose came off, or since the register knew of it.

    Lays those days into what was found, and says where earlier hours are missing; returns where.
    """
    inputs = rows.inputs
    missing = (limit != NONE) & (inputs.earlier_missing > 0)
    found.notes[:] |= noted(missing, Flag.EARLIER_HOURS_UNKNOWN)
    spent = (limit != NONE) & ~rows.fitted & (inputs.earlier_tenths >= limit)
    if some(spent):
        known_from = inputs.known_from_on
        since = either(rows.placed.early != NONE, rows.placed, Span(known_from, known_from))
        for days, day in zip(found, (since.early, since.early, since.late), strict=False):
            days[spent] = day[spent]
    return np.asarray(spent)


def _state(limit: Ints, wanted: Bools, notes: Ints) -> Ints:
    state = np.where(wanted, int(State.DATED), not_counted(limit))
    for flag, why in ((Flag.STANDING, State.STANDING), (Flag.HOURS_UNKNOWN, State.NOT_KNOWN)):
        said = wanted & ((notes & int(flag)) != 0)
        if some(said):
            state = np.where(said, int(why), state)
    return state
