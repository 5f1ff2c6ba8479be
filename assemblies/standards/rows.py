"""The shapes of the cited tables' rows: a figure or range, and the source that stands behind it."""

from dataclasses import dataclass
from decimal import Decimal

from assemblies.standards.sources import Source


@dataclass(frozen=True, slots=True)
class SizeRow:
    """A nominal hose size and its four names; `aliases` are other DN prints of it."""

    dn: int
    dash: int
    inch: str
    bore_mm: Decimal
    aliases: tuple[int, ...]
    source: Source


@dataclass(frozen=True, slots=True)
class TubeSizeRow:
    """A size of hose named by the tube it replaces (100R5, 100R14)."""

    dash: int
    dn: int
    bore_inch: str
    source: Source


@dataclass(frozen=True, slots=True)
class HoseType:
    """A hose type by the names it is found under; `layers` None where it varies by size."""

    type: str
    names: tuple[str, ...]
    reinforcement: str
    layers: int | None
    source: Source


@dataclass(frozen=True, slots=True)
class HosePressure:
    """The working pressure a document prints for a type and size."""

    type: str
    dn: int
    working_pressure_bar: Decimal
    source: Source


@dataclass(frozen=True, slots=True)
class BendRadius:
    """The smallest bend radius, to the inside of the bend."""

    type: str
    dn: int
    bend_radius_mm: Decimal
    source: Source


@dataclass(frozen=True, slots=True)
class PrintedTest:
    """A proof or burst pressure as a document prints it: rounded, no multiple of the rating."""

    type: str
    dn: int
    test: str
    printed_bar: Decimal
    source: Source


@dataclass(frozen=True, slots=True)
class HoseDiameters:
    """The range of the reinforcement's diameter and the greatest outside diameter."""

    type: str
    dn: int
    reinforcement_min_mm: Decimal
    reinforcement_max_mm: Decimal
    outside_max_mm: Decimal
    source: Source


@dataclass(frozen=True, slots=True)
class TemperatureRange:
    """The temperatures a document allows a type with oil, water-based fluid or water."""

    type: str
    fluid: str
    min_c: int
    max_c: int
    source: Source


@dataclass(frozen=True, slots=True)
class LengthChange:
    """How much a hose may shorten (negative) or lengthen at working pressure, in per cent."""

    type: str
    shortest_pct: Decimal
    longest_pct: Decimal
    source: Source


@dataclass(frozen=True, slots=True)
class EndRating:
    """The working pressure a document prints for a connection end and size."""

    end: str
    size: str
    thread: str | None
    working_pressure_bar: Decimal
    source: Source


@dataclass(frozen=True, slots=True)
class LengthTolerance:
    """Allowed deviation of an assembly's length, for lengths over one figure up to another."""

    dn_from: int
    dn_to: int
    over_mm: Decimal
    up_to_mm: Decimal | None
    plus: Decimal
    minus: Decimal
    is_percent: bool
    source: Source


@dataclass(frozen=True, slots=True)
class AngleTolerance:
    """Allowed deviation of the angle between two ends."""

    over_mm: Decimal
    up_to_mm: Decimal | None
    plus_minus_deg: Decimal
    source: Source


@dataclass(frozen=True, slots=True)
class AgeLimit:
    """One limit of a named preset; `counts_from` names the clock (hose_made, built, fitted…)."""

    preset: str
    title: str
    limit: str
    value: int
    unit: str
    counts_from: str
    source: Source


@dataclass(frozen=True, slots=True)
class ConfusableThread:
    """Two ends that can be screwed or bolted together and must not be."""

    thread: str
    first: str
    second: str
    why: str
    source: Source


@dataclass(frozen=True, slots=True)
class ThreadRow:
    """The thread of a connection end and size. `seat` is the cone's angle, `flat` or `thread`."""

    end: str
    size: str
    thread: str
    major_mm: Decimal
    pitch_mm: Decimal
    threads_per_inch: Decimal | None
    tube_mm: Decimal | None
    seat: str
    is_tapered: bool
    source: Source


@dataclass(frozen=True, slots=True)
class FlangeHead:
    """A four-bolt flange head: its outside diameter and the longer distance between bolts."""

    end: str
    size: str
    head_mm: Decimal
    spacing_mm: Decimal
    source: Source
