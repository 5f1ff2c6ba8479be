"""Process charts and capability against NIST/SEMATECH e-Handbook of Statistical Methods."""

import math
import random
from dataclasses import astuple
from fractions import Fraction

import numpy as np
import pytest

from assemblies.calc.capability import (
    ChartLimits,
    capability,
    factors,
    individuals_limits,
    moving_range_sigma,
    range_constants,
    subgroup_limits,
    tripped_rules,
    trips,
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


# Mean and standard deviation of the range of n normal readings, d2 and d3, as printed in the
# tables for control charts (a public table of factors, n = 2 to 10, three places; NIST/SEMATECH
# e-Handbook, 6.3.2.1, has the same d2 to three places).
@pytest.mark.parametrize(
    ("n", "d2", "d3"),
    [
        (2, 1.128, 0.853),
        (3, 1.693, 0.888),
        (4, 2.059, 0.880),
        (5, 2.326, 0.864),
        (6, 2.534, 0.848),
        (7, 2.704, 0.833),
        (8, 2.847, 0.820),
        (9, 2.970, 0.808),
        (10, 3.078, 0.797),
    ],
)
def test_constants_of_the_range(n: int, d2: float, d3: float) -> None:
    found = range_constants(n)
    assert found == pytest.approx((d2, d3), abs=0.0006)


# d2 in closed form, derived (order statistics of a normal sample): 2/√π for two readings and
# 3/√π for three; d3² = 2 − 4/π for two.
def test_constants_of_the_range_in_closed_form() -> None:
    assert range_constants(2)[0] == pytest.approx(2 / math.sqrt(math.pi), abs=1e-6)
    assert range_constants(3)[0] == pytest.approx(3 / math.sqrt(math.pi), abs=1e-6)
    assert range_constants(2)[1] ** 2 == pytest.approx(2 - 4 / math.pi, abs=1e-5)


# The relations that NIST/SEMATECH e-Handbook, 6.3.2.1, states: A2 = 3/(d2 √n), D3 and D4 are
# 1 ∓ 3 d3/d2, D3 never below nothing.
@pytest.mark.parametrize("n", range(2, 26))
def test_factors_follow_from_the_constants(n: int) -> None:
    d2, d3 = range_constants(n)
    found = factors(n)
    assert found["A2"] * d2 * math.sqrt(n) == pytest.approx(3)
    assert found["D4"] - 1 == pytest.approx(3 * d3 / d2)
    assert found["D3"] == pytest.approx(max(0.0, 2 - found["D4"]))


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


# NIST/SEMATECH e-Handbook, 6.1.6, by its formulas: n = 30, Cp 1 → 0.743873 to 1.255639;
# Cpk 0.9 → 0.639471 to 1.160529; and the parts of the example: Cpu 0.6667, Cpl 1.3333.
def test_capability_with_thirty_readings() -> None:
    middle = capability(np.full(30, 14.0), 8, 20, sigma=2)
    assert (middle.cp_low, middle.cp_high) == pytest.approx((0.743873, 1.255639), abs=1e-6)
    off = capability(np.full(30, 14.6), 8, 20, sigma=2)
    assert off.cpk == pytest.approx(0.9)
    assert (off.cpk_low, off.cpk_high) == pytest.approx((0.639471, 1.160529), abs=1e-6)


def test_the_nearer_limit_decides() -> None:
    low = capability(np.full(50, 12.0), 8, 20, sigma=2)
    high = capability(np.full(50, 16.0), 8, 20, sigma=2)
    assert low.cpk == high.cpk == pytest.approx(4 / 6)


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
        ([0.0, -4.0, -3.5, 1.0], "Builds 2 to 3 lie outside"),
    ],
)
def test_a_rule_that_trips_is_said(means: list[float], said: str) -> None:
    sentences = tripped_rules(means, ChartLimits(0.0, -3.0, 3.0))
    assert [said in sentence for sentence in sentences] == [True]


# NIST/SEMATECH e-Handbook, 6.3.2.1: σ = R̄/d2; with equal numbers subgroup by subgroup the same.
def test_equal_subgroups_have_the_usual_limits() -> None:
    rng = np.random.default_rng(11)
    for n in (2, 3, 5):
        readings = rng.normal(24.6, 0.03, (25, n))
        means, ranges = xbar_r_limits(readings)
        each_means, each_ranges = subgroup_limits(list(readings))
        for one, other in zip(
            (*each_means, *each_ranges), (*[means] * 25, *[ranges] * 25), strict=True
        ):
            assert astuple(one) == pytest.approx(astuple(other), abs=1e-9)


def test_unequal_subgroups_worked_by_hand() -> None:
    # Ranges 2 of two and 3 of three readings: σ = (2/1.12838 + 3/1.69257)/2 = 1.77245; all five
    # readings have the mean 12; for two ± 3σ/√2 = 3.7599, for three ± 3σ/√3 = 3.0700.
    means, ranges = subgroup_limits([[11.0, 13.0], [10.5, 12.0, 13.5]])
    assert [limit.centre for limit in means] == [12.0, 12.0]
    assert [limit.upper - 12 for limit in means] == pytest.approx([3.7599, 3.0700], abs=5e-4)
    assert [limit.centre for limit in ranges] == pytest.approx([2.0, 3.0], abs=5e-4)


