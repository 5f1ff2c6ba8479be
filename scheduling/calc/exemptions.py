"""Days to which exemptions put a trigger off."""

from collections.abc import Iterator

import numpy as np

from scheduling.calc.calendar import Ints
from scheduling.calc.inputs import NONE, SCOPES, DueInputs, Exemptions, Trigger

NEVER_PUT_OFF = frozenset({Trigger.TAKE_OUT})
_CONDITIONS = ("assembly", "position", *SCOPES)


def put_off_until(inputs: DueInputs, exemptions: Exemptions) -> dict[Trigger, Ints]:
    """Per trigger with an exemption, the latest day granted to each row, shape (n,), else `NONE`.

    Every stated condition of an exemption must hold. Of several exemptions the latest day counts.
    A finding that says take out now is never put off.

    >>> granted = Exemptions.of(assembly=3, until_on=20_500)
    >>> int(put_off_until(DueInputs.of(assembly=3, known_from_on=9), granted)[Trigger.BUILT][0])
    20500
    """
    until: dict[Trigger, Ints] = {}
    if not exemptions.size:
        return until
    for index, rows in _matches(inputs, exemptions):
        day = int(exemptions.until_on[index])
        for trigger in _named(int(exemptions.triggers[index])):
            column = until.setdefault(trigger, np.full(inputs.size, NONE, dtype=np.int64))
            held = column[rows]
            column[rows] = np.where(held == NONE, day, np.maximum(held, day))
    return until


def _named(triggers: int) -> list[Trigger]:
    return [t for t in Trigger if t not in NEVER_PUT_OFF and (not triggers or triggers >> t & 1)]


def _matches(inputs: DueInputs, exemptions: Exemptions) -> Iterator[tuple[int, Ints]]:
    """Each exemption's index with the rows it covers, if any."""
    for index, rows in _candidates(inputs, exemptions):
        for condition in _CONDITIONS:
            wanted = getattr(exemptions, condition)[index]
            if wanted != NONE:
                rows = rows[getattr(inputs, condition)[rows] == wanted]  # noqa: PLW2901  # narrowed
        if rows.size:
            yield index, rows


def _candidates(inputs: DueInputs, exemptions: Exemptions) -> Iterator[tuple[int, Ints]]:
    """Rows worth looking at: by assembly or position where one is named, else all of them."""
    everything = np.arange(inputs.size)
    for name in ("assembly", "position"):
        named = getattr(exemptions, name) != NONE
        if name == "position":
            named &= exemptions.assembly == NONE
        order = np.argsort(getattr(inputs, name), kind="stable") if named.any() else everything
        column = getattr(inputs, name)[order]
        for index in np.flatnonzero(named):
            wanted = getattr(exemptions, name)[index]
            yield int(index), order[slice(*np.searchsorted(column, [wanted, wanted + 1]))]
    for index in np.flatnonzero((exemptions.assembly == NONE) & (exemptions.position == NONE)):
        yield int(index), everything
