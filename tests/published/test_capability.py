"""Process charts and capability against NIST/SEMATECH e-Handbook of Statistical Methods."""

import numpy as np
import pytest

from assemblies.calc.capability import (
    ChartLimits,
    capability,
    factors,
    individuals_limits,
    range_constants,
    tripped_rules,
    xbar_r_limits,
)


# NIST/SEMATECH e-Handbook, 6.3.2.1, table of factors for the mean and range charts (printed to
# three places; the handbook prints D4(5) = 2.115, the exact value is 2.1145).
@pytest.mark.parametrize(
    ("n", "a2", "d3", "d4"),
    [
        (2, 1.880, 0, 3.267),
        (3, 1.023, 0, 2.575),
        (4, 0.729, 0, 2.282),
        (5, 0.577, 0, 2.115),
        (6, 0.483, 0, 2.004),
        (7, 0.419, 0.076, 1.924),
        (8, 0.373, 0.136, 1.864),
        (9, 0.337, 0.184, 1.816),
        (10, 0.308, 0.223, 1.777),
    ],
)
def test_factors_of_the_handbook(n: int, a2: float, d3: float, d4: float) -> None:
    found = factors(n)
    assert found["A2"] == pytest.approx(a2, abs=0.0006)
    assert found["D3"] == pytest.approx(d3, abs=0.0006)
    assert found["D4"] == pytest.approx(d4, abs=0.0006)


# A slow, different way: the range of simulated normal readings.
def test_range_constants_against_simulation() -> None:
    rng = np.random.default_rng(7)
    for n in (2, 3, 5):
        ranges = np.ptp(rng.standard_normal((400_000, n)), axis=1)
        d2, d3 = range_constants(n)
        assert ranges.mean() == pytest.approx(d2, abs=0.006)
        assert ranges.std() == pytest.approx(d3, abs=0.006)


# NIST/SEMATECH e-Handbook, 6.3.2.2: ten flow rates; printed with d2 = 1.128 as 55.8041 and
# 45.8159, with the exact d2 of 1.12838 they are 55.80241 and 45.81759.
def test_individuals_example_of_the_handbook() -> None:
    flow = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]
    single, moving = individuals_limits(flow)
    assert single.centre == pytest.approx(50.81)
    assert moving.centre == pytest.approx(1.877778, abs=5e-7)
    assert single.upper == pytest.approx(55.80241, abs=5e-5)
    assert single.lower == pytest.approx(45.81759, abs=5e-5)
    assert moving.upper == pytest.approx(6.1347, abs=2e-3)


# NIST/SEMATECH e-Handbook, 6.1.6: limits 8 and 20, mean 16, s 2 → Cp 1.0, Cpk 0.6667; the
# confidence limits for n = 50 computed by the handbook's formulas.
def test_capability_example_of_the_handbook() -> None:
    readings = np.full(50, 16.0)
    found = capability(readings, 8, 20, sigma=2)
    assert found.cp == pytest.approx(1.0)
    assert found.cpk == pytest.approx(0.6667, abs=5e-5)
    assert (found.cp_low, found.cp_high) == pytest.approx((0.802482, 1.197126), abs=1e-6)
    assert (found.cpk_low, found.cpk_high) == pytest.approx((0.505551, 0.827782), abs=1e-6)


def test_limits_of_subgroups_worked_by_hand() -> None:
    # Means 11 and 13, ranges 2 and 4: centre 12, mean range 3, A2(2) = 1.88 → 12 ± 5.64.
    means, ranges = xbar_r_limits([[10.0, 12.0], [11.0, 15.0]])
    assert (means.lower, means.upper) == pytest.approx((6.36, 17.64), abs=5e-3)
    assert (ranges.centre, ranges.lower) == (3.0, 0.0)
    assert ranges.upper == pytest.approx(9.80, abs=5e-3)


@pytest.mark.parametrize(
    ("means", "said"),
    [
        ([1.0] * 8, "Eight builds in a row lie above"),
        ([-1.0] * 9, "Eight builds in a row lie below"),
        ([-2.0, -1.0, 0.5, 1.0, 1.5, 2.0], "Six builds in a row rise"),
        ([2.0, 1.0, 0.5, -1.0, -1.5, -2.0], "Six builds in a row fall"),
        ([0.0, 4.0], "Build 2 lies outside"),
    ],
)
def test_a_rule_that_trips_is_said(means: list[float], said: str) -> None:
    sentences = tripped_rules(means, ChartLimits(0.0, -3.0, 3.0))
    assert [said in sentence for sentence in sentences] == [True]


def test_a_steady_process_trips_nothing() -> None:
    assert tripped_rules([0.5, -0.5] * 10, ChartLimits(0.0, -3.0, 3.0)) == []


@pytest.mark.parametrize("wrong", [[], [1.0], [1.0, float("nan")]])
def test_refuses_readings_that_make_no_chart(wrong: list[float]) -> None:
    with pytest.raises(ValueError, match="two or more"):
        individuals_limits(wrong)
