"""Moments and the calendar days they are at a place."""

import datetime as dt
from zoneinfo import ZoneInfo


def local_day(at: dt.datetime, zone: str) -> dt.date:
    """The calendar day of a moment in a time zone.

    Parameters: an aware moment; the zone's name. Errors: ZoneInfoNotFoundError.

    >>> local_day(dt.datetime(2026, 3, 9, 23, 30, tzinfo=dt.UTC), "Europe/Berlin")
    datetime.date(2026, 3, 10)
    """
    return at.astimezone(ZoneInfo(zone)).date()


def moment_on(day: dt.date, zone: str, now: dt.datetime) -> dt.datetime:
    """A day as a moment: now where it is today there, else its noon, the project's sign for a
    day whose hour isn't known.

    Parameters: day; the zone's name; now, aware. Errors: ZoneInfoNotFoundError.

    >>> now = dt.datetime(2026, 3, 9, 8, 0, tzinfo=dt.UTC)
    >>> moment_on(dt.date(2026, 3, 9), "UTC", now) == now
    True
    >>> moment_on(dt.date(2026, 3, 8), "UTC", now).hour
    12
    """
    if day == local_day(now, zone):
        return now
    return dt.datetime.combine(day, dt.time(12), tzinfo=ZoneInfo(zone))
