"""Where to begin a crimp trial, and what its closing crimp did to the hose wall."""

from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal
from math import isfinite

from assemblies.calc.crimping import (
    INDICATIVE_COMPRESSION,
    Joint,
    contact_od_mm,
    trade_estimate_mm,
    wall_compression,
)

QUARTER = Decimal("0.25")
HUNDREDTH = Decimal("0.01")


@dataclass(frozen=True, slots=True)
class TrialStart:
    """Estimates to begin from, all in mm; None where the parts' figures do not carry them.

    `contact_od_mm` is where the shell first touches the wire, `band_od_mm` the crimp OD by the
    trade's band of compression, the settings are the same through the dial's difference.
    """

    contact_od_mm: Decimal | None = None
    band_od_mm: tuple[Decimal, Decimal] | None = None
    first_setting_mm: Decimal | None = None
    estimate_setting_mm: Decimal | None = None


def trial_start(joint: Joint | None, layers: int, difference_mm: Decimal) -> TrialStart:
    """Propose the first setting and the estimated closing setting of a trial.

    Parameters: the joint (None where a size is not known); wire layers of the hose; the dial's
    difference (measured OD − setting) in mm. The first setting is the contact OD less the
    difference, up to the next quarter of a mm; the estimate is the middle of the trade's band.
    Never a crimp figure for release. Source: derived; the band is indicative.

    >>> start = trial_start(Joint(27, 21, 12.7, 19.8, 12.9), 2, Decimal("0.15"))
    >>> str(start.contact_od_mm), str(start.first_setting_mm), str(start.estimate_setting_mm)
    ('26.18', '26.25', '23.75')
    """
    if joint is None:
        return TrialStart()
    contact = _mm(contact_od_mm(joint))
    quarters = ((contact - difference_mm) / QUARTER).to_integral_value(ROUND_CEILING)
    first = _above_zero(quarters * QUARTER)
    if layers not in INDICATIVE_COMPRESSION:
        return TrialStart(contact, None, first, None)
    low, high = (_mm(od) for od in trade_estimate_mm(joint, layers))
    estimate = _above_zero(_mm((low + high) / 2) - difference_mm)
    return TrialStart(contact, (low, high), first, estimate)


def closing_compression(joint: Joint | None, closing_od_mm: Decimal | None) -> float | None:
    """Share of the hose wall pressed away at the closing OD; None where it can't be told.

    Source: derived, see `wall_compression`.

    >>> round(closing_compression(Joint(27, 21, 12.7, 19.8, 12.9), Decimal("23.645")), 3)
    0.498
    """
    if joint is None or closing_od_mm is None:
        return None
    try:
        share = wall_compression(joint, float(closing_od_mm))
    except ValueError:
        return None
    return share if isfinite(share) else None


def compression_warning(share: float | None, layers: int) -> str:
    """What to say of a wall compression outside the indicative band; empty inside it.

    >>> compression_warning(0.44, 2)
    ''
    >>> compression_warning(0.60, 2)[:51]
    'The hose wall is pressed by 60 %, by geometry: more'
    """
    if share is None or layers not in INDICATIVE_COMPRESSION:
        return ""
    low, high = INDICATIVE_COMPRESSION[layers]
    if low <= share <= high:
        return ""
    side = "less" if share < low else "more"
    return (
        f"The hose wall is pressed by {_percent(share)}, by geometry: {side} than the "
        f"indicative {_percent(low)} to {_percent(high)} for {layers} wire layers. "
        "A thick or stainless tail collapses late; cut the piece open and look."
    )


def _percent(share: float) -> str:
    return f"{share * 100:.0f} %"


def _mm(value: float | Decimal) -> Decimal:
    return Decimal(str(value)).quantize(HUNDREDTH)


def _above_zero(value: Decimal) -> Decimal | None:
    return value if value > 0 else None
