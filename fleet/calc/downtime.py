"""Hours a machine was down in a period: what overlaps counts once, unplanned before planned."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Down:
    """Seconds down of each machine, arrays of shape (machines,), with their machines' ids.

    An hour that is both planned and unplanned is unplanned: the failure took it.
    """

    machines: Ints
    unplanned_s: Ints
    planned_s: Ints


def down_seconds(
    machine: ArrayLike,
    start: ArrayLike,
    end: ArrayLike,
    planned: ArrayLike,
    *,
    period: tuple[int, int],
) -> Down:
    """Seconds down within a half-open period, machine by machine.

    Columns of shape (n,): machine id, first and last second (since 1970-01-01 UTC; an open spell
    ends where the period ends), whether planned. Spells may overlap, nest or repeat.
    Raises ValueError for a spell or period that ends before it begins.

    >>> found = down_seconds([1, 1], [0, 1800], [3600, 5400], [False, False], period=(0, 7200))
    >>> found.unplanned_s.tolist()
    [5400]
    """
    ids = np.asarray(machine, dtype=np.int64)
    begun, ended = np.asarray(start, dtype=np.int64), np.asarray(end, dtype=np.int64)
    if period[1] < period[0] or (ended < begun).any():
        raise ValueError("A spell or the period ends before it begins.")
    asked = np.asarray(planned, dtype=bool)
    begun, ended = np.clip(begun, *period), np.clip(ended, *period)
    kept = ended > begun
    ids, begun, ended, asked = ids[kept], begun[kept], ended[kept], asked[kept]
    known = np.unique(ids)
    whole = _union(ids, begun, ended, known)
    lost = _union(ids[~asked], begun[~asked], ended[~asked], known)
    return Down(known, lost, whole - lost)


def _union(ids: Ints, begun: Ints, ended: Ints, known: Ints) -> Ints:
    """Seconds that any of a machine's spells covers: what each adds beyond those before it."""
    order = np.lexsort((begun, ids))
    ids, begun, ended = ids[order], begun[order], ended[order]
    if not len(ids):
        return np.zeros(len(known), dtype=np.int64)
    # One running maximum for all: each machine's times are lifted above those before it.
    span = int(ended.max() - begun.min()) + 1
    lift = np.searchsorted(known, ids) * span - int(begun.min())
    reached = np.maximum.accumulate(ended + lift)
    before = np.concatenate([[np.iinfo(np.int64).min // 2], reached[:-1]])
    added = np.maximum(reached - np.maximum(before, begun + lift), 0)
    return np.bincount(np.searchsorted(known, ids), weights=added, minlength=len(known)).astype(
        np.int64
    )
