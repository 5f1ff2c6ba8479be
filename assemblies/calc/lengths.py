"""Lengths of an assembly: what to cut, how far it may be off, and the angle between its ends."""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from assemblies.standards import tables
from assemblies.standards.sources import Source

FULL_TURN = Decimal(360)


class LengthError(ValueError):
    """A length that cannot be worked with; the message says why."""


class ToleranceUnknown(LengthError):
    """No document gives a tolerance for this size."""


class AllowanceMissing(LengthError):
    """A fitting without its maker's cut-off allowance."""


class BasisMismatch(LengthError):
    """An allowance that counts from another point than the length does."""


class TooShort(LengthError):
    """Nothing is left to cut."""


class AngleError(ValueError):
    """An angle that is no number of degrees."""


class Basis(StrEnum):
    """The points an assembly's length is measured between."""

    SEAT_TO_SEAT = "seat_to_seat"
    OVERALL = "overall"
    CUT = "cut"


class Form(StrEnum):
    """The form of an end."""

    STRAIGHT = "straight"
    ELBOW_45 = "elbow_45"
    ELBOW_90 = "elbow_90"
    BANJO = "banjo"
    BLOCK = "block"


class Turns(StrEnum):
    """What an end can turn about before it is tightened."""

    FIXED = "fixed"
    SWIVEL_NUT = "swivel_nut"  # turns about the port: an elbow with one keeps its direction
    LIVE_SWIVEL = "live_swivel"  # turns about the hose
    CAPTIVE_FLANGE = "captive_flange"
    SPLIT_FLANGE = "split_flange"


@dataclass(frozen=True, slots=True)
class Allowance:
    """What a fitting adds to the hose, in mm, and the basis it counts from (its maker's)."""

    mm: Decimal
    counts_from: Basis = Basis.SEAT_TO_SEAT


@dataclass(frozen=True, slots=True)
class LengthLimits:
    """The shortest and longest an assembly may be, with the tolerance and its source."""

    shortest_mm: Decimal
    longest_mm: Decimal
    plus_mm: Decimal
    minus_mm: Decimal
    source: Source


@dataclass(frozen=True, slots=True)
class AngleLimits:
    """The tolerance of the angle between two ends, with its source."""

    plus_minus_deg: Decimal
    source: Source


def length_limits(dn: int, length_mm: Decimal) -> LengthLimits:
    """Look up how far an assembly's length may be off.

    Parameters: dn of the hose; length_mm, finished length in mm.
    Returns limits in mm, unrounded: above 2500 mm the tolerance is a part of the length.
    Limits: DN5 to DN51.
    Errors: ToleranceUnknown for a larger size, LengthError for a length not above zero.
    Source: DIN 20066:2002-10; a site's own tolerance overrides it.

    >>> limits = length_limits(12, Decimal(1000))
    >>> limits.shortest_mm, limits.longest_mm
    (Decimal('996'), Decimal('1012'))
    """
    _refuse_no_length(length_mm)
    for row in tables.length_tolerances():
        in_size = row.dn_from <= dn <= row.dn_to
        if in_size and row.over_mm < length_mm and (row.up_to_mm or length_mm) >= length_mm:
            scale = length_mm / 100 if row.is_percent else Decimal(1)
            plus, minus = row.plus * scale, row.minus * scale
            return LengthLimits(length_mm - minus, length_mm + plus, plus, minus, row.source)
    raise ToleranceUnknown(f"No document gives a length tolerance for DN{dn}: state your own.")


def cut_length(
    length_mm: Decimal,
    near: Allowance | None,
    far: Allowance | None,
    *,
    basis: Basis = Basis.SEAT_TO_SEAT,
) -> Decimal:
    """Work out the length of hose to cut.

    Parameters: length_mm, the wanted length by its basis; near, far, the fitting makers'
    allowances. Formula: cut = length - near - far; with basis cut the length is the cut.
    Returns mm, unrounded.
    Errors: AllowanceMissing, BasisMismatch, TooShort, LengthError.
    Source: derived; allowances are the fitting maker's alone.

    >>> cut_length(Decimal(1200), Allowance(Decimal("45.5")), Allowance(Decimal("62.0")))
    Decimal('1092.5')
    """
    _refuse_no_length(length_mm)
    if basis is Basis.CUT:
        return length_mm
    cut = length_mm - _allowance(near, "near", basis) - _allowance(far, "far", basis)
    if cut <= 0:
        raise TooShort(
            f"The fittings take up {length_mm - cut} of {length_mm} mm: no hose is left."
        )
    return cut


def finished_length(
    cut_mm: Decimal, near: Allowance, far: Allowance, *, basis: Basis = Basis.SEAT_TO_SEAT
) -> Decimal:
    """Work out the length an assembly comes to from the hose that was cut, in mm.

    Errors: as cut_length. Source: derived, the inverse of cut_length.

    >>> finished_length(Decimal("1092.5"), Allowance(Decimal("45.5")), Allowance(Decimal(62)))
    Decimal('1200.0')
    """
    _refuse_no_length(cut_mm)
    if basis is Basis.CUT:
        return cut_mm
    return cut_mm + _allowance(near, "near", basis) + _allowance(far, "far", basis)


