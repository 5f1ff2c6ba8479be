"""What few failures allow: a scale under an assumed shape, and a shape lent by other groups."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import log, log1p

import numpy as np
from scipy.stats import chi2

from scheduling.calc.life.records import Lives, StudyRefused
from scheduling.calc.life.weibull import Profile, Weibull, newton

ASSUMED_SHAPES = (1.5, 2.0, 3.0)


@dataclass(frozen=True, slots=True)
class AssumedShape:
    """A scale under an assumed shape: the estimate (None without a failure) and its lower bound."""

    shape: float
    scale: float | None
    scale_low: float
    confidence: float

    def b_life_low(self, share: float) -> float:
        """The lower bound of the age by which a share (0 to 1) has failed.

        >>> round(AssumedShape(2.0, None, 1000.0, 0.9).b_life_low(0.1), 1)
        324.6
        """
        return Weibull(self.shape, self.scale_low).quantile(share)


def assumed_shape(group: Lives, shape: float, *, confidence: float = 0.95) -> AssumedShape:
    """The scale under an assumed shape: S = Σ t^β; η = (S/r)^(1/β), bound (2S/χ²)^(1/β).

    The bound is one-sided, χ² with 2r + 2 degrees; late entries take their v^β off S.
    Source: Nelson, J. Qual. Technol. 17 (1985); IEC 61649, clause on one-parameter analysis
    (from memory; checked against surpyval).

    >>> from scheduling.calc.life.records import lives
    >>> found = assumed_shape(lives([1600, 2900, 3100], [0, 0, 0]), 2, confidence=0.9)
    >>> found.scale, round(found.scale_low, 4)
    (None, 2989.6121)
    """
    if shape <= 0 or not 0 < confidence < 1:
        raise ValueError("A shape is above 0 and a confidence between 0 and 1.")
    unit = float(group.exit.max())
    powers = (group.exit / unit) ** shape - (group.entry / unit) ** shape
    total, r = float(group.count @ powers), group.failures
    low = unit * (2 * total / float(chi2.ppf(confidence, 2 * r + 2))) ** (1 / shape)
    scale = unit * (total / r) ** (1 / shape) if r else None
    return AssumedShape(float(shape), scale, low, confidence)


def assumed_band(group: Lives, *, confidence: float = 0.95) -> tuple[AssumedShape, ...]:
    """The same under each of the shapes 1.5, 2 and 3: a wrong shape is unsafe either way.

    >>> from scheduling.calc.life.records import lives
    >>> [one.shape for one in assumed_band(lives([100.0], [0]))]
    [1.5, 2.0, 3.0]
    """
    return tuple(assumed_shape(group, shape, confidence=confidence) for shape in ASSUMED_SHAPES)


@dataclass(frozen=True, slots=True)
class CommonShape:
    """One shape for several groups with a scale each; `p_value` speaks against one shape."""

    shape: float
    scales: tuple[float, ...]
    log_likelihood: float
    statistic: float
    p_value: float


def fit_common_shape(groups: Sequence[Lives]) -> CommonShape:
    """A shape that several groups share, so that the small ones borrow strength.

    The groups' profile scores are summed and solved for one β; twice the loss of likelihood
    against a shape each is chi-square with (groups − 1) degrees.
    Raises StudyRefused: as `fit_weibull` for any group, and one_group.

    >>> from scheduling.calc.life.records import lives
    >>> both = [lives([100, 200, 300], [1, 1, 0]), lives([10, 20, 30], [1, 1, 0])]
    >>> round(fit_common_shape(both).p_value, 6)
    1.0
    """
    if len(groups) < 2:
        raise StudyRefused("one_group", "A shape is shared by two groups or more.")
    profiles = [Profile.of(group) for group in groups]

    def score(shape: float) -> tuple[float, float]:
        parts = [profile.score(shape) for profile in profiles]
        return sum(part[0] for part in parts), sum(part[1] for part in parts)

    shape = newton(score, 1.5)
    together = sum(profile.height(shape) for profile in profiles)
    apart = sum(profile.height(*profile.solve()) for profile in profiles)
    statistic = max(0.0, 2 * (apart - together))
    return CommonShape(
        shape=shape,
        scales=tuple(profile.scale_for(shape) for profile in profiles),
        log_likelihood=together,
        statistic=statistic,
        p_value=float(chi2.sf(statistic, len(groups) - 1)),
    )


def zero_failure_bound(group: Lives, *, confidence: float = 0.95) -> float:
    """The lower bound of the mean life where nothing failed, for a constant rate: T/−ln(1 − CL).

    Source: NIST/SEMATECH e-Handbook, 8.4.5.1.

    >>> from scheduling.calc.life.records import lives
    >>> round(zero_failure_bound(lives([1000.0], [0]), confidence=0.9), 4)
    434.2945
    """
    if group.failures:
        raise StudyRefused("has_failures", "This bound is for lives without a failure.")
    return group.exposure / -log1p(-confidence)


def shape_unbiased(shape: float, failures: int) -> float:
    """The shape with its small-sample bias taken off: β(r − 2)/(r − 0.68), complete samples.

    Source: Ross, IEEE Trans. Dielectr. Electr. Insul. 1 (1994) (from memory).

    >>> round(shape_unbiased(1.0, 10), 3)
    0.858
    """
    if failures < 3:
        raise StudyRefused("too_few", "The correction needs three failures or more.")
    return shape * (failures - 2) / (failures - 0.68)


def log_likelihood(life: Weibull, group: Lives) -> float:
    """The log likelihood of a group under a life.

    >>> from scheduling.calc.life.records import lives
    >>> round(log_likelihood(Weibull(1.0, 100.0), lives([100.0], [1])), 4)
    -5.6052
    """
    failed = group.failed
    logs = np.log(group.exit[failed] / life.scale)
    hazard = (group.exit / life.scale) ** life.shape - (group.entry / life.scale) ** life.shape
    density = group.failures * (log(life.shape) - log(life.scale))
    return float(density + (life.shape - 1) * (group.count[failed] @ logs) - group.count @ hazard)
