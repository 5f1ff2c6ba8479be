"""The best age to change at, against a worked example, exact cases and the package reliability."""

import warnings
from math import inf, sqrt

import pytest

from scheduling.calc.life.limits import Limits
from scheduling.calc.life.replacement import (
    Costs,
    balance_age,
    best_age,
    best_age_limits,
    best_age_of_any,
    cost_rate,
    minimal_repair_age,
    penalty,
)
from scheduling.calc.life.weibull import Weibull, fit_weibull
from tests.published import life_data as data

LIFE, COSTS = Weibull(2.5, 1000.0), Costs(1, 5)
BEST, RATE = 493.04695760, 0.0034620427388


def test_the_worked_example() -> None:
    """Cp 1, Cf 5, β 2.5, η 1000: 493.0470 (a textbook's worked example, from memory)."""
    found = best_age(LIFE, COSTS)
    assert found.age == pytest.approx(493.0470, abs=5e-5)
    assert found.rate == pytest.approx(RATE, rel=1e-11)


def test_at_the_best_age_the_marginal_cost_is_the_mean_cost() -> None:
    """g* = (Cf − Cp)·h(T*): the condition that the best age solves."""
    age = best_age(LIFE, COSTS).age
    assert age is not None
    assert cost_rate(LIFE, COSTS, age) == pytest.approx(4 * LIFE.hazard(age), rel=1e-9)


def test_agrees_with_the_package_reliability() -> None:
    """It documents 493.19 and 0.0035: the least of 10 000 ages up to 3η, so to 0.1 % and 1e-6."""
    import matplotlib as mpl

    mpl.use("Agg")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from reliability.Repairable_systems import optimal_replacement_time

        theirs = optimal_replacement_time(
            cost_PM=1,
            cost_CM=5,
            weibull_alpha=1000,
            weibull_beta=2.5,
            q=0,
            show_time_plot=False,
            show_ratio_plot=False,
            print_results=False,
        )
    assert pytest.approx(BEST, rel=1e-3) == theirs.ORT
    assert theirs.min_cost == pytest.approx(RATE, abs=1e-6)


# η 1000, Cp 1: best age and saving over running to failure, exact to the digits by two ways
# (bracketing with the incomplete gamma function, and adaptive quadrature).
EXACT = [
    (1.5, 2, 2174.6414, 0.0016),
    (1.5, 5, 675.4920, 0.1097),
    (1.5, 10, 378.1445, 0.2506),
    (2.0, 2, 1090.7970, 0.0333),
    (2.0, 5, 510.6552, 0.2759),
    (2.0, 10, 336.4512, 0.4633),
    (2.5, 2, 883.6017, 0.0788),
    (2.5, 5, 493.0470, 0.3857),
    (2.5, 10, 354.5744, 0.5785),
    (3.0, 2, 810.3420, 0.1204),
    (3.0, 5, 502.6096, 0.4586),
    (3.0, 10, 382.4555, 0.6473),
    (4.0, 2, 766.1132, 0.1849),
    (4.0, 5, 538.4021, 0.5473),
    (4.0, 10, 439.0972, 0.7237),
]


@pytest.mark.parametrize(("shape", "failure", "age", "saving"), EXACT)
def test_best_ages(shape: float, failure: float, age: float, saving: float) -> None:
    life, costs = Weibull(shape, 1000.0), Costs(1, failure)
    found = balance_age(life, costs)
    assert found == pytest.approx(age, abs=5e-5)
    assert found is not None
    kept = 1 - cost_rate(life, costs, found) / cost_rate(life, costs, inf)
    assert kept == pytest.approx(saving, abs=5.1e-5)


@pytest.mark.parametrize(
    ("shape", "rates"),
    [(2.0, (2.181594, 4.085242, 6.056121)), (3.0, (1.969963, 3.031397, 3.949350))],
)
def test_least_cost_rates(shape: float, rates: tuple[float, ...]) -> None:
    found = [best_age(Weibull(shape, 1000.0), Costs(1, cost)).rate for cost in (2, 5, 10)]
    assert [1000 * rate for rate in found] == pytest.approx(rates, abs=5e-7)


def test_near_the_limit_nothing_overflows() -> None:
    assert balance_age(Weibull(1.1, 1000.0), COSTS) == pytest.approx(5130.8217, abs=5e-5)
    assert best_age(Weibull(1.1, 1000.0), COSTS).age is None
    assert best_age(Weibull(1.001, 1000.0), COSTS).age is None


@pytest.mark.parametrize(("shape", "failure"), [(1.0, 5), (0.8, 5), (2.5, 1), (2.5, 0.5)])
def test_run_to_failure_where_changing_early_can_t_pay(shape: float, failure: float) -> None:
    found = best_age(Weibull(shape, 1000.0), Costs(1, failure))
    assert found.age is None
    assert found.rate == pytest.approx(failure / Weibull(shape, 1000.0).mean, rel=1e-12)


def test_no_age_is_proposed_from_the_fans() -> None:
    """Nelson's fans show no wear: the saving at any age stays below one in a hundred."""
    assert best_age(fit_weibull(data.FANS).life, Costs(1, 5)).age is None


def test_a_life_spread_evenly_has_a_rational_answer() -> None:
    """Life even on (0, 1000): T* = 500 and g* = 0.008 exactly, by hand."""
    age, rate = best_age_of_any(lambda t: 1 - t / 1000, COSTS, 1000)
    assert age == pytest.approx(1000 * (-1 + sqrt(1 + 2 * 4)) / 4, abs=1e-3)
    assert rate == pytest.approx(0.008, abs=1e-9)


def test_another_way_to_the_best_age() -> None:
    age, rate = best_age_of_any(LIFE.reliability, COSTS, 3000)
    assert (age, rate) == pytest.approx((BEST, RATE), rel=1e-5)


# Share by which the change is moved, cost rate there, penalty; integrals of the marginal cost.
MOVED = [
    (-0.2, 0.00357634, 0.049456),
    (-0.1, 0.00348753, 0.012586),
    (0.1, 0.00348288, 0.013013),
    (0.2, 0.00353818, 0.052875),
    (0.5, 0.00383327, 0.345265),
]


@pytest.mark.parametrize(("share", "rate", "cost"), MOVED)
def test_what_moving_a_change_costs(share: float, rate: float, cost: float) -> None:
    moved = BEST * (1 + share)
    assert cost_rate(LIFE, COSTS, moved) == pytest.approx(rate, abs=5e-9)
    assert penalty(LIFE, COSTS, BEST, moved) == pytest.approx(cost, abs=5e-7)


def test_mending_in_place() -> None:
    """Barlow & Hunter's minimal repair, from memory; 446.6583884 by hand."""
    assert minimal_repair_age(LIFE, 1, 5) == pytest.approx(446.6583884, abs=5e-8)


def test_the_best_age_is_open_above_where_the_shape_may_be_one() -> None:
    found = best_age_limits(Limits(1.6, 0.9, 2.6), lambda shape: 1000.0, COSTS)
    assert found.high == inf
    assert found.low < found.estimate
