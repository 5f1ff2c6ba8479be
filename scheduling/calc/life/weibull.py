"""The Weibull life: R(t) = exp(−(t/η)^β), by maximum likelihood with late entry and censoring."""

from collections.abc import Callable
from dataclasses import dataclass
from math import exp, factorial, gamma, isfinite, log

import numpy as np

from scheduling.calc.life.records import Floats, Lives, StudyRefused

TOLERANCE = 1e-9  # the step after it is below a double's own rounding
MOST_STEPS = 60
MANY = 8000  # from here a sample shows where to begin
ORDERS = 8


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
    shape, total = profile.solve()
    life = Weibull(shape, profile.scale_for(shape, total))
    failures = round(profile.failures)
    return Fit(life, profile.height(shape, total), failures, group.total)


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
        dead = group.count * group.failed  # a product: picking by a mask is far slower
        late = np.flatnonzero(group.entry) if group.entry.any() else slice(0)
        found = cls(
            unit=unit,
            failures=float(dead.sum()),
            failed_logs=float(dead @ logs),
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
        return self._slope(shape, *self.sums(shape))

    def _slope(
        self, shape: float, total: float, first: float, second: float
    ) -> tuple[float, float]:
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

    def solve(self) -> tuple[float, float]:
        """The shape at which the score is zero, and S there."""
        if len(self.logs) <= MANY:
            shape = newton(self.score, 1.5)
            return shape, self.sum_of_powers(shape)
        shape = newton(self._sampled().score, 1.5, tolerance=1e-3)
        for _ in range(MOST_STEPS):
            near = _Near.of(self, shape)
            shape = newton(lambda at, near=near: self._slope(at, *near.sums(at)), shape)  # type: ignore[misc]  # its default binds the loop's own
            if near.reaches(shape):
                return shape, near.sums(shape)[0]
        return shape, self.sum_of_powers(shape)

    def _sampled(self) -> "Profile":
        """The profile of every n-th life: where to begin when there are very many."""
        step = len(self.logs) // (MANY // 2)
        late = slice(None, None, step)
        return Profile(
            self.unit,
            self.failures / step,
            self.failed_logs / step,
            self.logs[::step],
            self.weights[::step],
            self.late_logs[late],
            self.late_weights[late],
        )

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


@dataclass(frozen=True, slots=True)
class _Near:
    """S near one shape, as a Taylor series: one pass of exp over all lives serves every step."""

    shape: float
    moments: tuple[float, ...]

    @classmethod
    def of(cls, profile: Profile, shape: float) -> "_Near":
        own = _moments(shape, profile.logs, profile.weights)
        if not len(profile.late_logs):
            return cls(shape, own)
        less = _moments(shape, profile.late_logs, profile.late_weights)
        return cls(shape, tuple(a - b for a, b in zip(own, less, strict=True)))

    def sums(self, shape: float) -> tuple[float, float, float]:
        """S and its first two derivatives at a shape."""
        away, found = shape - self.shape, [0.0, 0.0, 0.0]
        for order in range(3):
            term = 1.0
            for k, moment in enumerate(self.moments[order:]):
                found[order] += term * moment
                term *= away / (k + 1)
        return found[0], found[1], found[2]

    def reaches(self, shape: float) -> bool:
        """Whether what the series leaves out is below a double's rounding of S″ at a shape."""
        away, order = abs(shape - self.shape), len(self.moments) - 1
        left_out = abs(self.moments[order]) * away ** (order - 2) / factorial(order - 2)
        return left_out <= 1e-12 * abs(self.moments[2])


def _moments(shape: float, logs: Floats, weights: Floats) -> tuple[float, ...]:
    powers = shape * logs
    np.exp(powers, out=powers)
    powers *= weights
    found = [float(powers.sum())]
    for _ in range(ORDERS):
        powers *= logs
        found.append(float(powers.sum()))
    return tuple(found)


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
