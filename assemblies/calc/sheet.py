"""What a build sheet says: frozen content, from which alone the paper and the page are drawn.

A sheet is a record of what the fitter was told. It is stored with its number and checksum and
never changes; a later recipe makes another sheet.
"""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import StrEnum

from assemblies.calc.sheet_words import CAUTIONS
from fleet.calc import frozen

CHECK_YOUR_COPY = "check against your copy and the maker's data"
MOST_SLEEVES = 8
MOST_READINGS = 12


class SourceKind(StrEnum):
    """Where a figure comes from."""

    MAKER = "maker"
    STANDARD = "standard"
    SITE = "site"


@dataclass(frozen=True)
class Source:
    """The document behind a figure."""

    kind: SourceKind
    document: str
    edition: str = ""

    def words(self) -> str:
        """The source as the paper prints it; a standard's figure asks to be checked.

        >>> Source(SourceKind.STANDARD, "EN 853", "2015").words()
        "EN 853, edition 2015: check against your copy and the maker's data"
        """
        named = self.document + (f", edition {self.edition}" if self.edition else "")
        if self.kind is SourceKind.STANDARD:
            return f"{named}: {CHECK_YOUR_COPY}"
        return named


@dataclass(frozen=True)
class Rating:
    """A working pressure in bar, and as its source prints it: bar and psi are not conversions."""

    bar: Decimal | None
    printed: str
    source: Source


class SkiveKind(StrEnum):
    """No skive, not known, and a length are three different things."""

    NONE = "none"
    UNKNOWN = "unknown"
    LENGTH = "length"


@dataclass(frozen=True)
class Skive:
    """What is taken off the hose where the shell grips, outside or inside."""

    kind: SkiveKind
    length_mm: Decimal | None = None

    def __post_init__(self) -> None:
        if (self.kind is SkiveKind.LENGTH) != (self.length_mm is not None):
            raise ValueError("A skive has a length exactly when it is one of a length.")
        if self.length_mm is not None and self.length_mm <= 0:
            raise ValueError(f"A skive of {self.length_mm} mm is none: say 'none' instead.")


NO_SKIVE = Skive(SkiveKind.NONE)
SKIVE_UNKNOWN = Skive(SkiveKind.UNKNOWN)


class Basis(StrEnum):
    """How a crimp recipe came to be."""

    PUBLISHED = "published"
    TRIAL = "trial"


class PinAnswer(StrEnum):
    """What the pin must do after the crimp."""

    ENTERS = "enters"
    REFUSES = "refuses"


@dataclass(frozen=True)
class PinCheck:
    """The pin for the tail's bore, from which end and how deep, and the answer expected.

    `must_pass_mm` is a smaller pin that must still pass, where the recipe has one.
    """

    pin_mm: Decimal
    expected: PinAnswer
    entry: str = ""
    must_pass_mm: Decimal | None = None


@dataclass(frozen=True)
class CrimpFigures:
    """The figures of one recipe revision for one end."""

    recipe_code: str
    revision: int
    state: str
    basis: Basis
    basis_words: str
    insertion_depth_mm: Decimal | None
    external_skive: Skive
    internal_skive: Skive
    die: str
    crimp_od_mm: Decimal
    crimp_od_plus_mm: Decimal
    crimp_od_minus_mm: Decimal
    ovality_limit_mm: Decimal
    pin: PinCheck | None = None
    setting_note: str = ""
    rated_bar: Decimal | None = None
    rated_to_c: Decimal | None = None
    rated_by: str = ""
    closing_allowed: bool = True
    readings: int = 3

    def __post_init__(self) -> None:
        if not 3 <= self.readings <= MOST_READINGS:
            raise ValueError(f"{self.readings} readings: three to {MOST_READINGS} fit a sheet.")
        skive, depth = self.external_skive.length_mm, self.insertion_depth_mm
        if skive is not None and depth is not None and skive > depth:
            raise ValueError(
                f"The outside skive of {skive} mm is longer than the insertion depth of "
                f"{depth} mm: bare wire would stand outside the shell."
            )

    @property
    def crimp_od_range_mm(self) -> tuple[Decimal, Decimal]:
        """The smallest and the largest crimp OD that pass."""
        return (
            self.crimp_od_mm - self.crimp_od_minus_mm,
            self.crimp_od_mm + self.crimp_od_plus_mm,
        )

    @property
    def cover_left_mm(self) -> Decimal | None:
        """The cover left under the shell's end, which seals the wire; None without a skive."""
        skive, depth = self.external_skive.length_mm, self.insertion_depth_mm
        return None if skive is None or depth is None else depth - skive


class EndShape(StrEnum):
    """The form of an end, as the drawing knows it."""

    STRAIGHT = "straight"
    BENT = "bent"
    BANJO = "banjo"
    BLOCK = "block"
    OTHER = "other"


class EndHead(StrEnum):
    """What the end presents to the port, as the drawing knows it."""

    NUT = "nut"
    MALE = "male"
    FLANGE = "flange"
    PLAIN = "plain"


