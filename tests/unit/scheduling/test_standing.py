"""How a hose stands on a day: the borders between the words."""

import datetime as dt

import pytest

from scheduling.calc.inputs import Flag
from scheduling.calc.standing import Dates, standing, what_is_due

TODAY = dt.date(2026, 3, 9)


@pytest.mark.parametrize(
    ("days", "word"),
    [(-1, "over"), (0, "soon"), (30, "soon"), (31, "fine"), (-4000, "over"), (4000, "fine")],
)
def test_the_due_day_gives_the_word(days: int, word: str) -> None:
    due = TODAY + dt.timedelta(days=days)
    assert standing(Dates(due, due, None, 0), TODAY) == word


@pytest.mark.parametrize("dates", [None, Dates(None, None, None, 0)])
def test_no_date_is_never_in_order(dates: Dates | None) -> None:
    assert standing(dates, TODAY) == "undated"


def test_take_out_now_comes_before_every_date() -> None:
    later = TODAY + dt.timedelta(days=900)
    assert standing(Dates(later, later, None, Flag.TAKE_OUT_NOW), TODAY) == "out"


@pytest.mark.parametrize(
    ("replace", "inspect", "word"),
    [(1, 2, "replace"), (2, 1, "inspect"), (1, 1, "replace"), (None, 1, "inspect")],
)
def test_the_sooner_of_two_days_says_what_is_due(
    replace: int | None, inspect: int, word: str
) -> None:
    days = [TODAY + dt.timedelta(days=n) if n else None for n in (replace, inspect)]
    due = min(day for day in days if day)
    assert what_is_due(Dates(due, days[0], days[1], 0)) == word
