"""What was really done at the bench, as it is judged: figures as typed, tools as they stand."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from assemblies.calc.sheet import SkiveKind


@dataclass(frozen=True, slots=True)
class ToolFacts:
    """A crimper or an instrument with its calibration; a day that is not known is None."""

    code: str
    calibrated_on: date | None = None
    due_on: date | None = None

    def out_of_calibration(self, on: date) -> str:
        """Why it can't be trusted on a day, in words; empty where it can.

        >>> gauge = ToolFacts("M 1", date(2025, 1, 7), date(2026, 1, 7))
        >>> gauge.out_of_calibration(date(2026, 2, 1))
        'M 1 was due for calibration on 2026-01-07'
        """
        if self.due_on is None:
            return f"{self.code} has no day of calibration"
        if on > self.due_on:
            return f"{self.code} was due for calibration on {self.due_on.isoformat()}"
        if self.calibrated_on is not None and on < self.calibrated_on:
            return f"{self.code} was calibrated on {self.calibrated_on.isoformat()}, after that day"
        return ""


@dataclass(frozen=True, slots=True)
class ReelFacts:
    """The reel a piece was cut from.

    `not_usable` says in words why nothing is built from it; `doubts` what can't be told of it, or
    goes for some places only.
    """

    code: str
    hose_code: str
    left_m: Decimal
    age_words: str = ""
    not_usable: str = ""
    doubts: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class SkiveDone:
    """What was taken off: none, not known, a length; `kind` None: not said yet."""

    kind: SkiveKind | None = None
    length_mm: Decimal | None = None


@dataclass(frozen=True, slots=True)
class EndActuals:
    """One end as it was made. Lengths in mm; what is not written yet is None or empty."""

    label: str
    fitting_lot: str = ""
    shell_lot: str = ""
    die_set: str = ""
    insertion_depth_mm: Decimal | None = None
    external_skive: SkiveDone = SkiveDone()
    internal_skive: SkiveDone = SkiveDone()
    setting_mm: Decimal | None = None
    closed_again: bool = False
    od_readings_mm: tuple[Decimal, ...] = ()
    pin: str = ""
    must_pass_pin: str = ""
    mark_visible: bool | None = None
    instrument: ToolFacts | None = None

    @property
    def crimp_od_mm(self) -> Decimal | None:
        """Mean of the readings in mm; None without one.

        >>> EndActuals("A", od_readings_mm=(Decimal("26.30"), Decimal("26.40"))).crimp_od_mm
        Decimal('26.35')
        """
        readings = self.od_readings_mm
        return sum(readings, Decimal(0)) / len(readings) if readings else None

    @property
    def ovality_mm(self) -> Decimal | None:
        """Largest less smallest reading in mm; None without one."""
        readings = self.od_readings_mm
        return max(readings) - min(readings) if readings else None


@dataclass(frozen=True, slots=True)
class BuildActuals:
    """One piece as it was made. `proof_asked` says why the site wants this piece tested."""

    built_on: date
    ends: tuple[EndActuals, EndActuals]
    reel: ReelFacts | None = None
    crimper: ToolFacts | None = None
    made_by: str = ""
    cut_square: bool = False
    bore_cleaned_with: str = ""
    cut_length_mm: Decimal | None = None
    hose_used_m: Decimal | None = None
    finished_length_mm: Decimal | None = None
    angle_deg: Decimal | None = None
    stamped: bool = False
    flushed_with: str = ""
    cleanliness: str = ""
    proof_pressure_bar: Decimal | None = None
    proof_hold_s: int | None = None
    proof_passed: bool | None = None
    gauge: ToolFacts | None = None
    proof_asked: str = ""
    note: str = ""

    @property
    def pressurised(self) -> bool:
        """Whether the piece was under pressure: from then on no crimp is closed again."""
        return self.proof_passed is not None
