"""Installations become lives: watched from an age, to an age, with what was left out said."""

from typing import Any

import pytest

from scheduling.calc.life.installations import (
    CAUSE_GROUPS,
    Clock,
    Ended,
    Installation,
    LeftOut,
    life_table,
    lives_of,
)
from scheduling.models import Failure


def installation(**facts: Any) -> Installation:
    """Fitted on day 100 at 1000.0 h, known at once, taken off on day 300 at 2500.0 h."""
    plain: dict[str, Any] = {
        "fitted_earliest_on": 100,
        "fitted_latest_on": 100,
        "fitted_h": 10_000,
        "earlier_h": 0,
        "known_on": 100,
        "known_h": 10_000,
        "end_on": 300,
        "end_h": 25_000,
        "ended": Ended.CHANGED,
    }
    return Installation(**{**plain, **facts})


def life(clock: Clock, **facts: Any) -> Any:
    return life_table([installation(**facts)], clock).rows[0]


def test_a_life_watched_from_new_enters_at_nothing() -> None:
    in_hours, in_days = life(Clock.HOURS), life(Clock.DAYS)
    assert (in_hours.entry, in_hours.age) == (0, 1500.0)
    assert (in_days.entry, in_days.age) == (0, 200.0)


def test_a_life_known_late_enters_at_its_age_on_that_day() -> None:
    late = {"known_on": 250, "known_h": 20_000}
    assert (life(Clock.HOURS, **late).entry, life(Clock.DAYS, **late).entry) == (1000.0, 150.0)


def test_hours_on_other_positions_count_as_age_and_not_as_watch() -> None:
    moved = life(Clock.HOURS, earlier_h=4000)
    assert (moved.entry, moved.age) == (400.0, 1900.0)


def test_an_uncertain_fitting_leaves_a_span_of_ages() -> None:
    unsure = life(Clock.DAYS, fitted_earliest_on=90, fitted_latest_on=110, known_on=90)
    assert (unsure.low_age, unsure.age) == (190.0, 210.0)


def test_a_failure_at_the_very_start_is_a_short_life_and_not_none() -> None:
    at_once = {"end_on": 100, "end_h": 10_000, "ended": Ended.FAILED}
    assert (life(Clock.HOURS, **at_once).age, life(Clock.DAYS, **at_once).age) == (0.1, 1.0)


@pytest.mark.parametrize(
    ("clock", "facts", "why"),
    [
        (Clock.HOURS, {"fitted_h": None}, LeftOut.NO_HOURS),
        (Clock.HOURS, {"end_h": None}, LeftOut.NO_HOURS),
        (Clock.HOURS, {"earlier_h": None}, LeftOut.NO_HOURS),
        (Clock.HOURS, {"known_on": 250, "known_h": None}, LeftOut.NO_ENTRY),
        (Clock.HOURS, {"known_on": 400}, LeftOut.NOT_WATCHED),
        (Clock.HOURS, {"end_h": 9000}, LeftOut.NO_AGE),
        (Clock.DAYS, {"fitted_earliest_on": None}, LeftOut.NO_START),
        (Clock.DAYS, {"known_on": 400}, LeftOut.NOT_WATCHED),
        (Clock.DAYS, {"end_on": 100}, LeftOut.NO_AGE),
    ],
)
def test_what_can_t_be_a_life_is_counted_with_its_reason(
    clock: Clock, facts: dict[str, Any], why: LeftOut
) -> None:
    table = life_table([installation(**facts), installation()], clock)
    assert table.left_out == {why.value: 1}
    assert (len(table.rows), table.total) == (1, 2)


def test_a_failure_by_another_cause_ends_the_watch() -> None:
    rows = [installation(ended=Ended.FAILED, cause=cause) for cause in ("abrasion", "age")]
    table = life_table(rows, Clock.HOURS)
    assert lives_of(table).failures == 2
    assert lives_of(table, causes=CAUSE_GROUPS["routing"]).failures == 1
    assert lives_of(table, causes=CAUSE_GROUPS["routing"]).total == 2


def test_every_cause_stands_in_one_group() -> None:
    grouped = [cause for causes in CAUSE_GROUPS.values() for cause in causes]
    assert sorted(grouped) == sorted(Failure.Cause.values)
