"""Which end an old hose has: by thread diameter, pitch and seat, or by its flange head.

What a calliper and a pitch gauge show of a used thread is never taken for one answer where two
fit. All that fit are given, the likeliest first, with what tells them apart.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field
from decimal import Decimal

from assemblies.calc.thread_words import INCH_MM, PIPES, tells_apart, tells_flanges_apart
from assemblies.standards import tables
from assemblies.standards.rows import FlangeHead, ThreadRow
from assemblies.standards.sources import Source

# Our own choice: a thread's own tolerance (up to 0.4 mm), wear, and a calliper's ±0.1 mm.
MALE_MM = (Decimal("-0.55"), Decimal("0.15"))
FEMALE_MM = (Decimal("-0.15"), Decimal("0.65"))
TAPERED_MM = (Decimal("-1.10"), Decimal("0.70"))
PITCH_MM = Decimal("0.10")
TUBE_MM = Decimal("0.6")
SEAT_DEG = 15
HEAD_MM = Decimal("0.9")
SPACING_MM = Decimal("1.2")
_SIXTY, _WHITWORTH = Decimal("1.0825"), Decimal("1.2807")


@dataclass(frozen=True, slots=True)
class ThreadMeasures:
    """What was measured of a thread. `seat` as in the table, empty where it can't be told;
    `flank_deg` is 55 or 60, as a thread gauge shows."""

    diameter_mm: Decimal
    is_male: bool
    pitch_mm: Decimal | None = None
    seat: str = ""
    tube_mm: Decimal | None = None
    is_tapered: bool | None = None
    flank_deg: int | None = None


@dataclass(frozen=True, slots=True)
class EndCandidate:
    """One end that fits. `off_mm` is how far the measure is from the middle of what is usual."""

    end: str
    size: str
    thread: str
    off_mm: Decimal
    doubts: tuple[str, ...]
    source: Source

    @property
    def key(self) -> str:
        """Names the candidate in a form."""
        return f"{self.end}|{self.size}"

    @property
    def words(self) -> str:
        return f"{self.end}, {self.size}" + (f", {self.thread}" if self.thread else "")


@dataclass(frozen=True, slots=True)
class Identified:
    """The ends that fit, the likeliest first; what tells them apart; why none fits."""

    candidates: tuple[EndCandidate, ...]
    tells: tuple[str, ...] = field(default=())
    problem: str = ""


def pitch_of(threads_per_inch: Decimal) -> Decimal:
    """The pitch in mm of a number of threads an inch: 25.4 over the number.

    >>> pitch_of(Decimal(19)).quantize(Decimal("0.001"))
    Decimal('1.337')
    """
    if not (threads_per_inch.is_finite() and threads_per_inch > 0):
        raise ValueError("Threads an inch are a number above zero.")
    return INCH_MM / threads_per_inch


def minor_mm(row: ThreadRow) -> Decimal:
    """The bore of the nut of a thread, in mm: major less 1.0825 pitches, on pipe threads 1.2807.

    Derived: 60° threads (ISO 68-1) have 5/8 H of depth in the nut, 55° ones (ISO 228-1) are
    0.6403 pitches deep. For NPT the 60° figure gives the bore near the gauge plane, roughly.

    >>> row = next(row for row in tables.threads() if row.thread == "M30x2")
    >>> minor_mm(row)
    Decimal('27.8350')
    """
    return row.major_mm - (_WHITWORTH if row.end in PIPES else _SIXTY) * row.pitch_mm


def identify_thread(measured: ThreadMeasures) -> Identified:
    """Find the ends that a measured thread can be.

    Parameters: the measures, in mm. A male thread is measured over its crests, a female one
    between its crests. Limits: windows for wear and callipers stand above; seats within 15° of
    each other are not told apart by eye, so both stay; where the seat leaves none, those without
    it are given with that doubt. Never one answer where two fit. Source: the threads table.

    >>> found = identify_thread(ThreadMeasures(Decimal("29.9"), True, Decimal(2)))
    >>> [candidate.words for candidate in found.candidates]
    ['24° cone L, 22, M30x2', '24° cone S, 20, M30x2']
    """
    rows = [row for row in tables.threads() if _fits(row, measured)]
    seated = [row for row in rows if _seat_fits(row.seat, measured.seat)]
    kept = seated or rows
    if not kept:
        return Identified((), problem=_no_fit(measured))
    ranked = sorted(kept, key=lambda row: _rank(row, measured))
    return Identified(
        tuple(_candidate(row, measured) for row in ranked), tuple(_tells(ranked, measured))
    )


def identify_flange(head_mm: Decimal, spacing_mm: Decimal | None = None) -> Identified:
    """Find the flange heads that a measured head can be.

    Parameters: outside diameter of the head and, where measured, the longer distance between
    bolt centres, in mm. Limits: 0.9 mm on the head, 1.2 mm on the bolts. The other code's head
    of the same size is named always. Source: the flange heads table.

    >>> [one.words for one in identify_flange(Decimal("31.0")).candidates]
    ['flange code 61, 1/2', 'flange code 62, 1/2']
    """
    found = [row for row in tables.flange_heads() if abs(head_mm - row.head_mm) <= HEAD_MM]
    if spacing_mm is not None:
        found = [row for row in found if abs(spacing_mm - row.spacing_mm) <= SPACING_MM]
    if not found:
        bolts = "" if spacing_mm is None else f" with bolts {spacing_mm} mm apart"
        return Identified(
            (), problem=f"No flange head of code 61 or 62 has {head_mm} mm{bolts}: measure again."
        )
    ranked = sorted(found, key=lambda row: abs(head_mm - row.head_mm))
    candidates = [
        EndCandidate(r.end, r.size, "", head_mm - r.head_mm, (), r.source) for r in ranked
    ]
    return Identified(tuple(candidates), tuple(_flange_tells(ranked[0])))


def end_keyed(key: str) -> tuple[str, str] | None:
    """The end and size that a candidate's key names, where a table has them.

    >>> end_keyed("37° cone|-8"), end_keyed("37° cone|-99")
    (('37° cone', '-8'), None)
    """
    known = {(row.end, row.size) for row in tables.threads()}
    known |= {(row.end, row.size) for row in tables.flange_heads()}
    end, _, size = key.partition("|")
    return (end, size) if (end, size) in known else None


def _fits(row: ThreadRow, measured: ThreadMeasures) -> bool:
    low, high = TAPERED_MM if row.is_tapered else MALE_MM if measured.is_male else FEMALE_MM
    if not low <= _off(row, measured) <= high:
        return False
    if measured.pitch_mm is not None and abs(measured.pitch_mm - row.pitch_mm) > PITCH_MM:
        return False
    tube, wanted = measured.tube_mm, row.tube_mm
    return tube is None or wanted is None or abs(tube - wanted) <= TUBE_MM


def _off(row: ThreadRow, measured: ThreadMeasures) -> Decimal:
    return measured.diameter_mm - (row.major_mm if measured.is_male else minor_mm(row))


def _seat_fits(seat: str, said: str) -> bool:
    if not said or seat == said:
        return True
    return seat.isdigit() and said.isdigit() and abs(int(seat) - int(said)) <= SEAT_DEG


def _rank(row: ThreadRow, measured: ThreadMeasures) -> tuple[Decimal, int]:
    """How badly a row fits: each measure by its window, features that speak against it on top."""
    usual = Decimal("-0.15") if measured.is_male else Decimal("0.15")
    badness = abs(_off(row, measured) - usual)
    if measured.pitch_mm is not None:
        badness += 10 * abs(measured.pitch_mm - row.pitch_mm)
    badness += 2 * len(_doubts(row, measured))
    return badness, tables.threads().index(row)


def _candidate(row: ThreadRow, measured: ThreadMeasures) -> EndCandidate:
    doubts = tuple(_doubts(row, measured))
    return EndCandidate(row.end, row.size, row.thread, _off(row, measured), doubts, row.source)


def _doubts(row: ThreadRow, measured: ThreadMeasures) -> list[str]:
    found = []
    if measured.seat and measured.seat != row.seat:
        found.append(
            f"the seat was said to be {_seat(measured.seat)}, here it is {_seat(row.seat)}"
        )
    if measured.is_tapered is not None and measured.is_tapered != row.is_tapered:
        found.append("this thread is tapered" if row.is_tapered else "this thread is not tapered")
    flank = 55 if row.end in PIPES else 60
    if measured.flank_deg is not None and measured.flank_deg != flank:
        found.append(f"its flanks have {flank}°")
    if measured.pitch_mm is not None and abs(measured.pitch_mm - row.pitch_mm) > Decimal("0.04"):
        found.append(f"its pitch is {row.pitch_mm} mm")
    return found


def _seat(seat: str) -> str:
    return {"flat": "a flat face", "thread": "the thread itself"}.get(seat, f"a {seat}° cone")


def _tells(ranked: list[ThreadRow], measured: ThreadMeasures) -> list[str]:
    """What tells the likeliest from the others that fit, and from what bears the same thread."""
    best = ranked[0]
    same = [
        row
        for row in tables.threads()
        if row not in ranked and row.thread == best.thread and row.end != best.end
    ]
    if measured.pitch_mm is None and len(ranked) > 1:
        first = ["Measure the pitch: it parts most threads of one diameter."]
    else:
        first = []
    return _once([*first, *(tells_apart(best, row) for row in [*ranked[1:], *same])])


def _flange_tells(best: FlangeHead) -> list[str]:
    others = [r for r in tables.flange_heads() if r.size == best.size and r.end != best.end]
    return [tells_flanges_apart(best, row) for row in others]


def _no_fit(measured: ThreadMeasures) -> str:
    kind = "an outside diameter" if measured.is_male else "a bore"
    pitch = "" if measured.pitch_mm is None else f" and a pitch of {measured.pitch_mm:.3g} mm"
    return (
        f"No end of the tables has a thread with {kind} of {measured.diameter_mm} mm{pitch}. "
        "Measure again; if it stays so, ask the machine's maker."
    )


def _once(sentences: Iterable[str]) -> list[str]:
    return list(dict.fromkeys(sentences))
