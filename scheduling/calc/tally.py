"""How many dues stand at each day: cells of (day, kinds, how many)."""

from dataclasses import dataclass
from enum import IntFlag
from typing import Final

import numpy as np
import numpy.typing as npt

from scheduling.calc.calendar import Ints, beside
from scheduling.calc.inputs import NONE

_WIDTH: Final = 3
_DAY_BITS: Final = 1 << 33  # a day takes the lower half of a key, `NONE` among them
_KINDS: Final = 8


class Kind(IntFlag):
    """What a hose is counted as beside its day."""

    HURTS = 1  # on a position where a failure hurts someone
    UNTAGGED = 2  # fitted without a tag
    OUT_NOW = 4  # a finding says to take it out now


@dataclass(frozen=True)
class DueCounts:
    """How many dues are over, over where a failure hurts someone, soon, without a day, to be taken
    out now, and fitted without a tag."""

    over: int
    over_hurts: int
    soon: int
    undated: int
    out_now: int
    untagged: int


def no_cells() -> Ints:
    """Of nothing."""
    return np.zeros((0, _WIDTH), dtype=np.int64)


def packed(cells: Ints) -> bytes:
    """Cells of shape (n, 3) as they are stored: 32 bits each, the lowest byte first.

    >>> packed(np.array([[20_521, 1, -2]])).hex()
    '2950000001000000feffffff'
    """
    return cells.astype("<i4").tobytes()


def unpacked(stored: bytes) -> Ints:
    """What `packed` made.

    >>> unpacked(packed(np.array([[20_521, 1, -2]]))).tolist()
    [[20521, 1, -2]]
    """
    return np.frombuffer(stored, dtype="<i4").astype(np.int64).reshape(-1, _WIDTH)


def summed(cells: Ints) -> Ints:
    """One cell for each day and kind that has a number, in order; shape (n, 3) in, (m, 3) out.

    >>> summed(np.array([[9, 0, 1], [8, 1, 2], [9, 0, -1], [8, 1, 1]])).tolist()
    [[8, 1, 3]]
    """
    keys, number = _added(cells[:, 1] * _DAY_BITS + cells[:, 0], cells[:, 2])
    kinds, days = np.divmod(keys, _DAY_BITS)
    return np.stack([days, kinds, number], axis=1)


def moved(old: Ints, new: Ints) -> dict[int, Ints]:
    """By site, the cells that change where `old` rows become `new`: (site, kinds, day) each.

    >>> {site: cells.tolist() for site, cells in moved(
    ...     np.array([[1, 0, 9], [1, 0, 9]]), np.array([[1, 0, 9], [2, 1, 8]])).items()}
    {1: [[9, 0, -1]], 2: [[8, 1, 1]]}
    """
    rows = np.concatenate([old, new])
    change = np.ones(len(rows), dtype=np.int64)
    change[: len(old)] = -1
    keys, number = _added((rows[:, 0] * _KINDS + rows[:, 1]) * _DAY_BITS + rows[:, 2], change)
    places, days = np.divmod(keys, _DAY_BITS)
    sites, kinds = np.divmod(places, _KINDS)
    cells = beside([days, kinds, number]).T
    starts = _starts(sites).tolist()
    ends = [*starts[1:], len(cells)][: len(starts)]
    return {int(sites[a]): cells[a:b] for a, b in zip(starts, ends, strict=True)}


def counts_on(cells: Ints, today: int, until: int) -> DueCounts:
    """The counts as of a day; `until` is the last day that is soon.

    >>> counts_on(np.array([[9, 0, 5], [9, 5, 2], [10, 2, 1], [NONE, 0, 4]]), 10, 40)
    DueCounts(over=7, over_hurts=2, soon=1, undated=4, out_now=2, untagged=1)
    """
    day, kinds, number = cells.T

    def count(where: npt.NDArray[np.bool_]) -> int:
        return int(number[where].sum())

    return DueCounts(
        over=count(day < today),
        over_hurts=count((day < today) & (kinds & int(Kind.HURTS) != 0)),
        soon=count((day >= today) & (day <= until)),
        undated=count(day == NONE),
        out_now=count((kinds & int(Kind.OUT_NOW) != 0) & (day != NONE)),
        untagged=count(kinds & int(Kind.UNTAGGED) != 0),
    )


def _added(keys: Ints, number: Ints) -> tuple[Ints, Ints]:
    """Each key once, in order, with the sum of its numbers; without those that come to 0."""
    order = np.argsort(keys, kind="stable")
    keys = keys[order]
    starts = _starts(keys)
    total = np.add.reduceat(number[order], starts) if starts.size else number[:0]
    kept = total != 0
    return keys[starts][kept], total[kept]


def _starts(keys: Ints) -> npt.NDArray[np.intp]:
    """Where in ordered keys another one begins."""
    begins = np.ones(keys.size, dtype=bool)
    np.not_equal(keys[1:], keys[:-1], out=begins[1:])
    return begins.nonzero()[0]
