import datetime as dt

import numpy as np

from scheduling.calc.calendar import add_months
from tests.unit.scheduling.slow_due import EPOCH, months_later, number


def test_adds_months_as_a_calendar_does() -> None:
    rng = np.random.default_rng(5)
    days = rng.integers(number(dt.date(1, 1, 1)), number(dt.date(9900, 1, 1)), 20_000)
    months = rng.integers(0, 1000, days.size)
    slow = [
        number(months_later(EPOCH + dt.timedelta(days=int(d)), int(m)))
        for d, m in zip(days, months, strict=True)
    ]
    assert add_months(days, months).tolist() == slow


def test_every_day_of_four_centuries_keeps_its_place_in_the_next_month() -> None:
    days = np.arange(number(dt.date(1900, 1, 1)), number(dt.date(2300, 1, 1)))
    slow = [number(months_later(EPOCH + dt.timedelta(days=int(d)), 1)) for d in days[::13]]
    assert add_months(days, np.ones_like(days))[::13].tolist() == slow
