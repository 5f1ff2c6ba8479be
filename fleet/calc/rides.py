"""The hours of an attachment that moves between machines: its own, and those of its carriers.

A ride counts what its source's counter gained from its first day to its last. Between two readings
the hours are taken to have run evenly over the days; before the first and after the last nothing is
known and nothing is added. On a day with several readings a ride begins at the first and ends
at the last: rather too many hours than too few.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

Series = list[tuple[int, int]]  # days since 1970-01-01 with cumulative tenths of an hour, in order


@dataclass(frozen=True, slots=True)
class Ride:
    """A time on a source of hours: days since 1970-01-01; `to_on` None while it goes on."""

    from_on: int
    to_on: int | None
    source: Sequence[tuple[int, int]]


def summed(own: Sequence[tuple[int, int]], rides: Sequence[Ride]) -> Series:
    """The hours of a part, ride after ride, its own meter counting in between.

    Parameters: the part's own readings; its rides by carrier's hours, in order, not overlapping.
    Returns points of days and cumulative tenths that never fall. With no rides, its own readings.
    Source: our own rule.

    >>> first = Ride(100, 110, [(100, 5000), (105, 5400), (110, 5800)])
    >>> second = Ride(120, None, [(120, 90_000), (130, 90_300)])
    >>> summed([], [first, second])
    [(100, 0), (105, 400), (110, 800), (120, 800), (130, 1100)]
    """
    if not rides:
        return list(own)
    told: Series = []
    before = [reading for reading in own if reading[0] < rides[0].from_on]
    told += before
    total = before[-1][1] if before else 0
    if before:
        total = _value(own, rides[0].from_on, last=False) or total
    for ride, following in pairwise([*rides, None]):
        assert ride is not None  # only the last of the pairs has none
        total = _add(told, total, ride.source, ride.from_on, ride.to_on)
        if ride.to_on is not None and own:
            until = following.from_on if following else None
            total = _add(told, total, own, ride.to_on, until)
    return told


def _add(
    told: Series, total: int, source: Sequence[tuple[int, int]], begin: int, end: int | None
) -> int:
    """Add what a source gained from a day to a day; returns the new total."""
    start = _value(source, begin, last=False)
    if start is None:
        return total
    within = [one for one in source if begin < one[0] and (end is None or one[0] < end)]
    _tell(told, begin, total)
    for day, value in within:
        _tell(told, day, total + max(value - start, 0))
    if end is None:
        return told[-1][1]
    stop = _value(source, end, last=True) or start
    _tell(told, end, total + max(stop - start, 0))
    return told[-1][1]


def _tell(told: Series, day: int, value: int) -> None:
    """One point; the same day again says nothing twice, and no point falls below the last."""
    value = max(value, told[-1][1]) if told else value
    if not told or told[-1] != (day, value):
        told.append((day, value))


def _value(source: Sequence[tuple[int, int]], on: int, *, last: bool) -> int | None:
    """What a source's counter showed on a day, evenly between its neighbours.

    >>> _value([(0, 0), (10, 100)], 5, last=True), _value([(3, 70), (9, 90)], 1, last=False)
    (50, 70)
    """
    if not source:
        return None
    days = [day for day, _ in source]
    low, high = bisect_left(days, on), bisect_right(days, on)
    if high > low:
        return source[high - 1 if last else low][1]
    if low == 0:
        return source[0][1]
    if low == len(source):
        return source[-1][1]
    (day, value), (next_day, next_value) = source[low - 1], source[low]
    return value + (next_value - value) * (on - day) // (next_day - day)


def at(series: Sequence[tuple[int, int]], on: int) -> int | None:
    """How far a part has come on a day; None where nothing is known up to then.

    >>> at([(100, 0), (110, 800)], 105), at([(100, 0)], 99)
    (400, None)
    """
    if not series or on < series[0][0]:
        return None
    return _value(series, on, last=True)