def measure_point(form: Form, turns: Turns, basis: Basis) -> str:
    """Say in words which point of an end the length runs to.

    Source: SAE J517 and MIL-DTL-83796/5, figure 2 (bent ends: centre line of the connection).

    >>> measure_point(Form.ELBOW_90, Turns.SWIVEL_NUT, Basis.SEAT_TO_SEAT)
    'centre line of the connection'
    """
    if basis is Basis.CUT:
        return "cut end of the hose"
    if form in {Form.ELBOW_90, Form.ELBOW_45}:
        return "centre line of the connection"
    if form in {Form.BANJO, Form.BLOCK}:
        return "centre line of the bolt hole"
    if basis is Basis.OVERALL:
        return "outermost point of the end"
    return "flange face" if turns in {Turns.CAPTIVE_FLANGE, Turns.SPLIT_FLANGE} else "sealing seat"


def has_direction(form: Form, turns: Turns) -> bool:
    """Tell whether an end points somewhere that the crimp fixes.

    An end that turns about the hose (live swivel) points nowhere; a straight end neither, save
    where a captive flange's bolt holes fix it. A swivel nut turns about the port only.

    >>> has_direction(Form.ELBOW_90, Turns.SWIVEL_NUT), has_direction(Form.BANJO, Turns.LIVE_SWIVEL)
    (True, False)
    """
    if turns is Turns.LIVE_SWIVEL:
        return False
    return form is not Form.STRAIGHT or turns is Turns.CAPTIVE_FLANGE


def why_no_angle(ends: Mapping[str, tuple[Form, Turns]]) -> str:
    """Say why two ends have no angle between them; an empty text where they have one.

    Parameters: ends, the form and turning of each end by its label.

    >>> why_no_angle({"A": (Form.STRAIGHT, Turns.FIXED), "B": (Form.BANJO, Turns.FIXED)})
    'No angle: end A is straight.'
    """
    reasons = [
        f"end {label} " + ("turns about the hose" if turns is Turns.LIVE_SWIVEL else "is straight")
        for label, (form, turns) in ends.items()
        if not has_direction(form, turns)
    ]
    return f"No angle: {', '.join(reasons)}." if reasons else ""


def angle_from_far(near_clock_deg: Decimal, far_clock_deg: Decimal) -> Decimal:
    """Give the angle between two ends: looking from the near end, far end up, clockwise to near.

    Parameters: the directions of both ends in degrees clockwise from up, both seen from the
    near end along the hose. Formula: (near - far) mod 360.
    Returns 0 up to below 360 degrees; the same from whichever end one looks, and the same as
    near end down, counter-clockwise to far.
    Errors: AngleError. Source: SAE J517, as MIL-DTL-83796/5, figure 3 quotes it.

    >>> angle_from_far(Decimal(90), Decimal(0))
    Decimal('90')
    """
    return normal_angle(near_clock_deg - far_clock_deg)


def seen_from_other_end(clock_deg: Decimal) -> Decimal:
    """Turn a direction seen from one end into that seen from the other: clockwise is mirrored.

    >>> seen_from_other_end(Decimal(90))
    Decimal('270')
    """
    return normal_angle(-clock_deg)


def normal_angle(angle_deg: Decimal) -> Decimal:
    """Bring an angle to 0 up to below 360 degrees. Errors: AngleError.

    >>> normal_angle(Decimal(-90)), normal_angle(Decimal(360))
    (Decimal('270'), Decimal('0'))
    """
    if not angle_deg.is_finite() or abs(angle_deg) > 1_000_000:
        raise AngleError(f"{angle_deg} is no angle in degrees.")
    turned = angle_deg % FULL_TURN
    return turned + FULL_TURN if turned < 0 else abs(turned)


def angle_limits(length_mm: Decimal) -> AngleLimits:
    """Look up how far the angle between the ends may be off: ±3° to 600 mm, ±5° above.

    Errors: LengthError. Source: SAE J517; MIL-DTL-83796/5, figure 3 (3° to 61 cm, 5° above).

    >>> angle_limits(Decimal(600)).plus_minus_deg, angle_limits(Decimal("600.1")).plus_minus_deg
    (Decimal('3'), Decimal('5'))
    """
    _refuse_no_length(length_mm)
    rows = (r for r in tables.angle_tolerances() if r.over_mm < length_mm)
    row = next(r for r in rows if r.up_to_mm is None or length_mm <= r.up_to_mm)
    return AngleLimits(row.plus_minus_deg, row.source)


def angle_off(wanted_deg: Decimal, found_deg: Decimal) -> Decimal:
    """Give how far two angles stand apart, the short way round, 0 to 180 degrees.

    >>> angle_off(Decimal(358), Decimal(1))
    Decimal('3')
    """
    apart = normal_angle(wanted_deg - found_deg)
    return min(apart, FULL_TURN - apart)


def _allowance(allowance: Allowance | None, end: str, basis: Basis) -> Decimal:
    if allowance is None:
        raise AllowanceMissing(
            f"The {end} fitting has no cut-off allowance: enter its maker's figure, or state the "
            "cut length itself."
        )
    if allowance.counts_from is not basis:
        raise BasisMismatch(
            f"The {end} fitting's allowance is {_words(allowance.counts_from)}, the length is "
            f"{_words(basis)}: use figures that count from the same points."
        )
    return allowance.mm


def _refuse_no_length(length_mm: Decimal) -> None:
    if not (length_mm.is_finite() and length_mm > 0):
        raise LengthError(f"{length_mm} mm is no length.")


def _words(basis: Basis) -> str:
    return basis.value.replace("_", " ")
