"""What a crimper's dial is off, with each die, learnt from its own presses."""

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from assemblies.calc.dial import DialDifference, dial_difference
from assemblies.models import Crimper, TrialPress

PRESSES = 25
LOOKED_BACK = 4000
"""So many of a crimper's latest presses are read for a page, over all its dies."""


@dataclass(frozen=True, slots=True)
class DieLine:
    """One die of a crimper: what its dial is off with it."""

    die_set: str
    dial: DialDifference


def learnt_dials(crimper: Crimper) -> tuple[DieLine, ...]:
    """Every die that a crimper pressed with, with what is learnt of it. One query."""
    found: defaultdict[str, list[tuple[Decimal, Decimal]]] = defaultdict(list)
    for die_set, setting, od in _measured(crimper):
        if len(found[die_set]) < PRESSES:
            found[die_set].append((setting, od))
    dials = {die: dial_difference(reversed(told), latest=PRESSES) for die, told in found.items()}
    return tuple(DieLine(die, dial) for die, dial in sorted(dials.items()) if dial is not None)


def _measured(crimper: Crimper) -> Iterator[tuple[str, Decimal, Decimal]]:
    """Die, setting and measured OD of the crimper's presses, the newest first.

    The last press of a trial is measured at closing; the others where readings were taken.
    """
    pressed = TrialPress.objects.filter(trial__crimper=crimper, undone_at=None)
    columns = ("trial_id", "trial__die_set", "setting_mm", "od_readings", "trial__closing_readings")
    rows = pressed.order_by("-pressed_at", "-pk").values_list(*columns)[:LOOKED_BACK]
    ended: set[int] = set()
    for trial_id, die_set, setting, readings, closing in rows:
        measured = (closing if trial_id not in ended else []) or readings
        ended.add(trial_id)
        if measured:
            sizes = [Decimal(text) for text in measured]
            yield die_set, setting, sum(sizes, Decimal(0)) / len(sizes)
