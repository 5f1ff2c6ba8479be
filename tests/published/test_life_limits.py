"""Limits of lives and what few failures allow, against publications and surpyval."""

import pytest
import surpyval

from scheduling.calc.life.limits import (
    expected_failures,
    life_limits,
    scale_limits,
    shape_limits,
)
from scheduling.calc.life.records import Lives, lives
from scheduling.calc.life.small_samples import (
    assumed_band,
    assumed_shape,
    fit_common_shape,
    shape_unbiased,
    zero_failure_bound,
)
from scheduling.calc.life.weibull import fit_weibull
from tests.published import life_data as data

# Likelihood-ratio limits at 95 %, computed by a plain profile in R and with scipy; no text prints
# them for these sets. Shape; B10; B1.
LIMITS = {
    "fans": ((0.605974, 1.657941), (1420.25, 5662.48), (37.25, 1064.77)),
    "bearings": ((1.504146, 2.791535), (16.2884, 40.7646), (3.49598, 17.25322)),
    "handbook": ((0.905645, 2.885738), (59.8546, 271.9495), (4.8187, 113.6368)),
    "cages": ((0.970932, 3.579538), (2094.28, 22144.43), (862.24, 2457.27)),
    "field": ((0.655260, 1.818570), (5947.56, 38441.54), (189.00, 9491.60)),
}
B10 = {
    "fans": 3137.2408,
    "bearings": 28.069414,
    "handbook": 164.022439,
    "cages": 3903.1267,
    "field": 19170.05,
}
RATIO = 1e-3


@pytest.mark.parametrize("name", LIMITS)
def test_limits_of_shape_and_early_lives(name: str) -> None:
    group = data.SETS[name]
    fit = fit_weibull(group)
    shape = shape_limits(group, fit)
    tenth, first = life_limits(group, fit, 0.1), life_limits(group, fit, 0.01)
    assert (shape.low, shape.high) == pytest.approx(LIMITS[name][0], rel=RATIO)
    assert (tenth.low, tenth.high) == pytest.approx(LIMITS[name][1], rel=RATIO)
    assert (first.low, first.high) == pytest.approx(LIMITS[name][2], rel=RATIO)
    assert tenth.estimate == pytest.approx(B10[name], rel=1e-6)


def test_the_scale_s_limits_are_those_of_the_life_that_632_in_1000_fail_by() -> None:
    """By hand: at each limit of η the profile has dropped by half the chi-square, 1.920729."""
    group = data.HANDBOOK
    fit = fit_weibull(group)
    found = scale_limits(group, fit)
    for scale in (found.low, found.high):
        best = max(_height(group, shape / 1000, scale) for shape in range(500, 4000))
        assert fit.log_likelihood - best == pytest.approx(1.920729, abs=1e-5)


def _height(group: Lives, shape: float, scale: float) -> float:
    from scheduling.calc.life.small_samples import log_likelihood
    from scheduling.calc.life.weibull import Weibull

    return log_likelihood(Weibull(shape, scale), group)


def test_limits_of_one_failure_in_twenty_one() -> None:
    group = lives([500] + [1000] * 20, [1] + [0] * 20)
    found = shape_limits(group, fit_weibull(group))
    assert (found.low, found.high) == pytest.approx((0.0848, 6.385), rel=1e-3)


def test_failures_to_be_expected_from_the_running_ones() -> None:
    """Fans: 2.083218 in the next 1000 h, 4.114691 in 2000 h; computed with two libraries."""
    life = fit_weibull(data.FANS).life
    assert expected_failures(life, data.FANS, 1000) == pytest.approx(2.083218, abs=1e-6)
    assert expected_failures(life, data.FANS, 2000) == pytest.approx(4.114691, abs=1e-6)


