"""Process charts and capability of measured crimp diameters.

Limits are shown from 25 builds on; before that, readings and drift only. Formulas and constants:
NIST/SEMATECH e-Handbook of Statistical Methods, sections 6.1.6 and 6.3.2. The constants are
computed here from the normal distribution of the range, and checked against the printed ones.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from math import pi, sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import integrate, stats

BUILDS_FOR_LIMITS = 25
Floats = NDArray[np.float64]


@dataclass(frozen=True)
class ChartLimits:
    """Centre line and limits of one chart, in the unit of the readings."""

    centre: float
    lower: float
    upper: float


@dataclass(frozen=True)
class Capability:
    """Capability indices with two-sided confidence limits; n readings or subgroup means."""

    n: int
    cp: float
    cp_low: float
    cp_high: float
    cpk: float
    cpk_low: float
    cpk_high: float


@cache
def range_constants(n: int) -> tuple[float, float]:
    """Mean d2 and standard deviation d3 of the range of n standard normal readings, 2 ≤ n ≤ 25.

    Dimensionless. By numerical integration of the range's distribution.

    >>> d2, d3 = range_constants(3)
    >>> round(d2, 4), round(d3, 4)
    (1.6926, 0.8884)
    """
    if not 2 <= n <= 25:
        raise ValueError("A subgroup has 2 to 25 readings.")
    widths = np.linspace(0, 12, 1201)
    above = 1 - range_probability(widths, n)
    mean = float(integrate.simpson(above, x=widths))
    square = float(integrate.simpson(2 * widths * above, x=widths))
    return mean, sqrt(square - mean**2)


def range_probability(widths: ArrayLike, n: int) -> Floats:
    """Probability that the range of n standard normal readings is at most each width, shape (m,).

    n ∫ φ(x) (Φ(x + w) − Φ(x))ⁿ⁻¹ dx by Simpson's rule. The 95 % point of two readings is 1.96√2.

    >>> round(float(range_probability([2.7718], 2)[0]), 4)
    0.95
    """
    x = np.linspace(-9, 9, 1801)
    inside = stats.norm.cdf(x + np.asarray(widths, dtype=float)[:, None]) - stats.norm.cdf(x)
    density = n * stats.norm.pdf(x) * inside ** (n - 1)
    return np.asarray(integrate.simpson(density, x=x, axis=1), dtype=np.float64)


def factors(n: int) -> dict[str, float]:
    """The chart factors A2, D3 and D4 for subgroups of n: 3/(d2√n), 1 ∓ 3·d3/d2.

    >>> {name: round(value, 4) for name, value in factors(3).items()}
    {'A2': 1.0233, 'D3': 0.0, 'D4': 2.5746}
    """
    d2, d3 = range_constants(n)
    return {
        "A2": 3 / (d2 * sqrt(n)),
        "D3": max(0.0, 1 - 3 * d3 / d2),
        "D4": 1 + 3 * d3 / d2,
    }


def xbar_r_limits(subgroups: ArrayLike) -> tuple[ChartLimits, ChartLimits]:
    """Limits of the mean and of the range chart for readings of shape (builds, n), n ≥ 2.

    Source: NIST/SEMATECH e-Handbook, 6.3.2.1.

    >>> means, ranges = xbar_r_limits([[1.0, 3.0], [2.0, 4.0]])
    >>> means.centre, ranges.centre
    (2.5, 2.0)
    """
    readings = _finite(subgroups, 2)
    means, ranges = readings.mean(axis=1), np.ptp(readings, axis=1)
    factor, mean, spread = factors(readings.shape[1]), float(means.mean()), float(ranges.mean())
    return (
        ChartLimits(mean, mean - factor["A2"] * spread, mean + factor["A2"] * spread),
        ChartLimits(spread, factor["D3"] * spread, factor["D4"] * spread),
    )


def subgroup_limits(
    subgroups: Sequence[ArrayLike],
) -> tuple[list[ChartLimits], list[ChartLimits]]:
    """Limits of means and of ranges where subgroups differ in number: one pair for each of them.

    Parameters: k subgroups of n_i ≥ 2 readings. The spread within is σ = mean of R_i / d2(n_i);
    the centre is the mean of all readings; limits of a mean are ± 3σ/√n_i, of a range σ·d2·D3
    and σ·d2·D4 for its own n_i. With equal n these are the usual X̄ and R limits.
    Raises ValueError where a subgroup has under two readings. Source: NIST/SEMATECH e-Handbook,
    6.3.2.1 (σ = R̄/d2); for unequal numbers derived from it, subgroup by subgroup.

    >>> means, ranges = subgroup_limits([[1.0, 3.0], [2.0, 4.0]])
    >>> means[0].centre, round(ranges[0].centre, 9)
    (2.5, 2.0)
    """
    groups = [_finite(group, 1) for group in subgroups]
    sigma = float(np.mean([np.ptp(group) / range_constants(len(group))[0] for group in groups]))
    centre = float(np.concatenate(groups).mean())
    means, ranges = [], []
    for n in (len(group) for group in groups):
        reach, d2, factor = 3 * sigma / sqrt(n), range_constants(n)[0], factors(n)
        means.append(ChartLimits(centre, centre - reach, centre + reach))
        usual = sigma * d2
        ranges.append(ChartLimits(usual, factor["D3"] * usual, factor["D4"] * usual))
    return means, ranges


def moving_range_sigma(readings: ArrayLike) -> tuple[float, float]:
    """Standard deviation by the mean moving range, and how many degrees of freedom it is worth.

    Parameters: readings of shape (n,), n ≥ 2, in order. σ = mean |x_i+1 − x_i| / d2(2), in the
    readings' unit. Its relative variance v follows from the moments of neighbouring moving
    ranges of normal readings; an s of 1/(2v) degrees of freedom is as sure.
    Source: σ by NIST/SEMATECH e-Handbook, 6.3.2.2; degrees derived.

    >>> sigma, degrees = moving_range_sigma([1.0, 2.0] * 13)
    >>> round(sigma, 4), round(degrees, 1)
    (0.8862, 15.3)
    """
    values = _finite(readings, 1)
    steps = len(values) - 1
    sigma = float(np.abs(np.diff(values)).mean()) / range_constants(2)[0]
    own, beside = 2 - 4 / pi, (sqrt(12) + pi / 3 - 4) / pi
    relative = (steps * own + 2 * (steps - 1) * beside) / (steps**2 * 4 / pi)
    return sigma, 1 / (2 * relative)


def individuals_limits(readings: ArrayLike) -> tuple[ChartLimits, ChartLimits]:
    """Limits of the chart of individuals and of moving ranges, readings of shape (n,), n ≥ 2.

    Uses the exact d2 of two readings (1.12838), not the printed 1.128.
    Source: NIST/SEMATECH e-Handbook, 6.3.2.2.

    >>> single, moving = individuals_limits([1.0, 2.0, 1.0])
    >>> moving.centre
    1.0
    """
    values = _finite(readings, 1)
    spread = float(np.abs(np.diff(values)).mean())
    d2, _ = range_constants(2)
    mean, reach = float(values.mean()), 3 * spread / d2
    return (
        ChartLimits(mean, mean - reach, mean + reach),
        ChartLimits(spread, 0.0, factors(2)["D4"] * spread),
    )


def capability(
    readings: ArrayLike,
    lower: float,
    upper: float,
    *,
    sigma: float,
    degrees: float | None = None,
    confidence: float = 0.95,
) -> Capability:
    """Cp and Cpk of readings, shape (n,), between two limits, with confidence limits.

    `sigma` is the standard deviation, in the readings' unit, and `degrees` what it is worth: n − 1
    for an s, less for a σ by ranges (`moving_range_sigma`).
    Cp limits by chi-square, Cpk limits by the normal approximation.
    Source: NIST/SEMATECH e-Handbook, 6.1.6, which has n − 1 for the degrees.
    Raises ValueError for sigma ≤ 0 or lower ≥ upper.

    >>> round(capability([16.0] * 50, 8, 20, sigma=2).cpk, 4)
    0.6667
    """
    values = _finite(readings, 1)
    if sigma <= 0 or lower >= upper:
        raise ValueError("Capability needs a spread above zero and a lower limit below the upper.")
    n, mean, tail = len(values), float(values.mean()), (1 - confidence) / 2
    free = n - 1 if degrees is None else degrees
    cp = (upper - lower) / (6 * sigma)
    cpk = min(upper - mean, mean - lower) / (3 * sigma)
    chi_low, chi_high = stats.chi2.ppf([tail, 1 - tail], free)
    reach = stats.norm.ppf(1 - tail) * sqrt(1 / (9 * n) + cpk**2 / (2 * free))
    return Capability(
        n=n,
        cp=cp,
        cp_low=cp * sqrt(chi_low / free),
        cp_high=cp * sqrt(chi_high / free),
        cpk=cpk,
        cpk_low=cpk - reach,
        cpk_high=cpk + reach,
    )


@dataclass(frozen=True)
class Trip:
    """One rule that trips: which, from and to which place (0 the first), which way it goes."""

    rule: str
    first: int
    last: int
    up: bool


def trips(values: ArrayLike, limits: ChartLimits | None) -> list[Trip]:
    """Where a chart of values of shape (n,) trips a rule, in the order of the rules.

    `outside`: a value outside the limits, or several in a row on one side. `side`: eight or more
    in a row on one side of the centre. `run`: six or more in a row rising or falling. Without
    limits only `run` is looked for.
    Source: the first two stand in NIST/SEMATECH e-Handbook, 6.3.2; the third is common practice.

    >>> trips([1.0, 1.1, 1.2, 1.3, 1.4, 1.5], None)
    [Trip(rule='run', first=0, last=5, up=True)]
    """
    given = _finite(values, 1)
    found: list[Trip] = []
    if limits is not None:
        beyond = np.sign(given - np.clip(given, limits.lower, limits.upper))
        found += [Trip("outside", i, j, bool(beyond[i] > 0)) for i, j in _runs(beyond, 1)]
        side = np.sign(given - limits.centre)
        found += [Trip("side", i, j, bool(side[i] > 0)) for i, j in _runs(side, 8)]
    steps = np.sign(np.diff(given))
    found += [Trip("run", i, j + 1, bool(steps[i] > 0)) for i, j in _runs(steps, 5)]
    return found


def tripped_rules(means: ArrayLike, limits: ChartLimits) -> list[str]:
    """What the chart says of means of shape (n,), in sentences; empty where nothing trips.

    The rules are those of `trips`.

    >>> tripped_rules([0.0] * 7 + [5.0], ChartLimits(0.0, -3.0, 3.0))
    ['Build 8 lies outside the limits.']
    """
    return [_sentence(trip) for trip in trips(means, limits)]


def _sentence(trip: Trip) -> str:
    number = trip.first + 1
    if trip.rule == "outside":
        if trip.last > trip.first:
            return f"Builds {number} to {trip.last + 1} lie outside the limits."
        return f"Build {number} lies outside the limits."
    if trip.rule == "side":
        word = "above" if trip.up else "below"
        return f"Eight builds in a row lie {word} the mean, from build {number}."
    return f"Six builds in a row {'rise' if trip.up else 'fall'}, from build {number}."


def _runs(signs: Floats, length: int) -> list[tuple[int, int]]:
    """Where runs of at least `length` equal, non-zero signs begin and end."""
    found, begin = [], 0
    for i in range(1, len(signs) + 1):
        if i == len(signs) or signs[i] != signs[begin]:
            if i - begin >= length and signs[begin] != 0:
                found.append((begin, i - 1))
            begin = i
    return found


def _finite(readings: ArrayLike, dimensions: int) -> Floats:
    values = np.asarray(readings, dtype=np.float64)
    if values.ndim != dimensions or values.shape[-1] < 2 or not np.isfinite(values).all():
        raise ValueError("Charts need two or more readings, each a number.")
    return values
