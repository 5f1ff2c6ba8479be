"""Days and times as people write them, read without guessing."""

import datetime as dt
import re
from dataclasses import dataclass
from typing import Final
from zoneinfo import ZoneInfo

_DAY_FORMS: Final = ("%Y-%m-%d", "%d %b %Y", "%d %B %Y")
_TIME = re.compile(r"(?P<day>.*?)[ T,]*(?P<hour>\d{1,2})[:.](?P<minute>\d{2})(:\d{2})?(?: ?h)?")
_TWO_DAYS = re.compile(r"\d{1,2}[/.-]\d{1,2}[/.-]\d{2,4}")
NOON: Final = dt.time(12)


@dataclass(frozen=True, slots=True)
class TypedMoment:
    """A day, a time of day, or both; what is missing is None."""

    on: dt.date | None
    time: dt.time | None


def parse_moment(text: str) -> TypedMoment:
    """Read a day, a time, or a day with a time.

    Parameters: text: `2026-03-09`, `9 Mar 2026 07:30`, `07:30`. Errors: ValueError with a
    sentence; a day that could be two is asked about, not guessed. Source: ISO 8601 for days.

    >>> parse_moment("2026-03-09 07:30")
    TypedMoment(on=datetime.date(2026, 3, 9), time=datetime.time(7, 30))
    >>> parse_moment("7.05").on is None
    True
    """
    text = " ".join(text.split())
    if len(text) > 40:
        raise ValueError(f"“{text[:40]}…” is not a day or a time.")
    day, time = text, None
    if (found := _TIME.fullmatch(text)) and not _TWO_DAYS.fullmatch(text):
        day = found["day"]
        try:
            time = dt.time(int(found["hour"]), int(found["minute"]))
        except ValueError as error:
            raise ValueError(f"“{text}” is not a time of day: write 07:30.") from error
    if _TWO_DAYS.fullmatch(day.strip()):
        raise ValueError(f"“{text}” could be two days: write 2026-03-09 or 9 Mar 2026.")
    return TypedMoment(_day(day.strip(), text) if day.strip() else None, time)


def moment_of(typed: TypedMoment, *, default: TypedMoment, zone: str) -> dt.datetime:
    """The moment that is meant: what is missing comes from a default, then noon of the day.

    Parameters: what was typed; a default with a day; the zone's name. A day without its time is
    noon, the project's sign for that, even where the default has a time.

    >>> default = TypedMoment(dt.date(2026, 3, 9), dt.time(7, 30))
    >>> moment_of(TypedMoment(None, None), default=default, zone="UTC").isoformat()
    '2026-03-09T07:30:00+00:00'
    >>> moment_of(TypedMoment(dt.date(2026, 3, 8), None), default=default, zone="UTC").hour
    12
    """
    on = typed.on or default.on
    if on is None:
        raise ValueError("Say the day.")
    time = typed.time if typed.on or typed.time else default.time
    return dt.datetime.combine(on, time or NOON, tzinfo=ZoneInfo(zone))


def _day(day: str, text: str) -> dt.date:
    for form in _DAY_FORMS:
        try:
            found = dt.datetime.strptime(day, form).replace(tzinfo=dt.UTC).date()
        except ValueError:
            continue
        if 1970 <= found.year <= 2100:
            return found
    raise ValueError(f"“{text}” is not a day or a time: write 2026-03-09, 9 Mar 2026 or 07:30.")