# Assumed shape, lower bound (one-sided) and B10 of the bound: Nelson (1985), Abernethy, IEC 61649
# (from memory), computed with surpyval's weibayes. Exits, failed, shape, confidence, scale, bound.
REDESIGNED = lives([1600, 2900, 3100], [0, 0, 0])
HOSES = lives([4000, 2500, 6000], [0, 0, 0], count=[8, 12, 5])
ONE_FAILED = lives([4000, 2500, 6000, 3100], [0, 0, 0, 1], count=[8, 12, 5, 1])
ASSUMED = [
    (REDESIGNED, 3.6, 0.90, None, 2929.7989, None),
    (REDESIGNED, 3.6, 0.95, None, 2723.2740, None),
    (REDESIGNED, 3.6, 0.50, None, 4089.4833, None),
    (REDESIGNED, 2.0, 0.90, None, 2989.6121, None),
    (data.CAGES, 1.5, 0.95, 28982.1567, 18419.2449, 4108.8827),
    (data.CAGES, 2.0, 0.95, 12320.3366, 8769.5724, 2846.5404),
    (data.CAGES, 3.0, 0.95, 5408.9505, 4312.0478, 2036.6178),
    (HOSES, 2.0, 0.90, None, 12897.0844, 4186.3013),
    (HOSES, 1.5, 0.90, None, 18614.1699, 4152.3657),
    (HOSES, 3.0, 0.90, None, 9176.8599, 4334.3109),
    (ONE_FAILED, 2.0, 0.90, 19814.3887, 10046.6552, 3261.0724),
]


@pytest.mark.parametrize(("group", "shape", "sure", "scale", "low", "tenth"), ASSUMED)
def test_a_scale_under_an_assumed_shape(
    group: Lives,
    shape: float,
    sure: float,
    scale: float | None,
    low: float,
    tenth: float | None,
) -> None:
    found = assumed_shape(group, shape, confidence=sure)
    assert found.scale_low == pytest.approx(low, rel=1e-7)
    assert found.scale == (None if scale is None else pytest.approx(scale, rel=1e-7))
    if tenth is not None:
        assert found.b_life_low(0.1) == pytest.approx(tenth, rel=1e-7)


def test_agrees_with_surpyval_under_an_assumed_shape() -> None:
    group, shape = data.CAGES, 2.0
    censored, many = (~group.failed).astype(int), group.count.astype(int)
    model = surpyval.weibayes(  # type: ignore[attr-defined]  # not in its __all__
        group.exit, c=censored, n=many, beta=shape
    )
    assert model.params[0] == pytest.approx(assumed_shape(group, shape).scale_low, rel=1e-6)


def test_the_band_holds_three_shapes_side_by_side() -> None:
    assert [one.shape for one in assumed_band(HOSES)] == [1.5, 2.0, 3.0]


def test_a_shape_that_two_groups_share() -> None:
    """Bearings and handbook: 2.001216, scales 81.00838 and 580.6813 (R survreg), p 0.5377."""
    found = fit_common_shape([data.COMPLETE_BEARINGS, data.HANDBOOK])
    assert found.shape == pytest.approx(2.001216, rel=1e-6)
    assert found.scales == pytest.approx((81.00838, 580.6813), rel=1e-6)
    assert found.log_likelihood == pytest.approx(-189.0158, abs=5e-5)
    assert (found.statistic, found.p_value) == pytest.approx((0.3797845, 0.5377), rel=1e-4)


def test_the_bound_without_a_failure() -> None:
    """NIST/SEMATECH e-Handbook 8.4.5.1, r = 0: 1000 h, 434.2945 at 90 %, 333.8082 at 95 %."""
    group = lives([1000.0], [0])
    assert zero_failure_bound(group, confidence=0.9) == pytest.approx(434.2945, abs=5e-5)
    assert zero_failure_bound(group) == pytest.approx(333.8082, abs=5e-5)


@pytest.mark.parametrize(("failures", "printed"), [(5, 0.694), (10, 0.858), (20, 0.932)])
def test_the_bias_of_a_shape_in_a_small_sample(failures: int, printed: float) -> None:
    """Ross (1994), from memory; within 0.006 of 3000 simulated samples a size."""
    assert shape_unbiased(1.0, failures) == pytest.approx(printed, abs=5e-4)
