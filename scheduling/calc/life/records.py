"""Lives as a study reads them: from what age a hose was watched, to what age, and how it ended."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]


class StudyRefused(ValueError):
    """The data can't carry the study; the sentence says why."""

    def __init__(self, code: str, sentence: str) -> None:
        super().__init__(sentence)
        self.code = code
        self.sentence = sentence


def p_words(value: float) -> str:
    """A p-value as sentences have it.

    >>> p_words(0.0312), p_words(0.00002)
    ('p 0.031', 'p below 0.001')
    """
    return "p below 0.001" if value < 0.001 else f"p {value:.3f}"


@dataclass(frozen=True, slots=True)
class Lives:
    """Lives of one group, arrays of shape (n,), ages in hours or days throughout.

    `entry` is the age at which the life came under watch (0 where it was watched from new),
    `exit` the age at the end of watching, `failed` whether it ended in a failure, `count` how
    many lives the row stands for.
    """

    entry: Floats
    exit: Floats
    failed: NDArray[np.bool_]
    count: Floats

    @property
    def failures(self) -> int:
        """How many lives ended in a failure."""
        return round(float(self.count @ self.failed))

    @property
    def total(self) -> int:
        """How many lives there are."""
        return int(self.count.sum())

    @property
    def exposure(self) -> float:
        """Age lived under watch, summed over all lives."""
        return float((self.count * (self.exit - self.entry)).sum())


def lives(
    exit_ages: ArrayLike,
    failed: ArrayLike,
    *,
    entry: ArrayLike | None = None,
    count: ArrayLike | None = None,
) -> Lives:
    """Lives from columns of shape (n,): ages above 0, entry from 0 to below exit, counts above 0.

    Raises StudyRefused: nothing_to_study, age_wrong (an age of 0 or less, or not a number),
    entry_after_exit, count_wrong.

    >>> group = lives([100, 250, 300], [1, 0, 1], entry=[0, 50, 0])
    >>> group.failures, group.total, group.exposure
    (2, 3, 600.0)
    """
    ends = np.atleast_1d(np.asarray(exit_ages, dtype=np.float64))
    n = len(ends)
    begun = np.zeros(n) if entry is None else np.asarray(entry, dtype=np.float64)
    many = np.ones(n) if count is None else np.asarray(count, dtype=np.float64)
    did = np.asarray(failed).astype(bool)
    _check(ends, begun, did, many)
    return Lives(begun, ends, did, many)


def _check(ends: Floats, begun: Floats, did: NDArray[np.bool_], many: Floats) -> None:
    if len(ends) == 0:
        raise StudyRefused("nothing_to_study", "There is no life to study here yet.")
    if not (ends.shape == begun.shape == did.shape == many.shape):
        raise StudyRefused("age_wrong", "Each life needs its entry, its end and how it ended.")
    if not (np.isfinite(ends).all() and np.isfinite(begun).all() and (ends > 0).all()):
        raise StudyRefused("age_wrong", "An age is missing, or it is not above 0.")
    if (begun < 0).any() or (begun >= ends).any():
        raise StudyRefused("entry_after_exit", "A life ends before it came under watch.")
    if (many <= 0).any() or not np.isfinite(many).all():
        raise StudyRefused("count_wrong", "A row stands for no life.")
