"""Likelihood-ratio limits of a Weibull life: of its shape, its scale and its B-lives.

Limits from the likelihood ratio hold what they claim in small samples, where those from a normal
approximation do not.
"""

from collections.abc import Callable
from dataclasses import dataclass
from math import exp, inf, log, log1p

import numpy as np
from scipy.optimize import brentq
from scipy.stats import chi2

from scheduling.calc.life.records import Lives
from scheduling.calc.life.weibull import Fit, Profile, Weibull, newton

_WIDEST = 60  # doublings of a bracket before a limit counts as open


@dataclass(frozen=True, slots=True)
class Limits:
    """A figure with its limits; 0 or infinity where the data leave a side open."""

    estimate: float
    low: float
    high: float


def shape_limits(group: Lives, fit: Fit, *, confidence: float = 0.95) -> Limits:
    """Limits of the shape β: where twice the drop of the profile reaches the chi-square.

    Source: Lawless (2003), 5.2.2; Meeker & Escobar, Statistical Methods for Reliability Data
    (1998), 8.3 (from memory).

    >>> from scheduling.calc.life.records import lives
    >>> from scheduling.calc.life.weibull import fit_weibull
    >>> group = lives([500] + [1000] * 20, [1] + [0] * 20)
    >>> found = shape_limits(group, fit_weibull(group))
    >>> round(found.low, 4), round(found.high, 3)
    (0.0848, 6.385)
    """
    profile = Profile.of(group)
    drop = _drop(profile.height, fit.log_likelihood, confidence)
    return _between(drop, fit.life.shape)


def scale_limits(group: Lives, fit: Fit, *, confidence: float = 0.95) -> Limits:
    """Limits of the scale η, in the ages' unit: the life by which 63.2 % have failed.

    >>> from scheduling.calc.life.records import lives
    >>> from scheduling.calc.life.weibull import fit_weibull
    >>> group = lives([100, 200, 300, 250], [1, 1, 0, 1])
    >>> found = scale_limits(group, fit_weibull(group))
    >>> found.low < found.estimate < found.high
    True
    """
    return life_limits(group, fit, -float(np.expm1(-1.0)), confidence=confidence)


def life_limits(group: Lives, fit: Fit, share: float, *, confidence: float = 0.95) -> Limits:
    """Limits of the age by which a share (0 to 1) has failed; the B10 life is `share=0.1`.

    The likelihood is written in that age and the shape, and the shape is freed at each age.
    Source: Lawless (2003), 5.2.2; Meeker & Escobar (1998), 8.3.3 (from memory).

    >>> from scheduling.calc.life.records import lives
    >>> from scheduling.calc.life.weibull import fit_weibull
    >>> group = lives([100, 200, 300, 250], [1, 1, 0, 1])
    >>> found = life_limits(group, fit_weibull(group), 0.1)
    >>> found.low < found.estimate < found.high
    True
    """
    best = fit.life.quantile(share)
    height = _LifeProfile(Profile.of(group), -log1p(-share), fit.life.shape)
    drop = _drop(height, fit.log_likelihood, confidence)
    return _between(drop, best)


class _LifeProfile:
    """The likelihood with one B-life held: the best shape is sought anew at each."""

    def __init__(self, profile: Profile, hazard: float, shape: float) -> None:
        self.profile, self.hazard, self.shape = profile, hazard, shape

    def __call__(self, age: float) -> float:
        profile, at = self.profile, log(age / self.profile.unit)

        def score(shape: float) -> tuple[float, float]:
            total, first, second = profile.sums(shape)
            grown = self.hazard * exp(-shape * at)
            r = profile.failures
            slope = r / shape + profile.failed_logs - r * at - grown * (first - at * total)
            bend = -r / shape**2 - grown * (second - 2 * at * first + at**2 * total)
            return slope, bend

        with np.errstate(over="ignore", invalid="ignore"):
            self.shape = shape = newton(score, self.shape)
            return self._height(shape, at)

    def _height(self, shape: float, at: float) -> float:
        profile, r = self.profile, self.profile.failures
        grown = self.hazard * exp(-shape * at) * profile.sum_of_powers(shape)
        known = r * log(shape) + (shape - 1) * profile.failed_logs - r * log(profile.unit)
        return known - r * (shape * at - log(self.hazard)) - grown


def _drop(height: Callable[[float], float], top: float, confidence: float) -> Callable[..., float]:
    """What is left of the allowed drop at a value: above zero inside the limits."""
    allowed = float(chi2.ppf(confidence, 1)) / 2
    return lambda value: height(value) - top + allowed


def _between(left: Callable[[float], float], best: float) -> Limits:
    """The limits either side of the best value, each sought by steps that grow."""
    return Limits(best, _side(left, best, 0.8), _side(left, best, 1.25))


def _side(left: Callable[[float], float], best: float, factor: float) -> float:
    inside, step = best, factor
    for _ in range(_WIDEST):
        outside = inside * step
        if left(outside) < 0:
            return float(brentq(left, min(inside, outside), max(inside, outside), rtol=1e-10))
        inside, step = outside, step * step if 1e-3 < step < 1e3 else step
    return 0.0 if factor < 1 else inf


def expected_failures(life: Weibull, group: Lives, ahead: float) -> float:
    """How many of the lives still running fail within `ahead` more of their age, on average.

    The sum over running lives of 1 − R(a + D)/R(a).

    >>> from scheduling.calc.life.records import lives
    >>> round(expected_failures(Weibull(1.0, 1000.0), lives([5.0, 70.0], [0, 0]), 1000.0), 4)
    1.2642
    """
    running = ~group.failed
    age = group.exit[running]
    grown = ((age + ahead) / life.scale) ** life.shape - (age / life.scale) ** life.shape
    return float(group.count[running] @ -np.expm1(-grown))
