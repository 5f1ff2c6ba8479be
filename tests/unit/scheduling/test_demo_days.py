"""The demo's calendar."""

import datetime as dt

import pytest

from scheduling.exchange.demo.days import (
    Days,
    is_shut,
    moment,
    month_of,
    months_after,
    quarter_of,
    workday_after,
    workday_before,
)


@pytest.mark.parametrize(
    ("day", "months", "later"),
    [
        ("2024-02-29", -72, "2018-02-28"),
        ("2026-03-31", -1, "2026-02-28"),
        ("2026-01-31", 1, "2026-02-28"),
        ("2023-12-15", 1, "2024-01-15"),
        ("2026-06-15", 0, "2026-06-15"),
        ("2026-11-30", 13, "2027-12-30"),
    ],
)
def test_a_month_without_that_day_ends_on_its_last(day: str, months: int, later: str) -> None:
    found = months_after(dt.date.fromisoformat(day), months)
    assert found == dt.date.fromisoformat(later)


def test_a_quarter_is_printed_as_a_layline_prints_it() -> None:
    first, last, printed = quarter_of(dt.date(2021, 5, 20))
    assert (first, last, printed) == (dt.date(2021, 4, 1), dt.date(2021, 6, 30), "2Q21")


def test_a_month_is_stamped_as_a_shell_is_stamped() -> None:
    first, last, stamped = month_of(dt.date(2024, 2, 10))
    assert (first, last, stamped) == (dt.date(2024, 2, 1), dt.date(2024, 2, 29), "2402")


def test_the_shut_down_runs_over_the_year_s_end() -> None:
    shut = [dt.date(2025, 12, 23), dt.date(2025, 12, 31), dt.date(2026, 1, 2)]
    assert [is_shut(day) for day in shut] == [True, True, True]
    assert not is_shut(dt.date(2025, 12, 22))
    assert workday_before(dt.date(2026, 1, 2)) == dt.date(2025, 12, 22)
    assert workday_after(dt.date(2025, 12, 24)) == dt.date(2026, 1, 5)


def test_a_clock_time_follows_summer_time() -> None:
    assert moment(dt.date(2026, 7, 1), 10.5) == dt.datetime(2026, 7, 1, 9, 30, tzinfo=dt.UTC)
    assert moment(dt.date(2026, 1, 5), 10.5) == dt.datetime(2026, 1, 5, 10, 30, tzinfo=dt.UTC)


def test_each_subject_has_dice_of_its_own() -> None:
    days = Days(1, dt.date(2026, 6, 15))
    assert days.stream("a", 1).random() == days.stream("a", 1).random()
    assert days.stream("a", 1).random() != days.stream("a", 2).random()
