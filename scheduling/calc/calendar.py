"""Calendar months on whole days: arrays of days since 1970-01-01, no loop over rows."""

from typing import Final

import numpy as np
import numpy.typing as npt

Ints = npt.NDArray[np.int64]

_MARCH_0_TO_EPOCH: Final = 719_468  # days from 0000-03-01 to 1970-01-01
_DAYS_IN_400_YEARS: Final = 146_097


def add_months(days: Ints, months: Ints) -> Ints:
    """The same day of the month, `months` later; the month's last day where it has no such day.

    days: days since 1970-01-01, shape (n,); months: calendar months, shape (n,).
    31 January + 1 month is 28 or 29 February; 29 February + 12 months is 28 February.
    Exact over the years 1 to 9999; nothing is refused.
    Years are counted from 1 March so that the leap day comes last: the month's first day is then
    365 y + y//4 - y//100 + y//400 + (153 m + 2)//5 (proleptic Gregorian calendar, ISO 8601).

    >>> import datetime as dt
    >>> leap_day = (dt.date(2024, 2, 29) - dt.date(1970, 1, 1)).days
    >>> later = add_months(np.array([leap_day]), np.array([12]))
    >>> str(dt.date(1970, 1, 1) + dt.timedelta(days=int(later[0])))
    '2025-02-28'
    """
    month, day_of_month = _month_and_day(days)
    month = month + months
    first = _first_day(month)
    longest: Ints = _first_day(month + 1) - first - 1
    return np.asarray(first + np.minimum(day_of_month, longest), dtype=np.int64)


def _month_and_day(days: Ints) -> tuple[Ints, Ints]:
    """Months since March of year 0, and the day of that month counted from 0."""
    day = days + _MARCH_0_TO_EPOCH
    cycle = day // _DAYS_IN_400_YEARS
    day = day - cycle * _DAYS_IN_400_YEARS
    year = (day - day // 1460 + day // 36524 - day // 146096) // 365
    day = day - (365 * year + year // 4 - year // 100)
    month = (5 * day + 2) // 153
    return (400 * cycle + year) * 12 + month, day - (153 * month + 2) // 5


def _first_day(month: Ints) -> Ints:
    """The first day (since 1970-01-01) of a month counted from March of year 0."""
    year = month // 12
    month = month - 12 * year
    leap_days = year // 4 - year // 100 + year // 400
    return np.asarray(365 * year + leap_days + (153 * month + 2) // 5 - _MARCH_0_TO_EPOCH)
