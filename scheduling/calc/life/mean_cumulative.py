"""How often something recurs by an age: the mean cumulative number of events of one system."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.stats import norm

from scheduling.calc.life.records import Floats, StudyRefused


@dataclass(frozen=True, slots=True)
class MeanCumulative:
    """M(t) at the ages of events, shape (m,): systems at risk, mean number, standard error."""

    ages: Floats
    at_risk: Floats
    mean: Floats
    mean_se: Floats

    def limits(self, confidence: float = 0.95) -> tuple[Floats, Floats]:
        """Limits on the log scale, which stay above 0: M·exp(±z·se/M).

        >>> low, high = mean_cumulative([[5.0], [6.0], []], [9.0, 9.0, 9.0]).limits()
        >>> bool((low < high).all())
        True
        """
        z = float(norm.ppf((1 + confidence) / 2))
        reach = np.exp(z * self.mean_se / self.mean)
        return self.mean / reach, self.mean * reach


def mean_cumulative(events: Sequence[ArrayLike], ends: ArrayLike) -> MeanCumulative:
    """The mean cumulative function of systems: event ages of each, and the age its watch ended.

    M grows by d/n at each event age, n the systems still watched; one whose watch ends at an age
    is at risk for the events of that age. The variance is the robust one, which takes repeats on
    one system as they come: Σ over systems of [Σ (d_i − d̄)/n]².
    Source: Nelson, and Lawless & Nadeau, both in Technometrics 37 (1995) (from memory).
    Raises StudyRefused: nothing_to_study, event_after_end, no_events.

    >>> mean_cumulative([[5.0, 10.0], [6.0]], [12.0, 8.0]).mean.tolist()
    [0.5, 1.0, 2.0]
    """
    until = np.asarray(ends, dtype=np.float64)
    histories = [np.sort(np.asarray(one, dtype=np.float64)) for one in events]
    if len(until) == 0 or len(histories) != len(until):
        raise StudyRefused("nothing_to_study", "Each system needs its events and its end.")
    if any(len(h) and h[-1] > end for h, end in zip(histories, until, strict=True)):
        raise StudyRefused("event_after_end", "An event lies after the end of its system's watch.")
    happened = np.concatenate(histories)
    if not len(happened):
        raise StudyRefused("no_events", "Nothing has happened yet on any of them.")
    ages, which = np.unique(happened, return_inverse=True)
    risk = np.searchsorted(np.sort(until), ages, side="left")
    at_risk = (len(until) - risk).astype(np.float64)
    rise = np.bincount(which, minlength=len(ages)) / at_risk
    spread = sum(
        _own_part(own, end, ages, at_risk, rise) for own, end in zip(histories, until, strict=True)
    )
    return MeanCumulative(ages, at_risk, np.cumsum(rise), np.sqrt(np.asarray(spread)))


def _own_part(own: Floats, end: float, ages: Floats, at_risk: Floats, rise: Floats) -> Floats:
    """One system's squared share of the variance, by age."""
    count = np.bincount(np.searchsorted(ages, own), minlength=len(ages)) if len(own) else 0
    watched = ages <= end
    return np.asarray(np.cumsum(np.where(watched, (count - rise) / at_risk, 0.0)) ** 2)
