"""One number for all that a set of dates was computed from."""

from typing import Final

import numpy as np
import numpy.typing as npt

from scheduling.calc.calendar import Ints

SEED: Final = np.uint64(0x4C61796C696E6532)  # "Layline2"; the last figure counts changed meanings
_FACTOR: Final = np.uint64(0x9E3779B97F4A7C15)  # 2**64 / golden ratio, odd
_HALF: Final = np.uint64(32)


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
