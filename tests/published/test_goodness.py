"""Kinds of life side by side, against NIST/SEMATECH e-Handbook 8.4.1.3, and what a study says."""

import pytest

from scheduling.calc.life.goodness import constant_rate_height, fit_lognormal, goodness
from scheduling.calc.life.records import lives
from scheduling.calc.life.replacement import Costs
from scheduling.calc.life.study import study
from scheduling.calc.life.weibull import fit_weibull
from tests.published import life_data as data


def test_the_handbook_s_three_kinds() -> None:
    """8.4.1.3 prints AIC 154.27 (Weibull) and 154.39 (lognormal); the rest lifelines computed."""
    found = goodness(data.HANDBOOK, fit_weibull(data.HANDBOOK))
    mean, spread, height = fit_lognormal(data.HANDBOOK)
    assert (found.weibull, found.lognormal) == pytest.approx((154.27, 154.39), abs=5e-3)
    # lifelines stops a little before the top, where the likelihood agrees to its last digit.
    assert (mean, spread) == pytest.approx((6.225998, 0.908907), rel=1e-5)
    assert height == pytest.approx(-75.196271, abs=1e-5)
    assert constant_rate_height(data.HANDBOOK) == pytest.approx(-76.555690, abs=1e-5)
    assert found.exponential == pytest.approx(155.111381, abs=1e-4)
    assert found.best == "weibull"


def test_the_fans_show_no_wear() -> None:
    """Likelihood ratio of a constant rate 0.049005, p 0.825 (R)."""
    assert goodness(data.FANS, fit_weibull(data.FANS)).wear_p == pytest.approx(0.825, abs=5e-4)


COSTS = Costs(1, 5)


def test_no_failures_change_nothing() -> None:
    found = study(lives([4000.0], [0], count=[20]), COSTS)
    assert (found.fit, found.proposed, len(found.band)) == (None, None, 3)
    assert "Nothing has failed in 80,000 lived" in found.says[0]


@pytest.mark.parametrize("failures", [1, 2])
def test_one_or_two_failures_propose_nothing(failures: int) -> None:
    found = study(lives([500.0, 700.0, 900.0], [1, failures - 1, 0]), COSTS)
    assert (found.fit, found.proposed) == (None, None)
    assert "too few for an estimate" in found.says[0]


def test_six_failures_that_may_be_chance_propose_nothing() -> None:
    """Bearing cages: the shape's lower limit is 0.97."""
    found = study(data.CAGES, COSTS)
    assert found.goodness is None
    assert found.best is not None
    assert found.best.age is not None
    assert found.proposed is None
    assert found.says[-1] == "No age is proposed: it lies beyond the oldest hose that was watched."


def test_ten_failures_that_may_be_chance_propose_nothing() -> None:
    """Field data: the shape's lower limit is 0.66; dear failures bring the best age into view."""
    found = study(data.FIELD, Costs(1, 60))
    assert found.best is not None
    assert found.best.age is not None
    assert found.proposed is None
    assert found.says[-1] == "No age is proposed, because wear-out is not beyond doubt."


def test_wear_out_beyond_doubt_proposes_an_age_with_limits() -> None:
    found = study(data.COMPLETE_BEARINGS, COSTS)
    assert found.shape is not None
    assert found.shape.low > 1
    assert found.best_limits is not None
    assert found.proposed is not None
    assert found.best_limits.low <= found.proposed <= found.best_limits.high
    assert found.goodness is not None


def test_failures_at_one_age_alone_are_said_to_carry_nothing() -> None:
    found = study(lives([100.0, 100, 100, 50], [1, 1, 1, 0]), COSTS)
    assert found.fit is None
    assert "no finite estimate" in found.says[1]
