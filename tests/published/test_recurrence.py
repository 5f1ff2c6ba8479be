"""Trend tests, power law, rates and mean times, against the handbooks and R."""

import numpy as np
import pytest
from reliability.Datasets import system_growth

from scheduling.calc.life.rates import (
    compare_rates,
    mean_time_between,
    poisson_rate,
    shrink_rates,
)
from scheduling.calc.life.records import StudyRefused
from scheduling.calc.life.recurrence import (
    cramer_von_mises,
    in_words,
    laplace,
    power_law,
    power_law_of_many,
    power_law_trend,
    reverse_arrangements,
)

# NIST/SEMATECH e-Handbook 8.2.3.4 and 8.4.5.2: ages at repair, watched to 1500 h.
NIST = [5, 40, 43, 175, 389, 712, 747, 795, 1299, 1478]
# MIL-HDBK-189 (1981), appendix C: watched to 300 h.
MIL = [
    *[2.6, 16.5, 16.5, 17.0, 21.4, 29.1, 33.3, 56.5, 63.1, 70.6, 73.0, 77.7, 93.9, 95.5],
    *[98.1, 101.1, 132.0, 142.2, 147.7, 149.0, 167.2, 190.7, 193.0, 198.7, 251.9, 282.5, 286.1],
]
# Modarres, Kaminskiy & Krivtsov, Reliability Engineering and Risk Analysis, example 5.11:
# gaps, watched to the last failure.
GAPS = [
    *[104, 131, 1597, 59, 4, 503, 157, 6, 118, 173, 114, 62, 101, 216, 106, 140, 1, 102, 3],
    *[393, 96, 232, 89, 61, 37, 293, 7, 165, 87, 99],
]
EX511 = list(np.cumsum(GAPS))


def test_the_handbook_s_repairs() -> None:
    """NIST 8.4.5.2 prints the modified β 0.483506 and MTBF 310.234; 8.2.3.4 has 33 arrangements
    (from memory)."""
    found = power_law(NIST, 1500)
    assert found.unbiased == pytest.approx(0.483506, abs=5e-7)
    assert found.mtbf_now(unbiased=True) == pytest.approx(310.234, abs=5e-4)
    assert (found.power, found.rate) == pytest.approx((0.537229, 0.196658), abs=5.1e-7)
    assert laplace([NIST], [1500]).statistic == pytest.approx(-1.326949, abs=5e-7)
    assert power_law_trend(NIST, 1500).statistic == pytest.approx(37.228081, abs=5e-7)
    assert reverse_arrangements(np.diff([0, *NIST])).statistic == 33
    assert cramer_von_mises(found, NIST) == pytest.approx(0.053769, abs=5e-7)
    assert found.power_limits(confidence=0.9) == pytest.approx((0.291468, 0.843730), abs=5e-7)


def test_the_military_handbook_s_example() -> None:
    """Printed: β 0.7163393, λ 0.4538419, MTBF 15.51096, goodness 0.0910611."""
    found = power_law(MIL, 300)
    assert found.power == pytest.approx(0.7163393, abs=5e-8)
    assert found.rate == pytest.approx(0.4538419, abs=5e-8)
    assert found.mtbf_now() == pytest.approx(15.51096, abs=5e-6)
    assert 1 / found.mtbf_now() == pytest.approx(0.0644705, abs=6e-8)
    assert cramer_von_mises(found, MIL) == pytest.approx(0.0910611, abs=5e-8)
    assert laplace([MIL], [300]).p_value == pytest.approx(0.02045, abs=5e-6)
    assert reverse_arrangements(np.diff([0, *MIL])).statistic == 213
    assert found.power_limits(confidence=0.9) == pytest.approx((0.505632, 0.957152), abs=5e-7)


def test_example_5_11_watched_to_its_last_failure() -> None:
    """Printed: U 2.409, β 1.588, λ 3.703e-5."""
    found = power_law(EX511, 5256, at_failure=True)
    assert found.power == pytest.approx(1.588, abs=5e-4)
    assert found.rate == pytest.approx(3.703e-5, abs=5e-9)
    assert found.unbiased == pytest.approx(1.482183, abs=5e-7)
    assert found.power_limits(confidence=0.9) == pytest.approx((1.098191, 2.032121), abs=5e-7)
    trend = laplace([EX511], [5256], at_failure=True)
    assert trend.statistic == pytest.approx(2.409, abs=5e-4)
    assert in_words(trend) == "The failures come closer together: it is getting worse (p 0.016)."
    handbook = power_law_trend(EX511, 5256, at_failure=True)
    assert handbook.statistic == pytest.approx(37.782105, abs=5e-7)
    assert handbook.leans == 1
    assert cramer_von_mises(found, EX511) == pytest.approx(0.099438, abs=5e-7)
    assert reverse_arrangements(GAPS).statistic == 191


def test_the_growth_data_of_the_package_reliability() -> None:
    times = system_growth().failures
    found = power_law(times, max(times), at_failure=True)
    assert (found.power, found.rate) == pytest.approx((0.614210, 0.423942), abs=5.1e-7)
    assert found.mtbf_now() == pytest.approx(45.8830, abs=5e-5)


def test_systems_watched_to_one_age_have_a_closed_form() -> None:
    """k systems to one T: β = N/Σ ln(T/t), λ = N/(k·T^β)."""
    rate, power = power_law_of_many([NIST[:6], NIST[6:]], [1500, 1500])
    assert power == pytest.approx(0.537229, abs=5e-7)
    assert rate == pytest.approx(10 / (2 * 1500**power), rel=1e-9)


