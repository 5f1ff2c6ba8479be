"""How fast an hour counter runs: a robust rate with bounds, in thousandths of an hour a day.

The rate never depends on today, only on the readings: the window ends at the last of them.
"""

import datetime as dt
from dataclasses import dataclass
from enum import Enum
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy.special import ndtri

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]

WINDOW_DAYS: Final = 730
YEAR_DAYS: Final = 365
YEAR_SLACK_DAYS: Final = 20
RECENT_DAYS: Final = 90
FEWEST_INTERVALS: Final = 3
FEWEST_DAYS: Final = 14
FEWEST_YEAR_PAIRS: Final = 6
MOST_POINTS: Final = 120
CONFIDENCE: Final = 0.9
MOST_MILLI: Final = 24_000
STALE_AFTER_DAYS: Final = 30


class Basis(Enum):
    """What a rate rests on."""

    MEASURED = "measured"
    MEASURED_YEARLY = "measured over whole years"
    CLASS_DEFAULT = "class default"
    STANDING = "standing"


@dataclass(frozen=True)
class Slope:
    """A median of pairwise slopes with its limits, in the units of y per unit of x."""

    slope: float
    low: float
    high: float
    pairs: int


@dataclass(frozen=True)
class UsageRate:
    """The last counter value and how fast it grows: tenths of an hour, thousandths of h a day."""

    basis: Basis
    as_of_on: int | None
    machine_tenths: int | None
    low_milli: int
    rate_milli: int
    high_milli: int
    intervals: int
    from_on: int | None

    @property
    def sentence(self) -> str:
        """The basis in words."""
        if self.basis is Basis.CLASS_DEFAULT:
            few = f"under {FEWEST_INTERVALS} intervals or {FEWEST_DAYS} days of readings"
            return f"class default: {few}"
        if self.basis is Basis.STANDING and self.from_on is None:
            return "marked as standing: no hours are counted on"
        since = dt.date(1970, 1, 1) + dt.timedelta(days=self.from_on or 0)
        if self.basis is Basis.STANDING:
            return f"standing: the counter has not moved since {since:%Y-%m-%d}"
        over = " over whole years" if self.basis is Basis.MEASURED_YEARLY else ""
        return f"measured{over} from {self.intervals} intervals since {since:%Y-%m-%d}"


def class_bounds_milli(rate_milli: Ints) -> tuple[Ints, Ints]:
    """The wide bounds of a class's default: half and one and a half times, 24 h a day at most.

    rate_milli: thousandths of an hour a day, shape (n,). Common practice, no published source.

    >>> [int(bound[0]) for bound in class_bounds_milli(np.array([8000]))]
    [4000, 12000]
    """
    return rate_milli // 2, np.minimum(rate_milli + rate_milli // 2, MOST_MILLI)


def sen_slope(x: Floats, y: Floats, *, confidence: float = CONFIDENCE) -> Slope:
    """The median of the slopes of all pairs of points, with limits on it by ranks.

    x, y: shape (n,); pairs with equal x are left out. The limits are the order statistics
    (N ± z sd) / 2 of the N slopes, sd² = (n (n-1) (2n+5) - ties in x and y) / 18.
    Raises ValueError where no two x differ.
    Source: P. K. Sen, J. Am. Stat. Assoc. 63 (1968) 1379-1389, equation 2.6.

    >>> x, y = np.array([1, 2, 3, 4, 10, 12, 18.0]), np.array([9, 15, 19, 20, 45, 55, 78.0])
    >>> sen_slope(x, y).slope
    4.0
    """
    slopes, _ = _pair_slopes(x, y)
    spread = ndtri((1 + confidence) / 2) * _variance_of_ranks(x, y) ** 0.5
    low = max(round((slopes.size - spread) / 2) - 1, 0)
    high = min(round((slopes.size + spread) / 2), slopes.size - 1)
    return _slope(slopes, low, high)


def year_slope(x: Floats, y: Floats, *, confidence: float = CONFIDENCE) -> Slope | None:
    """The median of the slopes of pairs a whole number of years apart: no season tilts it.

    x: days, y: a counter, shape (n,). Pairs count within 20 days of whole years; None with fewer
    than 6 of them. The limits are quantiles of these slopes.
    Source of the idea: R. M. Hirsch, J. R. Slack, R. A. Smith, Water Resour. Res. 18 (1982)
    107-121, who compare equal seasons only.
    """
    slopes, apart = _pair_slopes(x, y)
    years = np.maximum(np.rint(apart / YEAR_DAYS), 1)
    slopes = slopes[np.abs(apart - YEAR_DAYS * years) <= YEAR_SLACK_DAYS]
    if slopes.size < FEWEST_YEAR_PAIRS:
        return None
    tail = int((1 - confidence) / 2 * slopes.size)
    return _slope(slopes, tail, slopes.size - 1 - tail)


