"""The day on which an hours limit is reached, from a counter and a rate."""

from typing import NamedTuple

import numpy as np

from fleet.calc.usage import class_bounds_milli
from scheduling.calc.calendar import Bools, Ints, beside, every, some
from scheduling.calc.inputs import LAST_DAY, NONE, DueInputs, Flag


class HoursDates(NamedTuple):
    """Early, likely and late day of reaching a limit, and what must be said; shape (k, n) each."""

    early: Ints
    likely: Ints
    late: Ints
    notes: Ints


def hours_dates(
    inputs: DueInputs, budget: Ints, base_tenths: Ints, base_early_on: Ints, base_late_on: Ints
) -> HoursDates:
    """When `budget` tenths of an hour, counted from a base, are used up; k limits of n rows.

    budget: tenths allowed from the base on, shape (k, n), `NONE` where there is no limit;
    base_tenths: the counter at the base; base_early_on, base_late_on: the base's day; likewise.
    Measured, where the counter is known at the base and on a reading not before it:
    left = budget - (meter - base); day = reading's day + floor(100 left / rate), with the high rate
    for early and the low rate for late; once left ≤ 0 all three are that day at the likely rate (a
    day in the past), not before the base, and the reading's day itself where the rate is 0.
    Estimated otherwise: base day + floor(100 budget / rate), flagged. Without a base day: no date,
    flagged. A rate of 0 gives no date.

    >>> inputs = DueInputs.of(known_from_on=9, meter_tenths=117_500, meter_on=20_513,
    ...     rate_low_milli=5_000, rate_milli=8_000, rate_high_milli=10_000)
    >>> found = hours_dates(inputs, *(np.array([[n]]) for n in (20_000, 100_000, 19_723, 19_723)))
    >>> [int(day[0, 0]) - 20_513 for day in found[:3]]
    [25, 31, 50]
    """
    limited, dateless = budget != NONE, base_early_on == NONE
    read = (inputs.meter_tenths != NONE) & (inputs.meter_on != NONE)
    since = (dateless | (inputs.meter_on >= base_early_on)) & (base_tenths != NONE)
    told = limited & since & read
    behind = told & (inputs.meter_tenths < base_tenths)
    measured = told & ~behind
    dates, notes = _measured(inputs, budget, base_tenths, base_early_on, dateless)
    if every(measured):
        return HoursDates(dates[0], dates[1], dates[2], notes)
    guessed = limited & ~(measured | dateless)
    otherwise, said = np.array(NONE), np.where(limited, int(Flag.HOURS_UNKNOWN), 0)
    if some(guessed):
        estimate, guess = _estimated(inputs, budget, base_early_on, base_late_on)
        otherwise, said = np.where(guessed, estimate, NONE), np.where(guessed, guess, said)
    notes = np.where(measured, notes, said)
    if some(behind):
        notes |= np.where(behind, int(Flag.METER_BEHIND), 0)
    early, likely, late = np.where(measured, dates, otherwise)
    return HoursDates(early, likely, late, notes)


def _measured(
    inputs: DueInputs, budget: Ints, base_tenths: Ints, base_on: Ints, dateless: Bools
) -> tuple[Ints, Ints]:
    """Early, likely and late, shape (3, k, n), and the notes."""
    left = budget - (inputs.meter_tenths - base_tenths)
    ahead = left > 0
    rates = beside([inputs.rate_high_milli, inputs.rate_milli, inputs.rate_low_milli])
    on, stands = inputs.meter_on, inputs.rate_milli == 0
    days = _after(on, left, rates[:, None])
    notes = (ahead & stands) * np.array(int(Flag.STANDING))
    if every(ahead):
        return days, notes
    passed = np.where(stands, on, days[1])
    # Without a base day nothing bounds the way back, so the reading's own day stands.
    reached = np.where(dateless, on, np.maximum(passed, base_on))
    return np.where(ahead, days, reached), notes


def _estimated(inputs: DueInputs, budget: Ints, early_on: Ints, late_on: Ints) -> tuple[Ints, Ints]:
    """Early, likely and late, shape (3, k, n), and the notes."""
    low, high = class_bounds_milli(inputs.class_rate_milli)
    rates = np.where(
        inputs.rate_milli > 0,
        beside([inputs.rate_high_milli, inputs.rate_milli, inputs.rate_low_milli]),
        beside([high, inputs.class_rate_milli, low]),
    )[:, None]
    budget = np.maximum(budget, 0)
    spent = budget == 0
    on = np.concatenate([early_on, early_on, late_on]).reshape(3, *early_on.shape)
    days = np.where(spent, on, _after(on, budget, rates))
    guess = int(Flag.ESTIMATED_FROM_DAYS)
    no_rate = (rates[1] == 0) & ~spent
    return days, np.where(no_rate, guess | int(Flag.HOURS_UNKNOWN), guess)


def _after(day: Ints, tenths: Ints, rate_milli: Ints) -> Ints:
    """The day on which `tenths` more have run; `NONE` at rate 0 or past the calendar's end.

    rate_milli: high, likely and low, shape (3, 1, n).
    """
    running = rate_milli > 0
    found = day + (tenths * 100) // np.maximum(rate_milli, 1)
    return np.where(running & (found <= LAST_DAY), found, NONE)
