"""A date known to a day, week, month, quarter or year: its earliest and latest day."""

from calendar import month_name, monthrange
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

Precision = Literal["day", "week", "month", "quarter", "year"]
FIRST_YEAR, LAST_YEAR = 1950, 2099
FIRST_SHORT_YEAR = 1960
"""Two figures mean a year from 1960 to 2059."""


class DateError(ValueError):
    """A date that cannot be read; the message is for the person who typed it."""


class NoSuchDay(DateError):
    """A day that its month does not have, such as 29 February of a common year."""


class FutureDate(DateError):
    """A date that begins after the latest day allowed."""


@dataclass(frozen=True, slots=True)
class DayRange:
    """A date as far as it is known; both days are inside. `pattern` names how it was read."""

    earliest: date
    latest: date
    precision: Precision
    pattern: str

    def __str__(self) -> str:
        start = self.earliest
        if self.precision == "day":
            return f"{start.day} {month_name[start.month][:3]} {start.year}"
        if self.precision == "week":
            return f"week {start.isocalendar().week} of {start.isocalendar().year}"
        if self.precision == "month":
            return f"{month_name[start.month][:3]} {start.year}"
        if self.precision == "quarter":
            return f"quarter {(start.month + 2) // 3} of {start.year}"
        return str(start.year)


class AmbiguousDate(DateError):
    """A date that reads more than one way; `readings` holds each."""

    def __init__(self, message: str, readings: Iterable[DayRange]) -> None:
        super().__init__(message)
        self.readings = tuple(readings)


def day_of(year: int, month: int, day: int, pattern: str) -> DayRange:
    """One day. Errors: DateError; NoSuchDay says how many days the month has.

    >>> day_of(2021, 2, 29, "day-month-year")
    Traceback (most recent call last):
    assemblies.calc.day_ranges.NoSuchDay: February 2021 has 28 days (2021 is no leap year), not 29.
    """
    _check_year(year)
    _check_month(month)
    days = monthrange(year, month)[1]
    if not 1 <= day <= 31:
        raise DateError(f"There is no day {day}.")
    if day > days:
        leap = f" ({year} is no leap year)" if (month, day) == (2, 29) else ""
        raise NoSuchDay(f"{month_name[month]} {year} has {days} days{leap}, not {day}.")
    on = date(year, month, day)
    return DayRange(on, on, "day", pattern)


def month_of(year: int, month: int, pattern: str) -> DayRange:
    """One month. Errors: DateError.

    >>> month_of(2024, 2, "month-year").latest
    datetime.date(2024, 2, 29)
    """
    _check_year(year)
    _check_month(month)
    last = date(year, month, monthrange(year, month)[1])
    return DayRange(date(year, month, 1), last, "month", pattern)


def quarter_of(year: int, quarter: int, pattern: str) -> DayRange:
    """One quarter; it counts from its first day. Errors: DateError.

    >>> quarter_of(2016, 2, "quarter-year").earliest
    datetime.date(2016, 4, 1)
    """
    _check_year(year)
    if not 1 <= quarter <= 4:
        raise DateError(f"There is no quarter {quarter}: a year has quarters 1 to 4.")
    end = 3 * quarter
    last = date(year, end, monthrange(year, end)[1])
    return DayRange(date(year, end - 2, 1), last, "quarter", pattern)


def week_of(year: int, week: int, pattern: str) -> DayRange:
    """One week, Monday to Sunday, numbered by ISO 8601. Errors: DateError.

    >>> week_of(2016, 23, "week").earliest
    datetime.date(2016, 6, 6)
    """
    _check_year(year)
    try:
        monday = date.fromisocalendar(year, week, 1)
    except ValueError as error:
        raise DateError(f"{year} has no week {week}.") from error
    return DayRange(monday, monday + timedelta(days=6), "week", pattern)


def year_of(year: int, pattern: str) -> DayRange:
    """One year. Errors: DateError."""
    _check_year(year)
    return DayRange(date(year, 1, 1), date(year, 12, 31), "year", pattern)


def full_year(figures: str) -> int:
    """Give a typed year four figures: two mean 1960 to 2059, whenever they are read.

    The window is fixed, so that the same text is the same date next year; a date it puts in the
    future is refused by the reader, never moved back a hundred years.

    >>> full_year("80"), full_year("21"), full_year("2021")
    (1980, 2021, 2021)
    """
    year = int(figures)
    if len(figures) > 2:
        return year
    century = FIRST_SHORT_YEAR - FIRST_SHORT_YEAR % 100
    return century + year + (100 if century + year < FIRST_SHORT_YEAR else 0)


def _check_year(year: int) -> None:
    if not FIRST_YEAR <= year <= LAST_YEAR:
        raise DateError(f"The year {year} is outside {FIRST_YEAR} to {LAST_YEAR}.")


def _check_month(month: int) -> None:
    if not 1 <= month <= 12:
        raise DateError(f"There is no month {month}.")