def usage_rate(
    days: Ints, tenths: Ints, *, class_rate_milli: int, standing: bool = False
) -> UsageRate:
    """The rate of a counter from its accepted readings, anchored at the last of them.

    days: since 1970-01-01, tenths: cumulative tenths of an hour, shape (n,), in order of time.
    Of the last 730 days one reading a day is used, 120 evenly chosen at most. With a year of them
    the median over whole years, so that a winter shut-down neither stops the clock nor is
    forgotten in summer; else the median over all pairs. The last 90 days' own rate widens the
    bounds. Fewer than 3 intervals or 14 days: the class's default with wide bounds. `standing`
    (marked so) and a counter that never moved: 0.
    """
    day, hours = _one_a_day(days, tenths)
    as_of, value = (int(day[-1]), int(hours[-1])) if day.size else (None, None)
    if standing:
        return UsageRate(Basis.STANDING, as_of, value, 0, 0, 0, 0, None)
    used = _thinned(day >= day[-1] - WINDOW_DAYS) if day.size else np.zeros(0, dtype=np.int64)
    if used.size <= FEWEST_INTERVALS or day[used[-1]] - day[used[0]] < FEWEST_DAYS:
        low, high = class_bounds_milli(np.array([class_rate_milli]))
        rates = (int(low[0]), class_rate_milli, int(high[0]))
        return UsageRate(Basis.CLASS_DEFAULT, as_of, value, *rates, max(used.size - 1, 0), None)
    x, y = day[used].astype(np.float64), hours[used].astype(np.float64)
    yearly = year_slope(x, y)
    found = yearly or sen_slope(x, y)
    measured = _milli(_widened(found, day, hours))
    basis = Basis.MEASURED if yearly is None else Basis.MEASURED_YEARLY
    basis = basis if measured[-1] else Basis.STANDING
    return UsageRate(basis, as_of, value, *measured, used.size - 1, int(day[used[0]]))


def is_stale(as_of_on: int | None, today: int, *, after_days: int = STALE_AFTER_DAYS) -> bool:
    """Whether the last reading is missing or older than the set time. Days since 1970-01-01.

    >>> is_stale(20_000, 20_030), is_stale(20_000, 20_031), is_stale(None, 20_000)
    (False, True, True)
    """
    return as_of_on is None or today - as_of_on > after_days


def _pair_slopes(x: Floats, y: Floats) -> tuple[Floats, Floats]:
    """The slopes of all pairs with different x, sorted, and how far apart each pair is."""
    first, second = np.triu_indices(x.size, 1)
    apart, gained = x[second] - x[first], y[second] - y[first]
    kept = apart != 0
    if not kept.any():
        raise ValueError("A slope needs two readings on different days.")
    slopes = gained[kept] / apart[kept]
    order = np.argsort(slopes, kind="stable")
    return slopes[order], np.abs(apart[kept])[order]


def _variance_of_ranks(x: Floats, y: Floats) -> float:
    repeats = [np.unique(values, return_counts=True)[1] for values in (x, y)]
    ties = sum(int((k * (k - 1) * (2 * k + 5)).sum()) for k in repeats)
    n = x.size
    return max((n * (n - 1) * (2 * n + 5) - ties) / 18, 0.0)


def _slope(slopes: Floats, low: int, high: int) -> Slope:
    return Slope(float(np.median(slopes)), float(slopes[low]), float(slopes[high]), slopes.size)


def _one_a_day(days: Ints, tenths: Ints) -> tuple[Ints, Ints]:
    """The last reading of each day."""
    order = np.lexsort((tenths, days))
    day, hours = days[order], tenths[order]
    last = np.append(day[1:] != day[:-1], True)[: day.size]
    return day[last], hours[last]


def _thinned(chosen: npt.NDArray[np.bool_]) -> Ints:
    """Indices of the chosen, evenly fewer where there are many, the first and last kept."""
    index = np.flatnonzero(chosen)
    if index.size <= MOST_POINTS:
        return index
    return index[np.rint(np.linspace(0, index.size - 1, MOST_POINTS)).astype(np.int64)]


def _widened(found: Slope, day: Ints, hours: Ints) -> tuple[float, float, float]:
    """Low, likely and high, the bounds opened to what the last 90 days show."""
    recent = _thinned(day >= day[-1] - RECENT_DAYS)
    low, high = min(found.low, found.slope), max(found.high, found.slope)
    if recent.size > FEWEST_INTERVALS:
        lately = sen_slope(day[recent].astype(np.float64), hours[recent].astype(np.float64)).slope
        low, high = min(low, lately), max(high, lately)
    return low, found.slope, high


def _milli(tenths_per_day: tuple[float, float, float]) -> tuple[int, int, int]:
    """Tenths a day as thousandths of an hour a day, between 0 and 24 h."""
    low, rate, high = (min(max(round(100 * t), 0), MOST_MILLI) for t in tenths_per_day)
    return low, rate, high
