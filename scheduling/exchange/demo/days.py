"""The demo's calendar: everything counts back from today, and every dice has its own seed."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from random import Random
from zoneinfo import ZoneInfo

REGISTER_MONTHS = 72
"""How far back the register goes."""
LONDON = ZoneInfo("Europe/London")


@dataclass(frozen=True)
class Days:
    """Today, the seed, and what follows from them."""

    seed: int
    today: dt.date

    @property
    def start(self) -> dt.date:
        """The day on which the register was begun."""
        return self.months_ago(REGISTER_MONTHS)

    def stream(self, *subject: object) -> Random:
        """Dice of a subject's own: what happens to one hose never shifts another's story."""
        return Random("|".join(str(part) for part in (self.seed, *subject)))

    def ago(self, days: int) -> dt.date:
        return self.today - dt.timedelta(days=days)

    def months_ago(self, months: int) -> dt.date:
        return months_after(self.today, -months)


def months_after(day: dt.date, months: int) -> dt.date:
    """The same day of the month, months later; the month's last day where it has no such day."""
    count = day.year * 12 + day.month - 1 + months
    year, month = divmod(count, 12)
    first_after = dt.date(year + (month + 1) // 12, (month + 1) % 12 + 1, 1)
    return dt.date(year, month + 1, min(day.day, (first_after - dt.timedelta(days=1)).day))


def quarter_of(day: dt.date) -> tuple[dt.date, dt.date, str]:
    """The first and last day of a day's quarter, and how a layline prints it: 2Q21."""
    number = (day.month - 1) // 3
    first = dt.date(day.year, 3 * number + 1, 1)
    last = months_after(first, 3) - dt.timedelta(days=1)
    return first, last, f"{number + 1}Q{day.year % 100:02}"


def month_of(day: dt.date) -> tuple[dt.date, dt.date, str]:
    """The first and last day of a day's month, and how a shell is stamped: 2105."""
    first = day.replace(day=1)
    return first, months_after(first, 1) - dt.timedelta(days=1), f"{day:%y%m}"


def moment(day: dt.date, hour: float) -> dt.datetime:
    """A clock time at the sites, as a moment."""
    midnight = dt.datetime.combine(day, dt.time(), tzinfo=LONDON)
    return (midnight + dt.timedelta(minutes=round(hour * 60))).astimezone(dt.UTC)


def is_shut(day: dt.date) -> bool:
    """The seasonal shut-down: nobody works from 23 December to 2 January."""
    return (day.month, day.day) >= (12, 23) or (day.month, day.day) <= (1, 2)


def is_workday(day: dt.date) -> bool:
    return day.weekday() < 5 and not is_shut(day)


def workday_before(day: dt.date) -> dt.date:
    """The day itself, or the last working day before it."""
    while not is_workday(day):
        day -= dt.timedelta(days=1)
    return day


def workday_after(day: dt.date) -> dt.date:
    """The day itself, or the first working day after it."""
    while not is_workday(day):
        day += dt.timedelta(days=1)
    return day


def last_up_to(days: Sequence[dt.date], day: dt.date) -> dt.date | None:
    """The last of sorted days that is not after a day."""
    return next((found for found in reversed(days) if found <= day), None)