# A second, slow implementation in plain loops and fractions; only d2 is taken over (printed to
# four places by the design of the tables above).
D2 = {2: Fraction(11284, 10000), 3: Fraction(16926, 10000), 4: Fraction(20588, 10000)}


def slow_individuals(values: list[Fraction]) -> tuple[Fraction, Fraction, Fraction]:
    total, steps = Fraction(0), Fraction(0)
    for place, value in enumerate(values):
        total += value
        if place:
            step = value - values[place - 1]
            steps += step if step > 0 else -step
    mean, moving = total / len(values), steps / (len(values) - 1)
    return mean, mean - 3 * moving / D2[2], mean + 3 * moving / D2[2]


def slow_trips(values: list[Fraction], low: Fraction, high: Fraction) -> set[tuple[str, int]]:
    centre, found = (low + high) / 2, set()
    for start in range(len(values)):
        if (values[start] > high and not (start and values[start - 1] > high)) or (
            values[start] < low and not (start and values[start - 1] < low)
        ):
            found.add(("outside", start))
        for sign in (1, -1):
            side = 0
            while start + side < len(values) and sign * (values[start + side] - centre) > 0:
                side += 1
            begins = start == 0 or sign * (values[start - 1] - centre) <= 0
            if begins and side >= 8:
                found.add(("side", start))
            run = 1
            while (
                start + run < len(values)
                and sign * (values[start + run] - values[start + run - 1]) > 0
            ):
                run += 1
            begins = start == 0 or sign * (values[start] - values[start - 1]) <= 0
            if begins and run >= 6:
                found.add(("run", start))
    return found


def test_charts_and_rules_against_plain_loops() -> None:
    rng = random.Random(20)
    tripped = 0
    for _ in range(300):
        step, drift = rng.choice((1, 4)), rng.choice((0, 0, 1, 2))
        count = rng.randint(2, 60)
        whole = [2460 + rng.randint(-step, step) + drift * n // 4 for n in range(count)]
        slow = [Fraction(value, 100) for value in whole]
        single, _moving = individuals_limits([value / 100 for value in whole])
        mean, low, high = slow_individuals(slow)
        assert astuple(single) == pytest.approx([float(v) for v in (mean, low, high)], abs=1e-4)
        exact = ChartLimits(float(mean), float(low), float(high))
        near = any(abs(v - edge) < Fraction(1, 10**9) for v in slow for edge in (low, mean, high))
        if near:
            continue  # a value upon a line falls to either side of it by rounding
        found = {(trip.rule, trip.first) for trip in trips([float(v) for v in slow], exact)}
        assert found == slow_trips(slow, low, high)
        tripped += bool(found)
    assert tripped > 50


def test_subgroups_against_plain_loops() -> None:
    rng = random.Random(21)
    for _ in range(100):
        groups = [
            [Fraction(2460 + rng.randint(-6, 6), 100) for _ in range(rng.randint(2, 4))]
            for _ in range(rng.randint(1, 30))
        ]
        sigma = sum((max(g) - min(g)) / D2[len(g)] for g in groups) / len(groups)
        everything = [value for group in groups for value in group]
        centre = float(sum(everything) / len(everything))
        means, _ranges = subgroup_limits([[float(v) for v in group] for group in groups])
        for group, limit in zip(groups, means, strict=True):
            reach = 3 * float(sigma) / math.sqrt(len(group))
            wanted = (centre, centre - reach, centre + reach)
            assert astuple(limit) == pytest.approx(wanted, abs=1e-4)


# Simulation, seeded: how often 95 % limits hold the true Cpk when σ comes from moving ranges.
# With the degrees that such a σ is worth they hold it about as often as they say; with n − 1,
# as if it were an s, they would claim too much.
def test_limits_of_cpk_cover_about_what_they_claim() -> None:
    rng = np.random.default_rng(63)
    runs, true = 1500, (24.7 - 24.62) / (3 * 0.03)
    held = {"worth": 0, "as an s": 0}
    for _ in range(runs):
        values = rng.normal(24.62, 0.03, 30)
        sigma, degrees = moving_range_sigma(values)
        for name, free in (("worth", degrees), ("as an s", None)):
            found = capability(values, 24.5, 24.7, sigma=sigma, degrees=free)
            held[name] += found.cpk_low <= true <= found.cpk_high
    assert 0.935 <= held["worth"] / runs <= 0.975
    assert held["as an s"] / runs < 0.92


# Derived: the degrees of a σ by moving ranges, against the spread of simulated ones.
def test_degrees_of_a_moving_range_sigma_against_simulation() -> None:
    rng = np.random.default_rng(64)
    for n in (10, 26):
        values = rng.standard_normal((40_000, n))
        sigmas = np.abs(np.diff(values, axis=1)).mean(axis=1)
        simulated = 1 / (2 * (sigmas.std() / sigmas.mean()) ** 2)
        _, degrees = moving_range_sigma(values[0])
        assert degrees == pytest.approx(simulated, rel=0.03)


def test_a_steady_process_trips_nothing() -> None:
    assert tripped_rules([0.5, -0.5] * 10, ChartLimits(0.0, -3.0, 3.0)) == []


@pytest.mark.parametrize("wrong", [[], [1.0], [1.0, float("nan")]])
def test_refuses_readings_that_make_no_chart(wrong: list[float]) -> None:
    with pytest.raises(ValueError, match="two or more"):
        individuals_limits(wrong)
