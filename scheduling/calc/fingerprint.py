"""One number for all that a set of dates was computed from."""

from typing import Final

import numpy as np
import numpy.typing as npt

from scheduling.calc.calendar import Ints

SEED: Final = np.uint64(0x4C61796C696E6532)  # "Layline2"; the last figure counts changed meanings
_FACTOR: Final = np.uint64(0x9E3779B97F4A7C15)  # 2**64 / golden ratio, odd
_HALF: Final = np.uint64(32)
_BLOCK: Final = 4096  # rows at once: so many stay in the processor's own memory
_PLACES: Final = (
    np.arange(1, 129, dtype=np.uint64)[:, None] * np.uint64(0xD1B54A32D192ED03) << np.uint64(1)
) | np.uint64(1)


def mixed(columns: Ints) -> npt.NDArray[np.uint64]:
    """A number for each row of some columns, shape (columns, n); the order of columns counts.

    Each column is mixed with an odd number of its place, then all are added, mod 2**64.

    >>> first, second = np.array([1, 2]), np.array([2, 1])
    >>> one, other = mixed(np.array([first, second])), mixed(np.array([second, first]))
    >>> bool((one != other).all())
    True
    """
    starts = range(0, columns.shape[1], _BLOCK)
    if len(starts) < 2:
        return _mixed(columns)
    return np.concatenate([_mixed(columns[:, at : at + _BLOCK]) for at in starts])


def _mixed(columns: Ints) -> npt.NDArray[np.uint64]:
    table = columns.view(np.uint64) ^ SEED
    table *= _PLACES[: len(columns)]
    table ^= table >> _HALF
    table *= _FACTOR
    state = np.add.reduce(table, axis=0)
    state ^= state >> _HALF
    state *= _FACTOR
    return np.asarray(state ^ (state >> _HALF))


def mix(state: npt.NDArray[np.uint64], column: Ints) -> None:
    """Fold one more column into `state`, in place; both of shape (n,).

    state ← (state xor value) · factor mod 2**64, then its upper half onto its lower half. The order
    of columns counts. Not meant to withstand an attacker.

    >>> state = np.full(2, SEED)
    >>> mix(state, np.array([1, 2]))
    >>> bool(state[0] == state[1])
    False
    """
    state ^= column.view(np.uint64)
    state *= _FACTOR
    state ^= state >> _HALF
