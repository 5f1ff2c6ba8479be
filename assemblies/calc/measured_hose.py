"""An old hose as it was measured on the machine: what is known, what stays open."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

from assemblies.calc.lengths import Basis, Form, Turns, has_direction, why_no_angle
from assemblies.standards import tables

DIAMETER_MM = Decimal("0.5")


@dataclass(frozen=True)
class MeasuredEnd:
    """One end: its form, what it turns about, which connection it is, or could be."""

    which: str
    form: str
    turns: str = ""
    end: str = ""
    size: str = ""
    could_be: tuple[str, ...] = ()
    diameter_mm: Decimal | None = None
    pitch_mm: Decimal | None = None
    drop_mm: Decimal | None = None
    marks: str = ""

    @property
    def has_direction(self) -> bool | None:
        """Whether the crimp fixes where it points; None where it isn't known how it turns."""
        if not self.turns:
            return False if self.form == "straight" else None
        return has_direction(Form(self.form), Turns(self.turns))

    @property
    def words(self) -> str:
        return f"{self.end} {self.size}" if self.end else "not told"


@dataclass(frozen=True)
class MeasuredSleeve:
    """A sleeve or guard, from and to in mm from end A."""

    kind: str
    from_mm: Decimal = Decimal(0)
    to_mm: Decimal | None = None


@dataclass(frozen=True)
class MeasuredHose:
    """All that was measured, as it was read; what was typed stands beside it, word for word."""

    length_mm: Decimal
    length_basis: str
    near: MeasuredEnd
    far: MeasuredEnd
    layline: str = ""
    hose_type: str = ""
    size_dn: int | None = None
    made_earliest_on: date | None = None
    made_latest_on: date | None = None
    outside_mm: Decimal | None = None
    over_wire_mm: Decimal | None = None
    layers: int | None = None
    orientation_deg: int | None = None
    sleeves: tuple[MeasuredSleeve, ...] = field(default=())
    marks: str = ""
    note: str = ""

    @property
    def ends(self) -> tuple[MeasuredEnd, MeasuredEnd]:
        return (self.near, self.far)


def open_points(hose: MeasuredHose) -> tuple[str, ...]:
    """Name what could not be told of an old hose, thing by thing.

    >>> end = MeasuredEnd("A", "straight", "swivel_nut", "37° cone", "-8")
    >>> open_points(MeasuredHose(Decimal(900), "overall", end, end, hose_type="2SN", size_dn=12))
    ()
    """
    return tuple(_open(hose))


def _open(hose: MeasuredHose) -> Iterator[str]:
    if not hose.hose_type:
        yield "The hose’s type: no layline was read and none was named."
    if hose.size_dn is None:
        yield "The hose’s size."
    for end in hose.ends:
        if not end.end:
            could = f": it could be {'; or '.join(end.could_be)}" if end.could_be else ""
            yield f"End {end.which}: which connection it is{could}."
        if not end.turns:
            yield f"End {end.which}: what it turns about."
    directions = [end.has_direction for end in hose.ends]
    if hose.orientation_deg is None and False not in directions:
        yield "The angle between the ends."


def angle_refusal(near: MeasuredEnd, far: MeasuredEnd) -> str:
    """Why an angle between two ends means nothing; empty where it does or may.

    >>> angle_refusal(MeasuredEnd("A", "straight"), MeasuredEnd("B", "banjo", "fixed"))
    'No angle: end A is straight.'
    """
    ends = {
        end.which: (Form(end.form), Turns(end.turns or "fixed"))
        for end in (near, far)
        if end.has_direction is False
    }
    return why_no_angle(ends) if ends else ""


def diameter_sentences(
    hose_type: str, dn: int | None, outside_mm: Decimal | None, over_wire_mm: Decimal | None
) -> tuple[str, ...]:
    """Hold measured diameters in mm against the tables: which sizes they suit, what speaks against.

    Limits: half a mm beyond the table for a calliper on rubber (our own choice). Source: the hose
    diameters table, which has few types; where it has none that is said.

    >>> diameter_sentences("2SN", 12, Decimal("22.9"), None)
    ('Outside 22.9 mm suits 2SN DN12: up to 23.1 mm (EN 853, edition not recorded; unverified).',)
    """
    if outside_mm is None and over_wire_mm is None:
        return ()
    row = tables.diameters(hose_type, dn) if dn is not None else None
    if row is None:
        return (_suiting(outside_mm, over_wire_mm),)
    low, high, most = row.reinforcement_min_mm, row.reinforcement_max_mm, row.outside_max_mm
    source = f"{row.source}{'; unverified' if row.source.is_unverified else ''}"
    outside = _Check("Outside", outside_mm, high, most, f"up to {most} mm")
    wire = _Check("Over the wire", over_wire_mm, low, high, f"{low} to {high} mm")
    return tuple(
        check.sentence(f"{hose_type} DN{dn}", source)
        for check in (outside, wire)
        if check.measured_mm is not None
    )


@dataclass(frozen=True, slots=True)
class _Check:
    """One measured diameter, what the table allows, and that in words."""

    what: str
    measured_mm: Decimal | None
    low_mm: Decimal
    high_mm: Decimal
    allowed: str

    def sentence(self, name: str, source: str) -> str:
        begin = f"{self.what} {self.measured_mm} mm"
        if _within(self.measured_mm, self.low_mm, self.high_mm):
            return f"{begin} suits {name}: {self.allowed} ({source})."
        return (
            f"{begin} does not suit {name}: {self.allowed} ({source}). Look again at type and "
            "size; a swollen or worn cover measures wrong too."
        )


def _suiting(outside_mm: Decimal | None, over_wire_mm: Decimal | None) -> str:
    """The sizes of the tables that measured diameters suit."""
    suits = [
        f"{one.type} DN{one.dn}"
        for one in tables.hose_diameters()
        if _within(outside_mm, one.reinforcement_max_mm, one.outside_max_mm)
        and _within(over_wire_mm, one.reinforcement_min_mm, one.reinforcement_max_mm)
    ]
    known = ", ".join(dict.fromkeys(one.type for one in tables.hose_diameters()))
    found = f"these suit: {', '.join(suits)}" if suits else "none suits"
    return f"Of the types whose diameters stand in a table here ({known}), {found}. Others may."


def _within(measured: Decimal | None, low: Decimal, high: Decimal) -> bool:
    return measured is None or low - DIAMETER_MM <= measured <= high + DIAMETER_MM


def basis_words(basis: str) -> str:
    """The basis of a length in words.

    >>> basis_words("seat_to_seat")
    'seat to seat'
    """
    return Basis(basis).value.replace("_", " ")
