import itertools
from fractions import Fraction
from statistics import median
from typing import Any

import numpy as np
import pytest
from scipy.stats import theilslopes

from fleet.calc.usage import Basis, is_stale, sen_slope, usage_rate, year_slope


def _rate(days: Any, tenths: Any, **facts: Any) -> Any:
    facts = {"class_rate_milli": 5_000, **facts}
    return usage_rate(np.array(days, dtype=np.int64), np.array(tenths, dtype=np.int64), **facts)


def _milli(rate: Any) -> Any:
    return rate.low_milli, rate.rate_milli, rate.high_milli


def _seasons(step: Any, phase: Any) -> Any:
    """Three years at 8 h a day with a shut-down of 90 days each winter, read every `step` days."""
    every_day = np.arange(0, 1096)
    run = np.where((every_day + phase) % 365 >= 90, 80, 0).cumsum()
    return every_day[::step], run[::step]


@pytest.mark.parametrize("seed", range(40))
def test_slope_and_limits_agree_with_scipy(seed: Any) -> None:
    rng = np.random.default_rng(seed)
    x = rng.integers(0, 60, int(rng.integers(3, 50))).astype(float)
    y = np.round(rng.normal(5 * x, 20), 1)
    confidence = float(rng.choice([0.9, 0.95, 0.5]))
    expected = theilslopes(y, x, confidence)
    ours = sen_slope(x, y, confidence=confidence)
    assert ours.slope == pytest.approx(expected.slope, rel=1e-12, abs=1e-12)
    assert ours.low == pytest.approx(expected.low_slope, rel=1e-12, abs=1e-12)
    assert ours.high == pytest.approx(expected.high_slope, rel=1e-12, abs=1e-12)


@pytest.mark.parametrize("seed", range(20))
def test_rate_agrees_with_fractions_over_all_pairs(seed: Any) -> None:
    rng = np.random.default_rng(100 + seed)
    days = np.sort(rng.choice(np.arange(20_000, 20_300), 12, replace=False))
    tenths = rng.integers(0, 900, 12).cumsum()
    slopes = [
        Fraction(int(tenths[j] - tenths[i]), int(days[j] - days[i]))
        for i, j in itertools.combinations(range(12), 2)
    ]
    assert _rate(days, tenths).rate_milli == min(round(100 * median(slopes)), 24_000)


def test_year_slopes_compare_only_whole_years() -> None:
    x = np.array([0, 100, 365, 465, 730, 830.0])
    y = np.array([0, 500, 1000, 1500, 2000, 2500.0])
    found = year_slope(x, y)
    assert found is not None
    assert (found.pairs, found.slope) == (6, 1000 / 365)
    assert year_slope(x[:3], y[:3]) is None


@pytest.mark.parametrize("step", [1, 7, 30])
@pytest.mark.parametrize("phase", range(0, 365, 45))
def test_a_winter_shut_down_does_not_tilt_the_rate(step: Any, phase: Any) -> None:
    rate = _rate(*_seasons(step, phase))
    assert rate.basis is Basis.MEASURED_YEARLY
    assert rate.rate_milli == pytest.approx(8_000 * 275 / 365, rel=0.03)


def test_a_winter_shut_down_opens_the_low_bound_while_it_lasts() -> None:
    days, tenths = _seasons(7, 88)  # the readings end in the shut-down
    assert tenths[-1] == tenths[-5]
    assert _rate(days, tenths).low_milli == 0
    assert _rate(days, tenths).rate_milli > 5_500


def test_a_recent_double_shift_opens_the_high_bound() -> None:
    days = np.arange(0, 800, 7)
    tenths = np.where(days < 720, 40 * days, 40 * 720 + 120 * (days - 720))
    rate = _rate(days, tenths)
    assert rate.rate_milli < 5_000
    assert rate.high_milli == 12_000


def test_fewer_than_three_intervals_fall_back_on_the_class_and_say_so() -> None:
    rate = _rate([0, 30, 60], [0, 2400, 4800])
    assert (rate.basis, _milli(rate)) == (Basis.CLASS_DEFAULT, (2_500, 5_000, 7_500))
    assert (rate.as_of_on, rate.machine_tenths) == (60, 4800)
    assert rate.sentence == "class default: under 3 intervals or 14 days of readings"


def test_three_intervals_within_a_week_are_too_few() -> None:
    assert _rate([0, 1, 2, 3], [0, 80, 160, 240]).basis is Basis.CLASS_DEFAULT


def test_no_reading_at_all_has_no_anchor() -> None:
    rate = _rate([], [], class_rate_milli=20_000)
    assert (rate.as_of_on, rate.machine_tenths) == (None, None)
    assert _milli(rate) == (10_000, 20_000, 24_000)


def test_a_machine_marked_standing_runs_no_hours() -> None:
    rate = _rate([0, 30, 60, 90], [0, 2400, 4800, 7200], standing=True)
    assert (_milli(rate), rate.machine_tenths) == ((0, 0, 0), 7200)
    assert "marked as standing" in rate.sentence


def test_a_counter_that_never_moves_is_standing() -> None:
    rate = _rate([20_000, 20_030, 20_060, 20_090], [700] * 4)
    assert rate.basis is Basis.STANDING
    assert rate.sentence == "standing: the counter has not moved since 2024-10-04"


def test_several_readings_of_one_day_count_once_at_the_highest() -> None:
    rate = _rate([0, 0, 10, 20, 30, 30], [0, 5, 800, 1600, 2390, 2400])
    assert (rate.intervals, rate.machine_tenths) == (3, 2400)


def test_only_the_last_two_years_count() -> None:
    days = np.arange(0, 1500, 10)
    tenths = np.where(days < 700, 200 * days, 200 * 700 + 40 * (days - 700))
    assert _milli(_rate(days, tenths)) == (4_000, 4_000, 4_000)


def test_the_rate_does_not_depend_on_the_order_of_entry() -> None:
    days, tenths = _seasons(7, 10)
    mixed = np.random.default_rng(1).permutation(days.size)
    assert _rate(days[mixed], tenths[mixed]) == _rate(days, tenths)


def test_bounds_enclose_the_rate_and_a_day_holds_24_hours() -> None:
    rng = np.random.default_rng(4)
    for _ in range(200):
        days = rng.integers(0, 900, int(rng.integers(0, 200)))
        low, rate, high = _milli(_rate(np.sort(days), rng.integers(0, 400, days.size).cumsum()))
        assert 0 <= low <= rate <= high <= 24_000


def test_old_readings_are_stale() -> None:
    assert [is_stale(day, 20_100) for day in (20_070, 20_069, None)] == [False, True, True]
