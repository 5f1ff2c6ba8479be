"""Process charts and capability of measured crimp diameters.

Limits are shown from 25 builds on; before that, readings and drift only. Formulas and constants:
NIST/SEMATECH e-Handbook of Statistical Methods, sections 6.1.6 and 6.3.2. The constants are
computed here from the normal distribution of the range, and checked against the printed ones.
"""

from dataclasses import dataclass
from functools import cache
from math import sqrt

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
    readings: ArrayLike, lower: float, upper: float, *, sigma: float, confidence: float = 0.95
) -> Capability:
    """Cp and Cpk of readings, shape (n,), between two limits, with confidence limits.

    `sigma` is the within-build standard deviation (mean range over d2), in the readings' unit.
    Cp limits by chi-square, Cpk limits by the normal approximation.
    Source: NIST/SEMATECH e-Handbook, 6.1.6. Raises ValueError for sigma ≤ 0 or lower ≥ upper.

    >>> round(capability([16.0] * 50, 8, 20, sigma=2).cpk, 4)
    0.6667
    """
    values = _finite(readings, 1)
    if sigma <= 0 or lower >= upper:
        raise ValueError("Capability needs a spread above zero and a lower limit below the upper.")
    n, mean, tail = len(values), float(values.mean()), (1 - confidence) / 2
    cp = (upper - lower) / (6 * sigma)
    cpk = min(upper - mean, mean - lower) / (3 * sigma)
    chi_low, chi_high = stats.chi2.ppf([tail, 1 - tail], n - 1)
    reach = stats.norm.ppf(1 - tail) * sqrt(1 / (9 * n) + cpk**2 / (2 * (n - 1)))
    return Capability(
        n=n,
        cp=cp,
        cp_low=cp * sqrt(chi_low / (n - 1)),
        cp_high=cp * sqrt(chi_high / (n - 1)),
        cpk=cpk,
        cpk_low=cpk - reach,
        cpk_high=cpk + reach,
    )


def tripped_rules(means: ArrayLike, limits: ChartLimits) -> list[str]:
    """What the chart says of means of shape (n,), in sentences; empty where nothing trips.

    One point outside the limits; eight in a row on one side of the centre; six in a row rising
    or falling (common practice; the first two stand in NIST/SEMATECH e-Handbook, 6.3.2).

    >>> tripped_rules([0.0] * 7 + [5.0], ChartLimits(0.0, -3.0, 3.0))
    ['Build 8 lies outside the limits.']
    """
    values = _finite(means, 1)
    outside = (values < limits.lower) | (values > limits.upper)
    said = [f"Build {i + 1} lies outside the limits." for i in np.flatnonzero(outside)]
    side, steps = np.sign(values - limits.centre), np.sign(np.diff(values))
    said += [
        f"Eight builds in a row lie {_word(side[i])} the mean, from build {i + 1}."
        for i in _runs(side, 8)
    ]
    said += [
        f"Six builds in a row {'rise' if steps[i] > 0 else 'fall'}, from build {i + 1}."
        for i in _runs(steps, 5)
    ]
    return said


def _word(side: float) -> str:
    return "above" if side > 0 else "below"


def _runs(signs: Floats, length: int) -> list[int]:
    """Where runs of at least `length` equal, non-zero signs begin."""
    starts, begin = [], 0
    for i in range(1, len(signs) + 1):
        if i == len(signs) or signs[i] != signs[begin]:
            if i - begin >= length and signs[begin] != 0:
                starts.append(begin)
            begin = i
    return starts


def _finite(readings: ArrayLike, dimensions: int) -> Floats:
    values = np.asarray(readings, dtype=np.float64)
    if values.ndim != dimensions or values.shape[-1] < 2 or not np.isfinite(values).all():
        raise ValueError("Charts need two or more readings, each a number.")
    return values
