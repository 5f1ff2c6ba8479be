"""The day on which an hours limit is reached, from a counter and a rate."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from fleet.calc.usage import class_bounds_milli
from scheduling.calc.calendar import Ints, beside
from scheduling.calc.inputs import LAST_DAY, NONE, DueInputs, Flag

Bools = npt.NDArray[np.bool_]


@dataclass(frozen=True)
class HoursDates:
    """Early, likely and late day of reaching a limit, and what must be said; shape (n,) each."""

    early: Ints
    likely: Ints
    late: Ints
    notes: Ints


def hours_dates(
    inputs: DueInputs, budget: Ints, base_tenths: Ints, base_early_on: Ints, base_late_on: Ints
) -> HoursDates:
    """When `budget` tenths of an hour, counted from a base, are used up.

    budget: tenths allowed from the base on, shape (n,), `NONE` where there is no limit;
    base_tenths: the counter at the base; base_early_on, base_late_on: the base's day.
    Measured, where the counter is known at the base and on a reading not before it:
    left = budget - (meter - base); day = reading's day + floor(100 left / rate), with the high rate
    for early and the low rate for late; once left ≤ 0 all three are that day at the likely rate (a
    day in the past), not before the base, and the reading's day itself where the rate is 0.
    Estimated otherwise: base day + floor(100 budget / rate), flagged. Without a base day: no date,
    flagged. A rate of 0 gives no date.

    >>> inputs = DueInputs.of(known_from_on=9, meter_tenths=117_500, meter_on=20_513,
    ...     rate_low_milli=5_000, rate_milli=8_000, rate_high_milli=10_000)
    >>> found = hours_dates(inputs, *(np.array([n]) for n in (20_000, 100_000, 19_723, 19_723)))
    >>> [int(day[0]) - 20_513 for day in (found.early, found.likely, found.late)]
    [25, 31, 50]
    """
    limited = budget != NONE
    measured = _is_measured(inputs, base_tenths, base_early_on) & limited
    dates = _measured(inputs, np.where(measured, budget, 0), base_tenths, base_early_on)
    if measured.all():
        return dates
    guessed = limited & ~measured & (base_early_on != NONE)
    estimate = _estimated(inputs, np.where(guessed, budget, 0), base_early_on, base_late_on)
    neither = np.where(limited, int(Flag.HOURS_UNKNOWN), 0)
    behind = limited & ~measured & _meter_behind(inputs, base_tenths, base_early_on)

    def either(measured_value: Ints, estimated: Ints, otherwise: Ints | int) -> Ints:
        return np.where(measured, measured_value, np.where(guessed, estimated, otherwise))

    return HoursDates(
        either(dates.early, estimate.early, NONE),
        either(dates.likely, estimate.likely, NONE),
        either(dates.late, estimate.late, NONE),
        either(dates.notes, estimate.notes, neither) | np.where(behind, int(Flag.METER_BEHIND), 0),
    )


def _is_measured(inputs: DueInputs, base_tenths: Ints, base_on: Ints) -> Bools:
    known = (base_tenths != NONE) & (inputs.meter_tenths != NONE) & (inputs.meter_on != NONE)
    since = (base_on == NONE) | (inputs.meter_on >= base_on)
    return np.asarray(known & since & (inputs.meter_tenths >= base_tenths))


def _meter_behind(inputs: DueInputs, base_tenths: Ints, base_on: Ints) -> Bools:
    """A reading on or after the base's day that shows less than at the base."""
    known = (base_tenths != NONE) & (inputs.meter_tenths != NONE) & (inputs.meter_on != NONE)
    since = (base_on == NONE) | (inputs.meter_on >= base_on)
    return np.asarray(known & since & (inputs.meter_tenths < base_tenths))


def _measured(inputs: DueInputs, budget: Ints, base_tenths: Ints, base_on: Ints) -> HoursDates:
    left = budget - (inputs.meter_tenths - base_tenths)
    ahead = left > 0
    rates = beside([inputs.rate_high_milli, inputs.rate_milli, inputs.rate_low_milli])
    on, stands = inputs.meter_on, inputs.rate_milli == 0
    days = _after(on, left, rates)
    passed = np.where(stands, on, days[1])
    # Without a base day nothing bounds the way back, so the reading's own day stands.
    reached = np.where(base_on == NONE, on, np.maximum(passed, base_on))
    early, likely, late = np.where(ahead, days, reached)
    return HoursDates(early, likely, late, np.where(ahead & stands, int(Flag.STANDING), 0))


def _estimated(inputs: DueInputs, budget: Ints, early_on: Ints, late_on: Ints) -> HoursDates:
    own = inputs.rate_milli > 0
    low, high = class_bounds_milli(inputs.class_rate_milli)
    rates = np.where(
        own,
        beside([inputs.rate_high_milli, inputs.rate_milli, inputs.rate_low_milli]),
        beside([high, inputs.class_rate_milli, low]),
    )
    budget = np.maximum(budget, 0)
    spent = budget == 0
    on = beside([early_on, early_on, late_on])
    early, likely, late = np.where(spent, on, _after(on, budget, rates))
    guess = int(Flag.ESTIMATED_FROM_DAYS)
    no_rate = (rates[1] == 0) & ~spent
    notes = np.where(no_rate, guess | int(Flag.HOURS_UNKNOWN), guess)
    return HoursDates(early, likely, late, notes)


def _after(day: Ints, tenths: Ints, rate_milli: Ints) -> Ints:
    """The day on which `tenths` more have run; `NONE` at rate 0 or past the calendar's end.

    rate_milli: high, likely and low, shape (3, n).
    """
    running = rate_milli > 0
    found = day + (tenths * 100) // np.where(running, rate_milli, 1)
    return np.where(running & (found <= LAST_DAY), found, NONE)
