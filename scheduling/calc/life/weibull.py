"""The Weibull life: R(t) = exp(−(t/η)^β), by maximum likelihood with late entry and censoring."""

from collections.abc import Callable
from dataclasses import dataclass
from math import exp, gamma, isfinite, log

import numpy as np

from scheduling.calc.life.records import Floats, Lives, StudyRefused

TOLERANCE = 1e-9  # the step after it is below a double's own rounding
MOST_STEPS = 60
_SAMPLE = 2000


@dataclass(frozen=True, slots=True)
class Weibull:
    """A Weibull life: `shape` β without unit, `scale` η in the ages' unit."""

    shape: float
    scale: float

    def reliability(self, age: float) -> float:
        """The share that lives past an age.

        >>> round(Weibull(2.0, 1000.0).reliability(1000.0), 6)
        0.367879
        """
        return exp(-self.hazard_sum(age))

    def hazard_sum(self, age: float) -> float:
        """The cumulative hazard (t/η)^β.

        >>> Weibull(2.0, 1000.0).hazard_sum(500.0)
        0.25
        """
        return float((age / self.scale) ** self.shape)

    def hazard(self, age: float) -> float:
        """The failure rate at an age above 0, per unit of age.

        >>> Weibull(2.0, 1000.0).hazard(500.0)
        0.001
        """
        return self.shape / self.scale * float((age / self.scale) ** (self.shape - 1))

    def quantile(self, share: float) -> float:
        """The age by which a share (0 to 1) has failed; the B10 life is `quantile(0.1)`.

        >>> round(Weibull(2.0, 1000.0).quantile(0.1), 2)
        324.59
        """
        return self.scale * float((-np.log1p(-share)) ** (1 / self.shape))

    @property
    def mean(self) -> float:
        """The mean life η Γ(1 + 1/β).

        >>> round(Weibull(1.0, 1000.0).mean, 6)
        1000.0
        """
        return self.scale * gamma(1 + 1 / self.shape)


@dataclass(frozen=True, slots=True)
class Fit:
    """A fitted life, its log likelihood, and what it stands on."""

    life: Weibull
    log_likelihood: float
    failures: int
    total: int


def fit_weibull(group: Lives) -> Fit:
    """Shape and scale by maximum likelihood, lives censored on the right and entered late.

    For a shape β the best scale is η^β = Σ(x^β − v^β)/r; the profile's score
    r/β + Σ ln x_failed − r·S′/S is solved by Newton steps kept inside a bracket.
    Source: Lawless, Statistical Models and Methods for Lifetime Data (2003), 5.2; Nelson,
    Applied Life Data Analysis (1982), chapter 8 (from memory; checked against three libraries).
    Raises StudyRefused: no_failures, no_finite_estimate (no failure below the greatest age on
    record), hazard_falls_without_end (late entries alone, and the failures come too early).

    >>> from scheduling.calc.life.records import lives
    >>> fit = fit_weibull(lives([100, 200, 300], [1, 0, 0]))
    >>> round(fit.life.shape, 4), round(fit.life.scale, 2)
    (1.2284, 498.71)
    """
    profile = Profile.of(group)
    shape = profile.solve()
    total = profile.sum_of_powers(shape)
    life = Weibull(shape, profile.scale_for(shape, total))
    return Fit(life, profile.height(shape, total), group.failures, group.total)


