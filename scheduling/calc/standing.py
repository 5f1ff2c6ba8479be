"""How an assembly stands on a day: the one word that a page shows beside it."""

import datetime as dt
from dataclasses import dataclass
from typing import Final, Literal

from scheduling.calc.inputs import Flag

SOON_DAYS: Final = 30

_TAKE_OUT_NOW: Final = int(Flag.TAKE_OUT_NOW)  # a plain number: asked of each row of each list

Standing = Literal["out", "over", "soon", "fine", "undated"]


@dataclass(frozen=True, slots=True)
class Dates:
    """What the due row of one assembly says."""

    due_on: dt.date | None
    replace_on: dt.date | None
    inspect_on: dt.date | None
    flags: int


def standing(dates: Dates | None, today: dt.date, *, soon_days: int = SOON_DAYS) -> Standing:
    """Judge how an assembly stands on a day.

    Parameters: its dates (None where none are worked out yet); today; how many days ahead
    count as soon. Returns out (a finding says take out now), over (due before today), soon (due
    within the days, today included), fine, or undated: no date is never the same as in order.

    >>> standing(Dates(dt.date(2026, 3, 8), None, None, 0), dt.date(2026, 3, 9))
    'over'
    """
    if dates is None:
        return "undated"
    if dates.flags & _TAKE_OUT_NOW:
        return "out"
    if dates.due_on is None:
        return "undated"
    if dates.due_on < today:
        return "over"
    return "soon" if dates.due_on <= today + dt.timedelta(days=soon_days) else "fine"


def what_is_due(dates: Dates) -> str:
    """Whether the due day asks for a new hose or for a look.

    >>> what_is_due(Dates(dt.date(2026, 3, 8), None, dt.date(2026, 3, 8), 0))
    'inspect'
    """
    if dates.due_on is None:
        return ""
    return "replace" if dates.replace_on == dates.due_on else "inspect"
