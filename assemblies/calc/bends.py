"""Free hose a bend needs: what lies in the arc, and the straight pieces at its ends."""

from decimal import ROUND_CEILING, ROUND_HALF_EVEN, Decimal
from enum import StrEnum

PI = Decimal("3.14159265358979323846")
STRAIGHT_IN_DIAMETERS = Decimal("1.5")
"""Least straight piece behind a fitting, in outside diameters: DGUV Regel 113-020, figure 9."""
_TENTH = Decimal("0.1")
_MOST_MM = 1_000_000


class BendError(ValueError):
    """A bend that cannot be worked out; the message says why."""


class RadiusChanges(BendError):
    """A loop whose radius changes as it moves: it needs more hose, and a drawing."""


class FixedEnd(StrEnum):
    """Where the fixed end of a moving loop stands against the stroke of the other."""

    MID_STROKE = "mid_stroke"
    END_OF_STROKE = "end_of_stroke"


def bend_length(angle_deg: Decimal, radius_mm: Decimal, outside_mm: Decimal) -> Decimal:
    """Work out the hose in a bend, along its middle.

    Parameters: angle_deg, above 0 up to 360; radius_mm to the inside of the bend; outside_mm,
    diameter of the hose. Formula: angle/360 · 2π (radius + outside/2).
    Returns mm rounded half-even to 0.1.
    Errors: BendError. Source: derived.

    >>> bend_length(Decimal(180), Decimal(180), Decimal("23.1"))
    Decimal('601.8')
    """
    return _arc(angle_deg, radius_mm, outside_mm).quantize(_TENTH, rounding=ROUND_HALF_EVEN)


def straight_piece(outside_mm: Decimal) -> Decimal:
    """Give the least straight piece between a fitting and a bend: 1.5 outside diameters, in mm.

    Errors: BendError. Source: DGUV Regel 113-020, figure 9.

    >>> straight_piece(Decimal("23.1"))
    Decimal('34.65')
    """
    _refuse_not_above_zero(outside_mm, "outside diameter")
    return STRAIGHT_IN_DIAMETERS * outside_mm


def least_free_length(
    angle_deg: Decimal,
    radius_mm: Decimal,
    outside_mm: Decimal,
    *,
    straight_mm: Decimal | None = None,
) -> Decimal:
    """Work out the least free hose of one bend: the arc and a straight piece at each end.

    Parameters: as bend_length; straight_mm, 1.5 outside diameters unless stated.
    Formula: arc + 2 · straight: 180° is the U-bend, 90° the quarter bend.
    Returns mm rounded up to 0.1; the fittings come on top.
    Errors: BendError, also for a straight piece under the least.
    Source: derived; straight piece as straight_piece.

    >>> least_free_length(Decimal(180), Decimal(180), Decimal("23.1"))
    Decimal('671.1')
    >>> least_free_length(Decimal(90), Decimal(180), Decimal("23.1"))
    Decimal('370.2')
    """
    straight = _straight(outside_mm, straight_mm)
    return _up(_arc(angle_deg, radius_mm, outside_mm) + 2 * straight)


def moving_loop_length(
    radius_mm: Decimal,
    outside_mm: Decimal,
    travel_mm: Decimal,
    *,
    fixed_end: FixedEnd,
    straight_mm: Decimal | None = None,
    radius_changes: bool = False,
) -> Decimal:
    """Work out the least free hose of a U-loop that moves along its legs.

    Parameters: as least_free_length; travel_mm, stroke of the moving end; fixed_end.
    Formula: U-bend + travel/2 with the fixed end level with mid-stroke, + travel level with one
    end of the stroke. Returns mm rounded up to 0.1.
    Limits: the radius stays the same all the way.
    Errors: RadiusChanges (flagged, not worked out), BendError. Source: derived.

    >>> moving_loop_length(Decimal(180), Decimal("23.1"), Decimal(400),
    ...                    fixed_end=FixedEnd.MID_STROKE)
    Decimal('871.1')
    """
    if radius_changes:
        raise RadiusChanges(
            "The loop's radius changes as it moves: it needs more hose than this sum gives. Draw "
            "the loop at both ends of the stroke and measure."
        )
    _refuse_not_above_zero(travel_mm, "travel")
    share = travel_mm / 2 if fixed_end is FixedEnd.MID_STROKE else travel_mm
    straight = _straight(outside_mm, straight_mm)
    return _up(_arc(Decimal(180), radius_mm, outside_mm) + 2 * straight + share)


def _arc(angle_deg: Decimal, radius_mm: Decimal, outside_mm: Decimal) -> Decimal:
    _refuse_not_above_zero(angle_deg, "angle")
    _refuse_not_above_zero(radius_mm, "bend radius")
    _refuse_not_above_zero(outside_mm, "outside diameter")
    if angle_deg > 360:
        raise BendError(f"A bend of {angle_deg}° is more than a full turn.")
    return angle_deg / 180 * PI * (radius_mm + outside_mm / 2)


def _straight(outside_mm: Decimal, stated_mm: Decimal | None) -> Decimal:
    least = straight_piece(outside_mm)
    if stated_mm is None:
        return least
    if not least <= stated_mm <= _MOST_MM:
        raise BendError(
            f"A straight piece of {stated_mm} mm will not do: the least is {least} mm "
            "(1.5 outside diameters)."
        )
    return stated_mm


def _refuse_not_above_zero(value: Decimal, what: str) -> None:
    if not (value.is_finite() and value > 0):
        raise BendError(f"The {what} must be above zero, not {value}.")
    if value > _MOST_MM:
        raise BendError(f"The {what} of {value} is bigger than anything met in the trade.")


def _up(value: Decimal) -> Decimal:
    """A least length is rounded up: rounded down it would not be enough."""
    return value.quantize(_TENTH, rounding=ROUND_CEILING)
