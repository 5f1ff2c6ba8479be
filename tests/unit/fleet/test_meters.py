import datetime as dt
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from fleet.calc.meters import (
    Accepted,
    MeterFacts,
    Shown,
    judge_reading,
    machine_tenths,
    offset_after_change,
    tenths_between,
)

HERE = ZoneInfo("Europe/London")
METER = MeterFacts(HERE, from_on=dt.date(2024, 1, 1))
NOW = dt.datetime(2026, 3, 9, 8, 0, tzinfo=dt.UTC)
MARCH_1 = dt.date(2026, 3, 1)


def _at(tenths: Any, on: Any = MARCH_1, at: Any = None, offset: Any = 0) -> Any:
    return Accepted(Shown(on, tenths, at), tenths + offset)


def _judge(new: Any, *, before: Any = None, after: Any = None, meter: Any = METER) -> Any:
    return judge_reading(new, meter, before=before, after=after, now=NOW)


def test_accepts_a_first_reading() -> None:
    assert _judge(Shown(MARCH_1, 0)).accepted


def test_accepts_an_ordinary_day() -> None:
    assert _judge(Shown(dt.date(2026, 3, 2), 10_080), before=_at(10_000)).accepted


def test_doubts_a_reading_below_the_last_one() -> None:
    verdict = _judge(Shown(dt.date(2026, 3, 2), 9_999), before=_at(10_000))
    assert "999.9 h is less than the 1,000.0 h of 1 March 2026" in verdict.doubt


def test_doubts_a_reading_above_the_next_one() -> None:
    verdict = _judge(Shown(MARCH_1, 10_500), after=_at(10_400, dt.date(2026, 3, 5)))
    assert "more than the 1,040.0 h already read on 5 March 2026" in verdict.doubt


def test_doubts_more_than_24_hours_a_day_between_moments() -> None:
    first = dt.datetime(2026, 3, 1, 7, 0, tzinfo=dt.UTC)
    second = first + dt.timedelta(days=1)
    before = Accepted(Shown(MARCH_1, 10_000, first), 10_000)
    assert _judge(Shown(dt.date(2026, 3, 2), 10_241, second), before=before).accepted
    doubt = _judge(Shown(dt.date(2026, 3, 2), 10_242, second), before=before).doubt
    assert "24.2 h in 1 day" in doubt
    assert "more than the 24.0 h that passed" in doubt


def test_takes_two_readings_in_one_day() -> None:
    assert _judge(Shown(MARCH_1, 10_000), before=_at(10_000)).accepted
    assert _judge(Shown(MARCH_1, 10_090), before=_at(10_000)).accepted
    assert "in one day" in _judge(Shown(MARCH_1, 10_250), before=_at(10_000)).doubt


@pytest.mark.parametrize(
    ("day", "hours"),
    [(dt.date(2025, 10, 26), 25), (dt.date(2025, 3, 30), 23), (dt.date(2025, 6, 1), 24)],
)
def test_a_day_has_as_many_hours_as_its_zone_gives_it(day: Any, hours: Any) -> None:
    assert tenths_between(Shown(day, 0), Shown(day, 0), HERE) == hours * 10


def test_a_25_hour_day_between_moments_holds_25_hours() -> None:
    first = dt.datetime(2025, 10, 26, 0, 0, tzinfo=HERE)
    last = dt.datetime(2025, 10, 27, 0, 0, tzinfo=HERE)
    before = Accepted(Shown(first.date(), 100, first), 100)
    assert _judge(Shown(last.date(), 350, last), before=before).accepted


def test_a_known_rollover_goes_on_counting() -> None:
    meter = MeterFacts(HERE, rollover_tenths=100_000)
    verdict = _judge(Shown(dt.date(2026, 3, 2), 60), before=_at(99_980), meter=meter)
    assert (verdict.accepted, verdict.machine_tenths) == (True, 100_060)


def test_a_rollover_stays_counted_in_later_readings() -> None:
    meter = MeterFacts(HERE, rollover_tenths=100_000)
    before = Accepted(Shown(MARCH_1, 60), 100_060)
    assert _judge(Shown(dt.date(2026, 3, 2), 140), before=before, meter=meter).machine_tenths == (
        100_140
    )


def test_a_drop_that_does_not_fit_the_time_is_no_rollover() -> None:
    meter = MeterFacts(HERE, rollover_tenths=100_000)
    assert "doesn't run back" in _judge(Shown(MARCH_1, 60), before=_at(50_000), meter=meter).doubt


def test_a_drop_on_a_meter_that_does_not_roll_over_is_no_change_of_meter() -> None:
    assert "record the change" in _judge(Shown(MARCH_1, 10), before=_at(99_990)).doubt


def test_doubts_a_day_off_the_meter_or_to_come_or_without_a_zone() -> None:
    off = MeterFacts(HERE, from_on=dt.date(2024, 1, 1), to_on=dt.date(2025, 1, 1))
    assert "fitted on 1 January 2024" in _judge(Shown(dt.date(2023, 12, 31), 5)).doubt
    assert "came off on 1 January 2025" in _judge(Shown(MARCH_1, 5), meter=off).doubt
    assert "still to come" in _judge(Shown(dt.date(2026, 3, 10), 5)).doubt
    soon = NOW + dt.timedelta(minutes=1)
    assert "still to come" in _judge(Shown(NOW.date(), 5, soon)).doubt
    assert "without a zone" in _judge(Shown(MARCH_1, 5, zone_known=False)).doubt


def test_today_is_the_day_at_the_site() -> None:
    kiritimati = MeterFacts(ZoneInfo("Pacific/Kiritimati"))
    evening = dt.datetime(2026, 3, 9, 11, 0, tzinfo=dt.UTC)
    tomorrow = Shown(dt.date(2026, 3, 10), 5)
    assert judge_reading(tomorrow, kiritimati, before=None, after=None, now=evening).accepted


def test_every_doubt_fits_its_column() -> None:
    rng = np.random.default_rng(1)
    for _ in range(500):
        day = dt.date(2026, 9, 30) - dt.timedelta(days=int(rng.integers(0, 500)))
        far = _at(int(rng.integers(0, 10**8)), dt.date(2026, 1, 30))
        near = _at(int(rng.integers(0, 10**8)), dt.date(2026, 12, 30))
        verdict = _judge(Shown(day, int(rng.integers(0, 10**8))), before=far, after=near)
        assert len(verdict.doubt) <= 300


def test_a_chain_of_meters_counts_what_each_one_ran() -> None:
    rng = np.random.default_rng(2)
    total, offset, shown = 0, 0, 0
    for _ in range(200):
        if rng.random() < 0.2:
            new_first = int(rng.integers(0, 5000))
            offset, shown = offset_after_change(offset, shown, new_first), new_first
        ran = int(rng.integers(0, 240))
        total, shown = total + ran, shown + ran
        assert machine_tenths(shown, MeterFacts(HERE, offset_tenths=offset)) == total
