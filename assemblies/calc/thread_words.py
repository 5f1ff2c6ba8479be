"""What tells two ends apart that are easily taken for one another."""

from decimal import Decimal
from typing import Final

from assemblies.standards.rows import FlangeHead, ThreadRow

INCH_MM: Final = Decimal("25.4")
CONES_24: Final = frozenset({"24° cone L", "24° cone S"})
PIPES: Final = frozenset({"BSP 60° cone", "BSP 30° cone", "BSP taper"})
NPT: Final = "NPT"


def tells_apart(one: ThreadRow, other: ThreadRow) -> str:
    """Say in a sentence what tells one end from another.

    Source: the confusable threads table; the ways of telling are common practice.

    >>> from assemblies.standards import tables
    >>> light, heavy = (row for row in tables.threads() if row.thread == "M52x2")
    >>> tells_apart(light, heavy)[:63]
    'L42 or S38? Both have M52x2: the tube that goes in has 42 or 38'
    """
    ends = {one.end, other.end}
    if ends == CONES_24 and one.thread == other.thread:
        return _series(one, other)
    if one.end != other.end and ends <= PIPES:
        return _pipes(one, other)
    if NPT in ends and ends & PIPES:
        return _npt(one, other)
    if one.thread == other.thread and one.seat != other.seat:
        return _seats(one, other)
    return _figures(one, other)


def tells_flanges_apart(one: FlangeHead, other: FlangeHead) -> str:
    """Say what tells a code 61 head from a code 62 head of the same size.

    >>> from assemblies.standards import tables
    >>> low, high = (row for row in tables.flange_heads() if row.size == "1")
    >>> tells_flanges_apart(low, high)[:39]
    'Code 61 or 62? They look alike at 1": h'
    """
    first, second = sorted((one, other), key=lambda row: row.end)
    return (
        f'Code 61 or 62? They look alike at {one.size}": head {first.head_mm} or {second.head_mm} '
        f"mm, bolts {first.spacing_mm} or {second.spacing_mm} mm apart the long way. They never "
        "go together."
    )


def _series(one: ThreadRow, other: ThreadRow) -> str:
    return (
        f"{one.end[-1]}{one.size} or {other.end[-1]}{other.size}? Both have {one.thread}: the "
        f"tube that goes in has {one.tube_mm} or {other.tube_mm} mm. Measure the tube, or the "
        "mouth of the cone."
    )


def _pipes(one: ThreadRow, other: ThreadRow) -> str:
    if one.is_tapered != other.is_tapered:
        return (
            f"{one.thread} or {other.thread}? Same diameter and pitch: the tapered one narrows "
            "towards its end and has no cone; lay a straight edge along the crests."
        )
    return (
        "60° or 30° cone with a BSP thread? The threads are the same: hold a seat gauge to the "
        "cone. 30° stands on some older machines; the two leak on each other."
    )


def _npt(one: ThreadRow, other: ThreadRow) -> str:
    pipe, npt = (other, one) if one.end == NPT else (one, other)
    per_inch = f"{pipe.threads_per_inch} threads an inch against {npt.threads_per_inch}"
    if pipe.threads_per_inch == npt.threads_per_inch:
        per_inch = (
            f"both have {pipe.threads_per_inch} threads an inch and start on each other; look at "
            "the flanks with a thread gauge"
        )
    return (
        f"{pipe.thread} or {npt.thread}? BSP has 55° flanks, NPT 60° and a taper: {per_inch}. "
        "Forced together they strip or leak."
    )


def _seats(one: ThreadRow, other: ThreadRow) -> str:
    names = f"{one.end} {one.size} or {other.end} {other.size}? Both have {one.thread}"
    if "flat" in {one.seat, other.seat}:
        return f"{names}: a cone, or an O-ring in a flat face. Look at the nose."
    where = " 37° stands on machines, 45° on vehicles." if {one.seat, other.seat} == {
        "37", "45"
    } else ""  # fmt: skip
    return f"{names}: hold a seat gauge to the cone, {one.seat}° or {other.seat}°.{where}"


def _figures(one: ThreadRow, other: ThreadRow) -> str:
    names = f"{one.thread} or {other.thread}?"
    if abs(one.pitch_mm - other.pitch_mm) >= Decimal("0.02"):
        return (
            f"{names} Pitch {_pitch(one)} or {_pitch(other)}: hold a pitch gauge to it, or "
            "measure over ten threads."
        )
    return (
        f"{names} Same pitch: the diameter over the crests is {one.major_mm} or "
        f"{other.major_mm} mm when new. Measure where it is least worn."
    )


def _pitch(row: ThreadRow) -> str:
    inch = f" ({row.threads_per_inch} an inch)" if row.threads_per_inch is not None else ""
    return f"{row.pitch_mm.normalize():f} mm{inch}"