@dataclass(frozen=True, slots=True)
class Profile:
    """The likelihood of a group as a function of the shape alone; ages over the greatest one."""

    unit: float
    failures: float
    failed_logs: float
    logs: Floats
    weights: Floats
    late_logs: Floats
    late_weights: Floats

    @classmethod
    def of(cls, group: Lives) -> "Profile":
        """The profile of a group that has a finite estimate."""
        unit = float(group.exit.max())
        logs = np.log(group.exit / unit)
        late = group.entry > 0
        failed = group.failed
        found = cls(
            unit=unit,
            failures=float(group.count[failed].sum()),
            failed_logs=float(group.count[failed] @ logs[failed]),
            logs=logs,
            weights=group.count,
            late_logs=np.log(group.entry[late] / unit),
            late_weights=group.count[late],
        )
        found._refuse()
        return found

    def sums(self, shape: float) -> tuple[float, float, float]:
        """S = Σ(x^β − v^β) and its first two derivatives by β."""
        sums = _powers(shape, self.logs, self.weights)
        if not len(self.late_logs):
            return sums
        less = _powers(shape, self.late_logs, self.late_weights)
        return sums[0] - less[0], sums[1] - less[1], sums[2] - less[2]

    def sum_of_powers(self, shape: float) -> float:
        """S alone."""
        late = (self.late_weights * np.exp(shape * self.late_logs)).sum()
        return float((self.weights * np.exp(shape * self.logs)).sum() - late)

    def score(self, shape: float) -> tuple[float, float]:
        """The profile's slope by β, and the slope's own."""
        total, first, second = self.sums(shape)
        ratio = first / total
        slope = self.failures / shape + self.failed_logs - self.failures * ratio
        bend = -self.failures / shape**2 - self.failures * (second / total - ratio**2)
        return slope, bend

    def height(self, shape: float, total: float | None = None) -> float:
        """The log likelihood at a shape, with the scale best for it; `total` is its S."""
        total = self.sum_of_powers(shape) if total is None else total
        r = self.failures
        grown = r * log(shape) + (shape - 1) * self.failed_logs
        return grown - r * log(total / r) - r - r * log(self.unit)

    def scale_for(self, shape: float, total: float | None = None) -> float:
        """The scale best for a shape, in the ages' own unit; `total` is its S."""
        total = self.sum_of_powers(shape) if total is None else total
        return self.unit * float((total / self.failures) ** (1 / shape))

    def solve(self) -> float:
        """The shape at which the score is zero."""
        return newton(self.score, self._start())

    def _start(self) -> float:
        """A shape to begin with: that of every n-th life where there are very many."""
        n = len(self.logs)
        if n <= 4 * _SAMPLE or len(self.late_logs):
            return 1.5
        step = n // _SAMPLE
        share = 1 / step
        part = Profile(
            self.unit,
            self.failures * share,
            self.failed_logs * share,
            self.logs[::step],
            self.weights[::step],
            self.late_logs,
            self.late_weights,
        )
        return newton(part.score, 1.5, tolerance=1e-3)

    def _refuse(self) -> None:
        if self.failures < 1:
            raise StudyRefused("no_failures", "No failure is on record: there is no life to fit.")
        if self.failed_logs >= 0:
            raise StudyRefused(
                "no_finite_estimate",
                "Every failure came at the greatest age on record: no finite estimate exists. "
                "Wait for more.",
            )
        if len(self.late_logs) == len(self.logs) and self._slope_at_zero() <= 0:
            raise StudyRefused(
                "hazard_falls_without_end",
                "Every life came under watch late, and the failures follow so soon that no finite "
                "estimate exists.",
            )

    def _slope_at_zero(self) -> float:
        """The score as β goes to 0, where no life was watched from new."""
        spans = self.weights @ self.logs - self.late_weights @ self.late_logs
        squares = self.weights @ self.logs**2 - self.late_weights @ self.late_logs**2
        return float(self.failed_logs - self.failures * squares / (2 * spans))


def _powers(shape: float, logs: Floats, weights: Floats) -> tuple[float, float, float]:
    """Σ w·x^β and its first two derivatives by β."""
    powers = shape * logs
    np.exp(powers, out=powers)
    powers *= weights
    total = float(powers.sum())
    powers *= logs
    first = float(powers.sum())
    powers *= logs  # a dot product would wait for BLAS's threads on a busy machine
    return total, first, float(powers.sum())


def newton(
    score: Callable[[float], tuple[float, float]], start: float, *, tolerance: float = TOLERANCE
) -> float:
    """The zero of a falling score on (0, ∞): Newton steps, halved into a bracket where they leave.

    `score(x)` gives the value and its slope. The step stops at a relative `tolerance`.

    >>> round(newton(lambda x: (2 - x, -1.0), 1.0), 9)
    2.0
    """
    low, high, at = 0.0, float("inf"), start
    for _ in range(MOST_STEPS):
        value, slope = score(at)
        if not isfinite(value):
            high, at = at, (low + at) / 2
            continue
        step = at - value / slope if slope < 0 else float("nan")
        if abs(step - at) <= tolerance * at:
            return float(step)
        low, high = (at, high) if value > 0 else (low, at)
        at = step if low < step < high else _between(low, high)
    return float(at)


def _between(low: float, high: float) -> float:
    if high == float("inf"):
        return 2 * low if low else 1.0
    return (low + high) / 2
