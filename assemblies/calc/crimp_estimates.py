"""Estimates of a crimp from geometry, two formulas side by side: never a figure for release."""

from dataclasses import dataclass
from decimal import Decimal

from assemblies.calc.crimping import (
    INDICATIVE_COMPRESSION,
    Joint,
    contact_od_mm,
    crimp_od_for_compression_mm,
    shop_sum_od_mm,
)
from assemblies.calc.trial_start import closing_compression, compression_warning


@dataclass(frozen=True, slots=True)
class CompressionLine:
    """The crimp OD in mm that presses the hose wall by a share, by each formula."""

    share: float
    kept_area_od_mm: float
    shop_sum_od_mm: float

    @property
    def percent(self) -> float:
        return self.share * 100


@dataclass(frozen=True, slots=True)
class Estimates:
    """What geometry says of a joint. `band` is the trade's for its wire layers, ends first."""

    contact_od_mm: float
    layers: int
    band: tuple[CompressionLine, ...]
    asked_share: float | None
    warning: str

    @property
    def asked_percent(self) -> float | None:
        return None if self.asked_share is None else self.asked_share * 100


def estimates_of(joint: Joint | None, layers: int, asked_od_mm: Decimal | None) -> Estimates | None:
    """Work out the estimates of a joint; None where a size of it is not known.

    Parameters: the joint; wire layers of the hose; the OD that the recipe asks, in mm. Kept area:
    the shell's metal keeps its cross-section (derived). Shop's sum: its wall stays as thick as it
    was (common practice, no published source). The band is indicative, seen on one trade page.

    >>> found = estimates_of(Joint(27, 21, 12.7, 19.8, 12.9), 2, Decimal("23.645"))
    >>> [round(line.kept_area_od_mm, 2) for line in found.band], round(found.asked_percent)
    ([23.98, 23.83], 50)
    """
    if joint is None:
        return None
    shares = INDICATIVE_COMPRESSION.get(layers, ())
    share = closing_compression(joint, asked_od_mm)
    return Estimates(
        contact_od_mm=contact_od_mm(joint),
        layers=layers,
        band=tuple(
            CompressionLine(
                one, crimp_od_for_compression_mm(joint, one), shop_sum_od_mm(joint, one)
            )
            for one in shares
        ),
        asked_share=share,
        warning=compression_warning(share, layers),
    )
