"""Whether failures of one position or machine come faster or slower: trend and power law."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

import numpy as np
from numpy.typing import ArrayLike
from scipy.stats import chi2, norm

from scheduling.calc.life.records import Floats, StudyRefused, p_words
from scheduling.calc.life.weibull import newton


@dataclass(frozen=True, slots=True)
class Trend:
    """One trend statistic, its two-sided p-value, and what it leans to.

    `leans` is above 0 where failures come faster (worse), below 0 where they come slower.
    """

    statistic: float
    p_value: float
    leans: int


def laplace(events: Sequence[ArrayLike], ends: ArrayLike, *, at_failure: bool = False) -> Trend:
    """Laplace's test, pooled over systems: U = Σ(t − T/2)/√(Σ n T²/12), standard normal.

    Ages of events in (0, T] of each system; with `at_failure` the watch ended at the last event,
    which is then left out. U above 0: failures come faster.
    Source: NIST/SEMATECH e-Handbook, 8.2.3.4; MIL-HDBK-189. Raises StudyRefused: too_few.

    >>> round(laplace([[1.0, 2.0, 3.0]], [10.0]).statistic, 4)
    -1.8
    """
    histories, until = _histories(events, ends, at_failure)
    n = sum(len(one) for one in histories)
    if n < 1:
        raise StudyRefused("too_few", "A trend needs two failures or more.")
    total = sum(float(one.sum()) for one in histories)
    centre = sum(len(one) * end / 2 for one, end in zip(histories, until, strict=True))
    spread = sum(len(one) * end**2 / 12 for one, end in zip(histories, until, strict=True))
    found = float((total - centre) / sqrt(spread))
    return Trend(found, float(2 * norm.sf(abs(found))), _sign(found))


def power_law_trend(events: ArrayLike, end: float, *, at_failure: bool = False) -> Trend:
    """The military handbook's test: 2 Σ ln(T/t), chi-square with 2n degrees.

    Small: failures come faster; large: slower. Source: MIL-HDBK-189 (1981), appendix C;
    NIST/SEMATECH e-Handbook, 8.2.3.4. Raises StudyRefused: too_few.

    >>> power_law_trend([1.0, 2.0, 3.0], 10.0).leans
    -1
    """
    (own,), (until,) = _histories([events], [end], at_failure)
    if len(own) < 1:
        raise StudyRefused("too_few", "A trend needs two failures or more.")
    statistic = 2 * float(np.log(until / own).sum())
    below = float(chi2.cdf(statistic, 2 * len(own)))
    return Trend(statistic, 2 * min(below, 1 - below), 1 if below < 0.5 else -1)


def reverse_arrangements(gaps: ArrayLike) -> Trend:
    """How many later gaps between failures are longer than earlier ones, against chance.

    Mean n(n − 1)/4, variance (2n + 5)(n − 1)n/72. Many: gaps grow, failures come slower.
    Source: NIST/SEMATECH e-Handbook, 8.2.3.4. Raises StudyRefused: too_few.

    >>> reverse_arrangements([1.0, 2.0, 3.0]).statistic
    3.0
    """
    own = np.asarray(gaps, dtype=np.float64)
    n = len(own)
    if n < 2:
        raise StudyRefused("too_few", "A trend needs two failures or more.")
    count = float(sum((own[i + 1 :] > own[i]).sum() for i in range(n)))
    centre, spread = n * (n - 1) / 4, (2 * n + 5) * (n - 1) * n / 72
    z = (count - centre) / sqrt(spread)
    return Trend(count, float(2 * norm.sf(abs(z))), _sign(-z))


@dataclass(frozen=True, slots=True)
class PowerLaw:
    """The mean number of failures λ·t^β of one system, from n failures up to age T.

    β above 1: failures come faster with age; `unbiased` is β with its bias taken off.
    """

    rate: float
    power: float
    unbiased: float
    failures: int
    until: float
    at_failure: bool

    def mtbf_now(self, *, unbiased: bool = False) -> float:
        """The mean time between failures at T, in T's unit: T/(n·β).

        >>> round(power_law([5.0, 40.0, 43.0], 100.0).mtbf_now(), 2)
        52.84
        """
        power = self.unbiased if unbiased else self.power
        return self.until / (self.failures * power)

    def power_limits(self, *, confidence: float = 0.95) -> tuple[float, float]:
        """Exact limits of β by chi-square.

        >>> low, high = power_law([5.0, 40.0, 43.0], 100.0).power_limits()
        >>> low < 0.6308 < high
        True
        """
        n, tail = self.failures, (1 - confidence) / 2
        degrees = 2 * (n - 1) if self.at_failure else 2 * n
        low, high = chi2.ppf([tail, 1 - tail], degrees)
        return float(self.power * low / (2 * n)), float(self.power * high / (2 * n))


def power_law(events: ArrayLike, end: float, *, at_failure: bool = False) -> PowerLaw:
    """The power law of one system by maximum likelihood: β = n/Σ ln(T/t), λ = n/T^β.

    Source: Crow, in Reliability and Biometry (1974); MIL-HDBK-189 (1981), appendix C.
    Raises StudyRefused: too_few (fewer than two failures, three if the watch ended at one).

    >>> round(power_law([5.0, 40.0, 43.0], 100.0).power, 4)
    0.6308
    """
    own = np.sort(np.asarray(events, dtype=np.float64))
    _check([own], np.array([end]))
    n = len(own)
    if n < (3 if at_failure else 2):
        raise StudyRefused("too_few", "A power law needs two failures or more.")
    logs = float(np.log(end / own).sum())
    power = n / logs
    unbiased = (n - 2 if at_failure else n - 1) / logs
    return PowerLaw(n / end**power, power, unbiased, n, float(end), at_failure)


def power_law_of_many(events: Sequence[ArrayLike], ends: ArrayLike) -> tuple[float, float]:
    """λ and β of systems of one kind, watched to different ages: (λ, β).

    Solves N/β + Σ ln t = N Σ T^β ln T / Σ T^β; λ = N/Σ T^β. Source: Crow (1974).

    >>> rate, power = power_law_of_many([[5.0, 40.0, 43.0]], [100.0])
    >>> round(power, 4)
    0.6308
    """
    histories, until = _histories(events, ends, at_failure=False)
    n = sum(len(one) for one in histories)
    if n < 2:
        raise StudyRefused("too_few", "A power law needs two failures or more.")
    unit = float(until.max())
    logs = sum(float(np.log(one / unit).sum()) for one in histories)
    span = np.log(until / unit)

    def score(power: float) -> tuple[float, float]:
        weights = np.exp(power * span)
        total, first, second = weights.sum(), weights @ span, weights @ span**2
        ratio = first / total
        bend = -n / power**2 - n * (second / total - ratio**2)
        return float(n / power + logs - n * ratio), float(bend)

    power = newton(score, 1.0)
    return float(n / (unit**power * np.exp(power * span).sum())), power


def cramer_von_mises(found: PowerLaw, events: ArrayLike) -> float:
    """How far the failures lie from the power law, with the unbiased β: small is close.

    1/(12m) + Σ[(t/T)^β − (2i − 1)/(2m)]². Source: MIL-HDBK-189 (1981), appendix C.

    >>> times = [5.0, 40.0, 43.0]
    >>> cramer_von_mises(power_law(times, 100.0), times) > 0
    True
    """
    own = np.sort(np.asarray(events, dtype=np.float64))
    if found.at_failure:
        own = own[:-1]
    m = len(own)
    ranks = (2 * np.arange(1, m + 1) - 1) / (2 * m)
    gaps = (own / found.until) ** found.unbiased - ranks
    return 1 / (12 * m) + float(gaps @ gaps)


def in_words(trend: Trend, *, level: float = 0.05) -> str:
    """What a trend statistic means, in a sentence.

    >>> in_words(Trend(-1.8, 0.07, -1))
    'No trend can be told from chance (p 0.070).'
    """
    if trend.p_value > level or trend.leans == 0:
        return f"No trend can be told from chance ({p_words(trend.p_value)})."
    how = "closer together: it is getting worse" if trend.leans > 0 else "further apart"
    return f"The failures come {how} ({p_words(trend.p_value)})."


def _sign(value: float) -> int:
    return int(value > 0) - int(value < 0)


def _histories(
    events: Sequence[ArrayLike], ends: ArrayLike, at_failure: bool
) -> tuple[list[Floats], Floats]:
    histories = [np.sort(np.asarray(one, dtype=np.float64)) for one in events]
    until = np.asarray(ends, dtype=np.float64)
    _check(histories, until)
    return [one[:-1] if at_failure else one for one in histories], until


def _check(histories: Sequence[Floats], until: Floats) -> None:
    if len(histories) != len(until) or not len(until):
        raise StudyRefused("nothing_to_study", "Each system needs its events and its end.")
    for own, end in zip(histories, until, strict=True):
        if not np.isfinite(own).all() or (own <= 0).any() or (own > end).any():
            raise StudyRefused("event_wrong", "An event lies outside the time its system ran.")
