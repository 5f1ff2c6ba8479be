"""How the hour counters of the demo run."""

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal
from random import Random

from scheduling.exchange.demo.days import Days, is_shut

_SATURDAY_SHARE = 0.3
_WINTER, _SUMMER = 0.86, 1.06


@dataclass(frozen=True)
class Curve:
    """A counter over the days: `tenths[i]` is what it showed when day i began."""

    first_on: dt.date
    tenths: tuple[int, ...]

    def morning(self, day: dt.date) -> int:
        index = (day - self.first_on).days
        return self.tenths[min(max(index, 0), len(self.tenths) - 1)]

    def day_of(self, tenths: int) -> dt.date | None:
        """The first day on whose morning the counter has reached a figure, if it has."""
        if self.tenths[-1] < tenths:
            return None
        index = next(i for i, value in enumerate(self.tenths) if value >= tenths)
        return self.first_on + dt.timedelta(days=index)

    def share(self, part: float) -> "Curve":
        """A counter that runs a part of the time that this one runs."""
        return Curve(self.first_on, tuple(round(value * part) for value in self.tenths))


def hours(tenths: int) -> Decimal:
    return Decimal(tenths).scaleb(-1)


def run_curve(
    days: Days,
    dice: Random,
    *,
    first_on: dt.date,
    first_h: Decimal,
    shift_h: float,
    stops_on: dt.date | None,
) -> Curve:
    """Let a counter run from a day to today: shifts on weekdays, some Saturdays, quiet winters."""
    tenths, at = [int(first_h * 10)], first_on
    while at <= days.today:
        runs = stops_on is None or at < stops_on
        tenths.append(tenths[-1] + (_worked(dice, at, shift_h) if runs else 0))
        at += dt.timedelta(days=1)
    return Curve(first_on, tuple(tenths))


def _worked(dice: Random, day: dt.date, shift_h: float) -> int:
    if is_shut(day) or day.weekday() == 6:
        return 0
    if day.weekday() == 5 and dice.random() > _SATURDAY_SHARE:
        return 0
    if dice.random() < 0.04:  # rain, no work, a driver ill
        return 0
    share = 0.55 if day.weekday() == 5 else 1.0
    season = _WINTER if day.month in (12, 1, 2) else _SUMMER if 5 <= day.month <= 9 else 1.0
    return round(10 * max(0.0, min(dice.gauss(shift_h, shift_h / 7), 20.0)) * share * season)
