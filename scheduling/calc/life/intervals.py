"""Lives whose failure is only known to lie between two ages, as inspections find it."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.optimize import minimize

from scheduling.calc.life.records import Floats, StudyRefused
from scheduling.calc.life.weibull import Fit, Weibull


@dataclass(frozen=True, slots=True)
class Spans:
    """Ages between which each life failed, shape (n,): `high` is infinite for one still running,
    equal to `low` where the age is known; `entry` and `count` as in `Lives`."""

    low: Floats
    high: Floats
    entry: Floats
    count: Floats


def spans(
    low: ArrayLike,
    high: ArrayLike,
    *,
    entry: ArrayLike | None = None,
    count: ArrayLike | None = None,
) -> Spans:
    """Spans from columns of shape (n,). Raises StudyRefused: nothing_to_study, span_wrong.

    >>> spans([0, 5], [5, np.inf]).count.tolist()
    [1.0, 1.0]
    """
    bottom = np.atleast_1d(np.asarray(low, dtype=np.float64))
    top = np.atleast_1d(np.asarray(high, dtype=np.float64))
    begun = np.zeros(len(bottom)) if entry is None else np.asarray(entry, dtype=np.float64)
    many = np.ones(len(bottom)) if count is None else np.asarray(count, dtype=np.float64)
    if len(bottom) == 0:
        raise StudyRefused("nothing_to_study", "There is no life to study here yet.")
    wrong = ~(bottom <= top) | (bottom < begun) | (top <= 0) | (begun < 0) | ~np.isfinite(bottom)
    if wrong.any() or ((bottom == top) & (bottom <= 0)).any() or (many <= 0).any():
        raise StudyRefused("span_wrong", "A span of ages ends before it begins, or at 0.")
    return Spans(bottom, top, begun, many)


def fit_spans(group: Spans) -> Fit:
    """Shape and scale by maximum likelihood: Σ n·log(S(low) − S(high)), less log S(entry).

    Source: Nelson, Applied Life Data Analysis (1982), chapter 9 (from memory).
    Raises StudyRefused: no_failures, no_finite_estimate.

    >>> fit = fit_spans(spans([0, 10, 20, 30], [10, 20, 30, np.inf], count=[5, 9, 8, 4]))
    >>> fit.life.shape > 1
    True
    """
    failed = np.isfinite(group.high)
    failures = int(group.count[failed].sum())
    if not failures:
        raise StudyRefused("no_failures", "No failure is on record: there is no life to fit.")
    unit = float(np.where(failed, group.high, group.low).max())
    start = np.array([0.4, 0.0])
    found = minimize(_cost, start, args=(group, unit), jac=True, method="BFGS", tol=1e-10)
    shape, scale = np.exp(found.x)
    slope = np.abs(_cost(found.x, group, unit)[1]).max()
    if not np.isfinite(found.fun) or slope > 1e-4 * group.count.sum() or shape > 1e3:
        raise StudyRefused(
            "no_finite_estimate",
            "The spans do not tell early failures from late ones: no finite estimate exists.",
        )
    life = Weibull(float(shape), float(scale * unit))
    exact = group.count[failed & (group.low == group.high)].sum()
    height = float(-found.fun - exact * np.log(unit))
    return Fit(life, height, failures, int(group.count.sum()))


def _cost(at: Floats, group: Spans, unit: float) -> tuple[float, Floats]:
    """Less the log likelihood and its slope, at (ln β, ln η), ages over `unit`."""
    shape, scale = np.exp(np.clip(at, -30, 30))
    exact = (group.low == group.high) & np.isfinite(group.high)
    height, slope = 0.0, np.zeros(2)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        for part, term in ((exact, _density), (~exact, _span)):
            value, by = term(group, part, unit, shape, scale)
            height += float(group.count[part] @ value)
            slope += by @ group.count[part]
        begun = group.entry > 0
        grown, by = _hazard(group.entry[begun] / unit, shape, scale)
        height += float(group.count[begun] @ grown)
        slope += by @ group.count[begun]
    return -height, -slope


def _hazard(age: Floats, shape: float, scale: float) -> tuple[Floats, Floats]:
    """(t/η)^β and its slopes by ln β and ln η; 0 at age 0, infinite at an infinite age."""
    ratio = np.log(age / scale)
    grown = np.exp(shape * ratio)
    by_shape = np.where(age > 0, grown * ratio * shape, 0.0)
    return grown, np.stack([by_shape, -grown * shape])


def _density(
    group: Spans,
    part: "np.ndarray[tuple[int], np.dtype[np.bool_]]",
    unit: float,
    b: float,
    s: float,
) -> tuple[Floats, Floats]:
    age = group.low[part] / unit
    ratio = np.log(age / s)
    grown, by = _hazard(age, b, s)
    value = np.log(b) - np.log(s) + (b - 1) * ratio - grown
    return value, np.stack([1 + b * ratio - by[0], np.full(len(age), -b) - by[1]])


def _span(
    group: Spans,
    part: "np.ndarray[tuple[int], np.dtype[np.bool_]]",
    unit: float,
    b: float,
    s: float,
) -> tuple[Floats, Floats]:
    low, by_low = _hazard(group.low[part] / unit, b, s)
    high, by_high = _hazard(group.high[part] / unit, b, s)
    alive, left = np.exp(-low), np.exp(-high)
    share = alive - left
    by_high = np.where(np.isfinite(high), by_high, 0.0)
    slope = (-alive * by_low + left * by_high) / share
    return np.log(share), slope
