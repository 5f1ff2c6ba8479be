"""Whether a Weibull life is a fair picture: beside a constant rate and a lognormal life."""

from dataclasses import dataclass
from math import log, pi

import numpy as np
from scipy.optimize import minimize
from scipy.stats import chi2, norm

from scheduling.calc.life.records import Floats, Lives, StudyRefused
from scheduling.calc.life.weibull import Fit


@dataclass(frozen=True, slots=True)
class Goodness:
    """Akaike's criterion of three kinds of life (least is best) and the test of a shape of 1.

    `wear_p` is the p-value of a constant rate against the Weibull: small speaks for wear-out
    (shape above 1) or early failures (below).
    """

    weibull: float
    exponential: float
    lognormal: float
    wear_p: float

    @property
    def best(self) -> str:
        """The kind with the least criterion.

        >>> Goodness(100.0, 99.0, 101.0, 0.5).best
        'exponential'
        """
        kinds = {"weibull": self.weibull, "exponential": self.exponential}
        kinds["lognormal"] = self.lognormal
        return min(kinds, key=lambda kind: kinds[kind])


def goodness(group: Lives, fit: Fit) -> Goodness:
    """Akaike's criterion 2k − 2·log L of three kinds of life fitted to one group.

    Source: Akaike, IEEE Trans. Autom. Control 19 (1974); the comparison as in NIST/SEMATECH
    e-Handbook, 8.4.1.3.

    >>> from scheduling.calc.life.records import lives
    >>> from scheduling.calc.life.weibull import fit_weibull
    >>> group = lives([100, 200, 300], [1, 1, 1])
    >>> goodness(group, fit_weibull(group)).best
    'weibull'
    """
    constant = constant_rate_height(group)
    _, _, lognormal = fit_lognormal(group)
    gained = max(0.0, 2 * (fit.log_likelihood - constant))
    return Goodness(
        weibull=4 - 2 * fit.log_likelihood,
        exponential=2 - 2 * constant,
        lognormal=4 - 2 * lognormal,
        wear_p=float(chi2.sf(gained, 1)),
    )


def constant_rate_height(group: Lives) -> float:
    """The log likelihood of a constant rate r/exposure.

    >>> from scheduling.calc.life.records import lives
    >>> round(constant_rate_height(lives([100.0], [1])), 4)
    -5.6052
    """
    if not group.failures:
        raise StudyRefused("no_failures", "No failure is on record: there is no life to fit.")
    return group.failures * (log(group.failures / group.exposure) - 1)


def fit_lognormal(group: Lives) -> tuple[float, float, float]:
    """Mean and spread of ln(age), and the log likelihood, of a lognormal life.

    Censored on the right and entered late, by maximum likelihood.

    >>> from scheduling.calc.life.records import lives
    >>> mean, spread, _ = fit_lognormal(lives([np.exp(1.0), np.exp(3.0)], [1, 1]))
    >>> round(mean, 3), round(spread, 3)
    (2.0, 1.0)
    """
    logs = np.log(group.exit)
    start = np.array([float(logs.mean()), log(float(logs.std()) or 1.0)])
    options = {"xatol": 1e-9, "fatol": 1e-11, "maxiter": 5000}
    found = minimize(_cost, start, args=(group, logs), method="Nelder-Mead", options=options)
    return float(found.x[0]), float(np.exp(found.x[1])), -float(found.fun)


def _cost(at: Floats, group: Lives, logs: Floats) -> float:
    spread = float(np.exp(np.clip(at[1], -30, 30)))
    z = (logs - at[0]) / spread
    died = -(z**2) / 2 - log(spread) - 0.5 * log(2 * pi) - logs
    height = np.where(group.failed, died, norm.logsf(z))
    late = group.entry > 0
    begun = norm.logsf((np.log(group.entry[late]) - at[0]) / spread)
    return float(-(group.count @ height) + group.count[late] @ begun)