@dataclass(frozen=True)
class EndLine:
    """One end of the assembly with its fitting, shell and, where there is one, its recipe."""

    label: str
    fitting_code: str
    fitting_maker: str
    fitting_product: str
    connection: str
    size: str
    form: str
    rating: Rating
    turns_about: str
    allowance_mm: Decimal | None
    allowance_from: str
    shape: EndShape = EndShape.STRAIGHT
    head: EndHead = EndHead.NUT
    bend_deg: int = 0
    drop_mm: Decimal | None = None
    shell_code: str = ""
    shell_maker: str = ""
    shell_product: str = ""
    small_parts: str = ""
    torque: str = ""
    crimp: CrimpFigures | None = None
    no_crimp_reason: str = ""

    def __post_init__(self) -> None:
        if (self.crimp is None) != bool(self.no_crimp_reason.strip()):
            raise ValueError(
                f"End {self.label} needs either its crimp figures or the reason why it has none."
            )

    @property
    def matched(self) -> bool:
        """Whether a published chart names hose, fitting and shell together."""
        return self.crimp is not None and self.crimp.basis is Basis.PUBLISHED


@dataclass(frozen=True)
class HoseLine:
    """The hose the assembly is cut from."""

    code: str
    maker: str
    product: str
    type_name: str
    size_name: str
    rating: Rating
    bend_radius_mm: Decimal | None = None
    bend_radius_source: str = ""
    from_c: Decimal | None = None
    to_c: Decimal | None = None
    outside_diameter_mm: Decimal | None = None
    bore_mm: Decimal | None = None
    reinforcement: str = ""
    reel: str = ""


class LengthBasis(StrEnum):
    """Between which points the length is meant."""

    SEAT = "seat to seat"
    OVERALL = "overall"
    CUT = "cut"


@dataclass(frozen=True)
class LengthLine:
    """The length, its basis and tolerance, and the cut length with the sum behind it.

    `cut_length_mm` is None where an allowance is not known; `arithmetic` then says which.
    """

    length_mm: Decimal
    basis: LengthBasis
    plus_mm: Decimal
    minus_mm: Decimal
    tolerance_source: str
    cut_length_mm: Decimal | None
    arithmetic: str


@dataclass(frozen=True)
class Orientation:
    """The angle from the far end to the near end, clockwise, looking along the hose.

    `seen_from` names the near end. `angle_deg` is None where an end is straight or turns about
    the hose's own axis, and `reason` says so.
    """

    angle_deg: Decimal | None
    tolerance_deg: Decimal | None = None
    seen_from: str = "A"
    reason: str = ""

    def __post_init__(self) -> None:
        if self.angle_deg is not None and not 0 <= self.angle_deg < 360:
            raise ValueError(f"An angle of {self.angle_deg}° is outside 0 to below 360.")
        if self.angle_deg is None and not self.reason.strip():
            raise ValueError("Where no angle is given, say why: which end is straight or turns.")


@dataclass(frozen=True)
class Sleeve:
    """A sleeve or guard on the hose, measured along it from one end; None: to the other end."""

    name: str
    from_mm: Decimal
    to_mm: Decimal | None
    measured_from: str
    note: str = ""

    def __post_init__(self) -> None:
        if self.to_mm is not None and self.to_mm <= self.from_mm:
            raise ValueError(f"Sleeve '{self.name}' ends at {self.to_mm} mm, before it begins.")


@dataclass(frozen=True)
class PartPressure:
    """One part's working pressure, for the line that shows which of them binds."""

    part: str
    bar: Decimal


@dataclass(frozen=True)
class PressureLine:
    """The assembly's working pressure and the part that binds it."""

    working_bar: Decimal | None
    binds: str
    parts: tuple[PartPressure, ...] = ()


@dataclass(frozen=True)
class ProofTest:
    """The proof test: pressure, time held, and whether the site asks for it on this build."""

    pressure_bar: Decimal | None
    policy: str
    hold_from_s: int = 30
    hold_to_s: int = 60
    source: str = ""


@dataclass(frozen=True)
class SheetContent:
    """Everything a build sheet says, and nothing else."""

    number: str
    drawn_on: date
    title: str
    spec_code: str
    spec_revision: int
    description: str
    quantity: int
    hose: HoseLine
    ends: tuple[EndLine, EndLine]
    length: LengthLine
    orientation: Orientation
    pressure: PressureLine
    test: ProofTest
    machine: str = ""
    position: str = ""
    need_by: date | None = None
    job: str = ""
    sleeves: tuple[Sleeve, ...] = ()
    cleanliness: str = ""
    alerts: tuple[str, ...] = ()
    steps: tuple[str, ...] = ()
    cautions: tuple[str, ...] = CAUTIONS
    notes: str = ""
    stamp_lines: tuple[str, ...] = ()
    spec_link: str = ""
    job_link: str = ""
    shape: int = 1

    def __post_init__(self) -> None:
        if self.quantity < 1:
            raise ValueError(f"A sheet for {self.quantity} pieces builds nothing.")
        if self.ends[0].label == self.ends[1].label:
            raise ValueError(f"Both ends are named {self.ends[0].label}.")
        if len(self.sleeves) > MOST_SLEEVES:
            raise ValueError(f"{len(self.sleeves)} sleeves: a sheet shows {MOST_SLEEVES} at most.")
        labels = [end.label for end in self.ends]
        if self.orientation.seen_from not in labels:
            raise ValueError(f"'{self.orientation.seen_from}' is not an end: {', '.join(labels)}.")

    @property
    def can_be_crimped(self) -> bool:
        """Whether both ends have a recipe's figures."""
        return all(end.crimp is not None for end in self.ends)

    @property
    def checksum(self) -> str:
        """SHA-256 of the canonical JSON."""
        return frozen.checksum(self)


def to_json(content: SheetContent) -> str:
    """The content as canonical JSON, the form in which it is stored."""
    return frozen.to_json(content)


def from_json(text: str) -> SheetContent:
    """The content as it was stored; ValueError names the place that does not fit."""
    return frozen.from_json(SheetContent, text)
