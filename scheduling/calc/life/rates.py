"""Failure rates: exact limits, one against another, and small groups drawn toward the fleet."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.optimize import minimize
from scipy.special import gammaln
from scipy.stats import binomtest, chi2

from scheduling.calc.life.records import Floats, StudyRefused


@dataclass(frozen=True, slots=True)
class Rate:
    """Failures over a time, per unit of it, with limits."""

    events: int
    exposure: float
    rate: float
    low: float
    high: float


def poisson_rate(events: int, exposure: float, *, confidence: float = 0.95) -> Rate:
    """A rate with exact limits: χ²(2r)/2T and χ²(2r + 2)/2T.

    `exposure` is the time at risk (machine hours). Source: Garwood, Biometrika 28 (1936) (from
    memory). Raises StudyRefused: no_exposure.

    >>> found = poisson_rate(3, 1000.0)
    >>> round(found.low, 9), round(found.high, 8)
    (0.000618672, 0.00876727)
    """
    if exposure <= 0 or events < 0:
        raise StudyRefused("no_exposure", "A rate needs time at risk, above 0.")
    tail = (1 - confidence) / 2
    low = float(chi2.ppf(tail, 2 * events)) / (2 * exposure) if events else 0.0
    high = float(chi2.ppf(1 - tail, 2 * events + 2)) / (2 * exposure)
    return Rate(events, exposure, events / exposure, low, high)


@dataclass(frozen=True, slots=True)
class MeanTime:
    """The mean time between failures with limits; `estimate` is None without a failure."""

    estimate: float | None
    low: float
    high: float


def mean_time_between(
    failures: int, hours: float, *, confidence: float = 0.95, at_failure: bool = False
) -> MeanTime:
    """T/r with limits 2T/χ²: 2r + 2 degrees below, 2r above; 2r in both if watched to a failure.

    Without a failure only a lower, one-sided bound stands: T/−ln(1 − confidence).
    Source: NIST/SEMATECH e-Handbook, 8.4.5.1. Raises StudyRefused: no_exposure.

    >>> found = mean_time_between(2, 800.0, confidence=0.9)
    >>> found.estimate, round(found.low, 3), round(found.high, 3)
    (400.0, 127.069, 2251.229)
    """
    if hours <= 0 or failures < 0:
        raise StudyRefused("no_exposure", "A mean time needs hours at risk, above 0.")
    if failures == 0:
        return MeanTime(None, hours / -float(np.log1p(-confidence)), float("inf"))
    tail = (1 - confidence) / 2
    below = 2 * failures if at_failure else 2 * failures + 2
    low = 2 * hours / float(chi2.ppf(1 - tail, below))
    high = 2 * hours / float(chi2.ppf(tail, 2 * failures))
    return MeanTime(hours / failures, low, high)


@dataclass(frozen=True, slots=True)
class Comparison:
    """One rate over another: the ratio with exact limits, and the p-value of their being equal."""

    ratio: float
    low: float
    high: float
    p_value: float


def compare_rates(
    first: tuple[int, float], second: tuple[int, float], *, confidence: float = 0.95
) -> Comparison:
    """Two Poisson rates, each (events, exposure): given their sum the first count is binomial.

    Source: Przyborowski & Wilenski, Biometrika 31 (1940) (from memory); the same as R's
    poisson.test. Raises StudyRefused: no_exposure, no_events.

    >>> found = compare_rates((11, 800), (21, 3011))
    >>> round(found.ratio, 6), round(found.p_value, 6)
    (1.971488, 0.079669)
    """
    (x1, t1), (x2, t2) = first, second
    if t1 <= 0 or t2 <= 0:
        raise StudyRefused("no_exposure", "A rate needs time at risk, above 0.")
    if x1 + x2 == 0:
        raise StudyRefused("no_events", "Neither has failed yet: there is nothing to compare.")
    test = binomtest(x1, x1 + x2, t1 / (t1 + t2))
    limits = test.proportion_ci(confidence, method="exact")
    ratio = (x1 / t1) / (x2 / t2) if x2 else float("inf")
    low, high = (_odds(share) * t2 / t1 for share in (limits.low, limits.high))
    return Comparison(ratio, low, high, float(test.pvalue))


def _odds(share: float) -> float:
    return share / (1 - share) if share < 1 else float("inf")


@dataclass(frozen=True, slots=True)
class Shrunk:
    """Rates of groups drawn toward the fleet's, shape (groups,), and the prior they share.

    A group weighs exposure/(exposure + `rate`) by itself. Where the groups differ no more than
    chance explains, `shape` is infinite and each rate is the fleet's.
    """

    rates: Floats
    shape: float
    rate: float


def shrink_rates(events: ArrayLike, exposures: ArrayLike) -> Shrunk:
    """Rates by empirical Bayes: a gamma prior fitted to all groups' counts, then (a + x)/(b + t).

    Arrays of shape (groups,), three groups or more. Source: Gaver & O'Muircheartaigh,
    Technometrics 29 (1987) (from memory). Raises StudyRefused: too_few_groups, no_exposure,
    no_events.

    >>> found = shrink_rates([5, 1, 40], [100.0, 100.0, 100.0])
    >>> bool(found.rates[1] > 0.01), bool(found.rates[2] < 0.4)
    (True, True)
    """
    counts, times = np.asarray(events, dtype=np.float64), np.asarray(exposures, dtype=np.float64)
    if len(counts) < 3:
        raise StudyRefused("too_few_groups", "Three groups or more can lend each other strength.")
    if (times <= 0).any():
        raise StudyRefused("no_exposure", "A rate needs time at risk, above 0.")
    if counts.sum() == 0:
        raise StudyRefused("no_events", "Nothing has failed yet: there is nothing to compare.")
    fleet = float(counts.sum() / times.sum())
    if _scatter(counts, times, fleet) <= 0:
        return Shrunk(np.full(len(counts), fleet), float("inf"), float("inf"))
    likelihood = _marginal(counts, times)
    found = minimize(
        lambda at: -likelihood(float(np.exp(at[0])), float(np.exp(at[1]))),
        np.array([0.0, -np.log(fleet)]),
        method="Nelder-Mead",
        options={"xatol": 1e-9, "fatol": 1e-11, "maxiter": 5000},
    )
    shape, rate = (float(value) for value in np.exp(found.x))
    if shape > 1e6:
        return Shrunk(np.full(len(counts), fleet), float("inf"), float("inf"))
    return Shrunk((shape + counts) / (rate + times), shape, rate)


def _scatter(counts: Floats, times: Floats, fleet: float) -> float:
    """How much the counts scatter beyond chance: Σ (x − λt)² − x."""
    return float(((counts - fleet * times) ** 2 - counts).sum())


def _marginal(counts: Floats, times: Floats) -> Callable[[float, float], float]:
    """The log likelihood of the counts under a gamma prior (negative binomial), less what no
    prior changes, as a function of its shape and rate. Equal counts are weighed together."""
    values, many = np.unique(counts, return_counts=True)

    def at(shape: float, rate: float) -> float:
        logs = np.log(rate + times)
        whole = float(many @ gammaln(shape + values)) - len(counts) * float(gammaln(shape))
        prior = shape * (len(counts) * float(np.log(rate)) - float(logs.sum()))
        return whole + prior - float(counts @ logs)

    return at
