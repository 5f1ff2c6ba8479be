"""How many are still running at each age: Kaplan–Meier and Nelson–Aalen, late entry included."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.stats import norm

from scheduling.calc.life.records import Floats, Lives, StudyRefused

ENOUGH_AT_RISK = 5


@dataclass(frozen=True, slots=True)
class Survival:
    """Step curves at the ages of failure, each of shape (m,).

    `survival` S(t) with Greenwood's standard error and limits on the log–log scale, which stay
    inside 0 and 1; `hazard` the Nelson–Aalen sum with its standard error. `from_age` is where
    the curve begins: 0, or the first age with enough at risk, on reaching which it is
    conditional.
    """

    ages: Floats
    at_risk: Floats
    failed: Floats
    survival: Floats
    survival_se: Floats
    low: Floats
    high: Floats
    hazard: Floats
    hazard_se: Floats
    from_age: float

    def at(self, age: float) -> float:
        """The share still running just after an age.

        >>> from scheduling.calc.life.records import lives
        >>> survival(lives([1, 2, 3, 4], [1, 1, 0, 1])).at(2.5)
        0.5
        """
        step = int(np.searchsorted(self.ages, age, side="right"))
        return float(self.survival[step - 1]) if step else 1.0

    @property
    def median(self) -> float | None:
        """The first age by which half have failed; None where that is not reached.

        >>> from scheduling.calc.life.records import lives
        >>> survival(lives([1, 2, 3, 4], [1, 1, 0, 1])).median
        2.0
        """
        below = np.flatnonzero(self.survival <= 0.5 + 1e-12)
        return float(self.ages[below[0]]) if len(below) else None


def survival(group: Lives, *, confidence: float = 0.95, enough: int = 1) -> Survival:
    """Kaplan–Meier and Nelson–Aalen of a group: at each age of failure, S ·= 1 − d/n, H += d/n.

    A life counts at risk at an age if it entered before it and left no sooner; one that stops
    at an age of failure is still at risk for it. With `enough` above 1 the curve begins at the
    first age from which that many are at risk: early sets of one or two would send it to zero.
    Source: Kaplan & Meier, JASA 53 (1958); Aalen, Ann. Statist. 6 (1978); limits as in Kalbfleisch
    & Prentice (2002), 1.4 (from memory).
    Raises StudyRefused: no_failures, too_few_at_risk.

    >>> from scheduling.calc.life.records import lives
    >>> survival(lives([1, 2, 3, 4], [1, 1, 0, 1])).survival.tolist()
    [0.75, 0.5, 0.0]
    """
    if not group.failures:
        raise StudyRefused("no_failures", "No failure is on record: every life still runs.")
    ages = np.unique(group.exit[group.failed])
    risk, dead = _at_risk(group, ages), _deaths(group, ages)
    first = _first_enough(group, ages, risk, enough)
    kept = ages >= first if first else np.ones(len(ages), dtype=bool)
    if not kept.any():
        raise StudyRefused("too_few_at_risk", f"No failure came with {enough} or more at risk.")
    return _curves(ages[kept], risk[kept], dead[kept], first, confidence)


def _curves(ages: Floats, risk: Floats, dead: Floats, first: float, confidence: float) -> Survival:
    """Both curves from how many were at risk and how many failed at each age."""
    share: Floats = np.asarray(np.cumprod(1 - dead / risk), dtype=np.float64)
    with np.errstate(divide="ignore", invalid="ignore"):
        spread = np.cumsum(dead / (risk * (risk - dead)))
        low, high = _log_log(share, spread, confidence)
        error = np.where(share > 0, share * np.sqrt(spread), 0.0)
    return Survival(
        ages=ages,
        at_risk=risk,
        failed=dead,
        survival=share,
        survival_se=error,
        low=low,
        high=high,
        hazard=np.cumsum(dead / risk),
        hazard_se=np.sqrt(np.cumsum(dead / risk**2)),
        from_age=first,
    )


def plain_limits(found: Survival, *, confidence: float = 0.95) -> tuple[Floats, Floats]:
    """Limits S ± z·se, cut at 0 and 1: shown beside the log–log ones where a text prints them.

    >>> from scheduling.calc.life.records import lives
    >>> plain_limits(survival(lives([1, 2, 3, 4], [1, 0, 0, 0])))[1].tolist()
    [1.0]
    """
    reach = float(norm.ppf((1 + confidence) / 2)) * found.survival_se
    return np.clip(found.survival - reach, 0, 1), np.clip(found.survival + reach, 0, 1)


def _at_risk(group: Lives, ages: Floats) -> Floats:
    """How many are at risk at each age: entered before it, left at it or later."""
    ends, begun = np.argsort(group.exit), np.argsort(group.entry)
    left = _cumulated(group.count[ends])[np.searchsorted(group.exit[ends], ages, side="left")]
    entered = _cumulated(group.count[begun])[np.searchsorted(group.entry[begun], ages, side="left")]
    return np.asarray(entered - left)


def _cumulated(counts: Floats) -> Floats:
    return np.concatenate([[0.0], np.cumsum(counts)])


def _deaths(group: Lives, ages: Floats) -> Floats:
    which: NDArray[np.intp] = np.searchsorted(ages, group.exit[group.failed])
    dead = np.bincount(which, weights=group.count[group.failed], minlength=len(ages))
    return dead.astype(np.float64)


def _first_enough(group: Lives, ages: Floats, risk: Floats, enough: int) -> float:
    """The age at which the curve begins: after the last thin early risk set, 0 if none is thin."""
    if enough <= 1 or not (group.entry > 0).any():
        return 0.0
    thick = np.flatnonzero(risk >= enough)
    if not len(thick):
        return float("inf")
    return 0.0 if thick[0] == 0 else float(ages[thick[0]])


def _log_log(share: Floats, spread: Floats, confidence: float) -> tuple[Floats, Floats]:
    """exp(−exp(ln(−ln S) ± z·√V/ln S)); where S is 0 or 1 nothing can be said."""
    reach = float(norm.ppf((1 + confidence) / 2)) * np.sqrt(spread) / np.log(share)
    low, high = share ** np.exp(-reach), share ** np.exp(reach)
    known = (share > 0) & (share < 1)
    return np.where(known, low, 0.0), np.where(known, high, 1.0)
