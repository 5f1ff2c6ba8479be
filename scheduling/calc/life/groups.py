"""Many groups fitted at once: one pass over all lives a step, whatever the number of groups."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scheduling.calc.life.records import Floats, Lives
from scheduling.calc.life.weibull import MOST_STEPS, TOLERANCE, newton


def fit_groups(group: Lives, starts: NDArray[np.intp]) -> tuple[Floats, Floats]:
    """Weibull shapes and scales of many groups at once, arrays of shape (groups,).

    Lives stand group by group; `starts`, shape (groups,), names the first of each. NaN stands
    where a group's data have no finite estimate. The same score as `fit_weibull`.

    >>> from scheduling.calc.life.records import lives
    >>> both = lives([100, 200, 300, 50, 100], [1, 0, 0, 0, 1])
    >>> shapes, scales = fit_groups(both, np.array([0, 3]))
    >>> round(float(shapes[0]), 4), bool(np.isnan(shapes[1]))
    (1.2284, True)
    """
    sizes = np.diff(np.append(starts, len(group.exit)))
    unit = np.maximum.reduceat(group.exit, starts)
    logs = np.log(group.exit / np.repeat(unit, sizes))
    dead = np.where(group.failed, group.count, 0.0)
    failures = np.add.reduceat(dead, starts)
    failed_logs = np.add.reduceat(dead * logs, starts)
    plus = _Sums(logs, group.count, starts, sizes)
    less = _late(group, np.repeat(unit, sizes), starts, sizes)
    fits = (failures > 0) & (failed_logs < 0)
    with np.errstate(all="ignore"):
        shapes = _solve(plus, less, failures, failed_logs, fits)
        total = plus.at(shapes)[0] - (less.at(shapes)[0] if less else 0)
        scales = unit * (total / failures) ** (1 / shapes)
    fits &= (shapes > 1e-9) & np.isfinite(scales)
    return np.where(fits, shapes, np.nan), np.where(fits, scales, np.nan)


@dataclass(frozen=True, slots=True)
class _Sums:
    """Σ w·x^β and its derivatives, group by group."""

    logs: Floats
    weights: Floats
    starts: NDArray[np.intp]
    sizes: NDArray[np.intp]

    def at(self, shapes: Floats) -> tuple[Floats, Floats, Floats]:
        power = np.repeat(shapes, self.sizes)
        power *= self.logs
        np.exp(power, out=power)
        power *= self.weights
        total = np.add.reduceat(power, self.starts)
        power *= self.logs
        first = np.add.reduceat(power, self.starts)
        power *= self.logs
        return total, first, np.add.reduceat(power, self.starts)


def _late(
    group: Lives, unit: Floats, starts: NDArray[np.intp], sizes: NDArray[np.intp]
) -> _Sums | None:
    """The sums of the ages at entry, where any life was entered late."""
    late = group.entry > 0
    if not late.any():
        return None
    logs = np.log(np.where(late, group.entry, unit) / unit)
    return _Sums(logs, np.where(late, group.count, 0.0), starts, sizes)


def _pooled(plus: _Sums, failures: Floats, failed_logs: Floats, fits: NDArray[np.bool_]) -> float:
    """A shape for all groups to begin with: the one they would share, from a part of them."""
    some = np.flatnonzero(fits)[:: max(1, int(fits.sum()) // 40)][:40]
    if not len(some):
        return 1.5
    picked = [slice(plus.starts[i], plus.starts[i] + plus.sizes[i]) for i in some]

    def score(shape: float) -> tuple[float, float]:
        slope = bend = 0.0
        for i, part in zip(some, picked, strict=True):
            power = plus.weights[part] * np.exp(shape * plus.logs[part])
            total, first = power.sum(), power @ plus.logs[part]
            slope += float(failures[i] / shape + failed_logs[i] - failures[i] * first / total)
            bend -= float(failures[i] / shape**2)
        return slope, bend

    return newton(score, 1.5, tolerance=0.05)


def _solve(
    plus: _Sums, less: _Sums | None, failures: Floats, failed_logs: Floats, fits: NDArray[np.bool_]
) -> Floats:
    """Newton steps of all groups together, each kept inside its own bracket."""
    shapes = np.full(len(failures), _pooled(plus, failures, failed_logs, fits))
    low, high = np.zeros(len(shapes)), np.full(len(shapes), np.inf)
    for _ in range(MOST_STEPS):
        total, first, second = plus.at(shapes)
        if less is not None:
            total, first, second = (
                a - b for a, b in zip((total, first, second), less.at(shapes), strict=True)
            )
        ratio = first / total
        slope = failures / shapes + failed_logs - failures * ratio
        bend = -failures / shapes**2 - failures * (second / total - ratio**2)
        new = shapes - slope / bend
        done = ((np.abs(new - shapes) <= TOLERANCE * shapes) & (bend < 0)) | ~fits
        low, high = np.where(slope > 0, shapes, low), np.where(slope > 0, high, shapes)
        half = np.where(np.isinf(high), 2 * low, (low + high) / 2)
        inside = (new > low) & (new < high) & (bend < 0)
        shapes = np.where(inside | done, new, half)
        if done.all():
            break
    return shapes