def test_pooled_systems_lean_as_the_sum_of_their_parts() -> None:
    """By hand: (Σt − Σ nT/2)/√Σ nT²/12 = (23 − 25)/√(2·100/12 + 2·225/12)."""
    found = laplace([[3, 6], [5, 9]], [10, 15])
    assert found.statistic == pytest.approx(-2 / (2 * 100 / 12 + 2 * 225 / 12) ** 0.5, rel=1e-12)


def test_refuses_a_trend_of_nothing() -> None:
    with pytest.raises(StudyRefused, match="two failures or more"):
        laplace([[]], [10])
    with pytest.raises(StudyRefused, match="outside the time"):
        laplace([[11]], [10])


# NIST/SEMATECH e-Handbook 8.4.5.1, multipliers of the estimate at 60, 80, 90, 95 % (from memory,
# computed anew); at 0 failures the multiplier of T.
MULTIPLIERS = {
    1: ((0.3340, 4.4814), (0.2571, 9.4912), (0.2108, 19.4957), (0.1795, 39.4979)),
    2: ((0.4674, 2.4260), (0.3758, 3.7607), (0.3177, 5.6281), (0.2768, 8.2573)),
    3: ((0.5440, 1.9543), (0.4490, 2.7222), (0.3869, 3.6689), (0.3422, 4.8491)),
    5: ((0.6324, 1.6184), (0.5391, 2.0554), (0.4756, 2.5379), (0.4285, 3.0798)),
    10: ((0.7326, 1.3719), (0.6491, 1.6074), (0.5895, 1.8432), (0.5438, 2.0853)),
    20: ((0.8088, 1.2367), (0.7395, 1.3769), (0.6882, 1.5089), (0.6475, 1.6371)),
}


@pytest.mark.parametrize("failures", MULTIPLIERS)
def test_limits_of_a_mean_time(failures: int) -> None:
    for sure, (low, high) in zip((0.6, 0.8, 0.9, 0.95), MULTIPLIERS[failures], strict=True):
        found = mean_time_between(failures, 1000.0 * failures, confidence=sure)
        assert found.low == pytest.approx(1000 * low, abs=0.051)
        assert found.high == pytest.approx(1000 * high, abs=0.051)


def test_the_handbook_s_mean_time() -> None:
    """NIST 8.4.5.1: 2 failures in 800 h, 90 %: 400, 127.0690 to 2251.229."""
    found = mean_time_between(2, 800, confidence=0.9)
    assert found.estimate == 400
    assert (found.low, found.high) == pytest.approx((127.0690, 2251.229), abs=5e-4)


def test_a_mean_time_watched_to_its_last_failure() -> None:
    """T 2000, r 5, 90 %: 218.4952 to 1015.1514; watched to a time 190.2400 below."""
    to_failure = mean_time_between(5, 2000, confidence=0.9, at_failure=True)
    to_time = mean_time_between(5, 2000, confidence=0.9)
    assert (to_failure.low, to_failure.high) == pytest.approx((218.4952, 1015.1514), abs=5e-5)
    assert (to_time.low, to_time.high) == pytest.approx((190.2400, 1015.1514), abs=5e-5)


def test_a_rate_s_exact_limits() -> None:
    """3 in 1000 h: 6.186721e-4 to 8.767273e-3; 137 in 24.19893: 4.753125 to 6.692709 (R)."""
    few, many = poisson_rate(3, 1000), poisson_rate(137, 24.19893)
    assert (few.low, few.high) == pytest.approx((6.186721e-4, 8.767273e-3), rel=1e-6)
    assert (many.low, many.high) == pytest.approx((4.753125, 6.692709), abs=5e-7)


# R's poisson.test: the first is its documentation's example; the ratio's limits by Clopper-Pearson.
TWO_RATES = [
    ((11, 800.0), (21, 3011.0), 1.971488, 0.8584264, 4.2772659, 0.07966863),
    ((11, 800.0), (5, 1200.0), 3.3, 1.057019, 12.115327, 0.02243321),
    ((0, 4000.0), (5, 4000.0), 0.0, 0.0, 1.091279, 0.0625),
]


@pytest.mark.parametrize(("first", "second", "ratio", "low", "high", "p"), TWO_RATES)
def test_two_rates(
    first: tuple[int, float],
    second: tuple[int, float],
    ratio: float,
    low: float,
    high: float,
    p: float,
) -> None:
    found = compare_rates(first, second)
    assert (found.ratio, found.low, found.high) == pytest.approx((ratio, low, high), rel=1e-6)
    assert found.p_value == pytest.approx(p, rel=1e-6)


# Ten pumps of a power plant, failures and thousand hours: Gaver & O'Muircheartaigh, Technometrics
# 29 (1987); the data and the rough size of the prior (0.82 and 1.26) are from memory.
PUMPS = [5, 1, 5, 14, 3, 19, 1, 1, 4, 22]
PUMP_HOURS = [94.320, 15.720, 62.880, 125.760, 5.240, 31.440, 1.048, 1.048, 2.096, 10.480]


def test_small_groups_are_drawn_toward_the_fleet() -> None:
    found = shrink_rates(PUMPS, PUMP_HOURS)
    assert found.shape == pytest.approx(0.82, abs=5e-3)
    assert found.rate == pytest.approx(1.26, abs=1e-2)
    raw = np.array(PUMPS) / np.array(PUMP_HOURS)
    mean = found.shape / found.rate
    assert (np.abs(found.rates - mean) < np.abs(raw - mean)).all()


def test_groups_alike_by_chance_get_the_fleet_s_rate() -> None:
    found = shrink_rates([2, 2, 2, 2], [100.0, 100.0, 100.0, 100.0])
    assert found.rates == pytest.approx([0.02] * 4)
