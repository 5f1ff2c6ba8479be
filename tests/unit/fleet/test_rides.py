"""An attachment's hours, against an independent count day by day in fractions."""

import random
from fractions import Fraction
from itertools import pairwise

import pytest

from fleet.calc.rides import Ride, Series, at, summed


def slow_value(source: Series, on: int, *, last: bool) -> Fraction | None:
    """What a counter showed on a day, by looking at every pair of readings."""
    that_day = [value for day, value in source if day == on]
    if that_day:
        return Fraction(that_day[-1 if last else 0])
    before = [one for one in source if one[0] < on]
    after = [one for one in source if one[0] > on]
    if not source:
        return None
    if not before:
        return Fraction(source[0][1])
    if not after:
        return Fraction(source[-1][1])
    (day, value), (later, more) = before[-1], after[0]
    return Fraction(value) + Fraction(more - value) * (on - day) / (later - day)


def slow_total(rides: list[Ride], end: int) -> Fraction:
    """What all rides gained up to a day, ride by ride."""
    total = Fraction(0)
    for ride in rides:
        if not ride.source:
            continue
        begin = slow_value(list(ride.source), ride.from_on, last=False)
        stop = slow_value(list(ride.source), ride.to_on or end, last=True)
        assert begin is not None
        assert stop is not None
        total += max(stop - begin, Fraction(0))
    return total


def counter(dice: random.Random, start: int) -> Series:
    """Readings that only rise, some days with two."""
    day, value, read = start, dice.randrange(50_000), []
    for _ in range(dice.randrange(1, 12)):
        read.append((day, value))
        day += dice.choice([0, 1, 3, 10, 40])
        value += dice.randrange(400)
    return read


@pytest.mark.parametrize("seed", range(300))
def test_sums_the_hours_of_all_its_rides(seed: int) -> None:
    dice = random.Random(seed)
    day, rides = 1000, []
    for number in range(dice.randrange(1, 5)):
        length = dice.randrange(60)
        source = counter(dice, day - dice.randrange(30)) if number or dice.random() < 0.9 else []
        rides.append(Ride(day, day + length, source))
        day += length + dice.choice([0, 5])
    told = summed([], rides)
    expected = slow_total(rides, day)
    found = told[-1][1] if told else 0
    assert abs(found - expected) <= len(rides)  # each ride drops less than a tenth of an hour twice
    assert told == sorted(told)
    assert all(a[1] <= b[1] for a, b in pairwise(told))


def test_an_open_ride_ends_at_the_carriers_last_reading() -> None:
    told = summed([], [Ride(10, None, [(0, 100), (20, 300), (30, 500)])])
    assert told == [(10, 0), (20, 100), (30, 300)]


def test_its_own_meter_counts_between_rides() -> None:
    own = [(0, 1000), (10, 1100), (30, 1300), (50, 1500)]
    told = summed(own, [Ride(10, 30, [(10, 0), (30, 90)])])
    assert told[0] == (0, 1000)
    assert at(told, 10) == 1100
    assert at(told, 30) == 1190  # 90 by the carrier, none of its own 200
    assert told[-1] == (50, 1390)


def test_a_carrier_that_was_never_read_adds_nothing() -> None:
    assert summed([], [Ride(10, 20, [])]) == []


def test_stands_still_off_its_carriers() -> None:
    told = summed([], [Ride(0, 10, [(0, 0), (10, 80)]), Ride(50, 60, [(50, 7000), (60, 7050)])])
    assert (at(told, 30), at(told, 55), told[-1][1]) == (80, 105, 130)
