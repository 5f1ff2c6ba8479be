"""What a test certificate of one assembly says: frozen, drawn from alone.

It is drawn from a signed build whose proof test was passed. It never changes; an amendment made
later gives another certificate, which names the one before.
"""

from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal

from assemblies.calc.sheet import Basis, PressureLine
from fleet.calc import frozen

STANDARDS = (
    "Working pressure, the lowest part: SAE J517, ISO 18752, scope",
    "Proof test, 2 × working pressure: SAE J343, ISO 6605",
    "Length tolerance: DIN 20066, or the specification's own",
)
"""The documents by which it was judged; the paper asks to check each against one's own copy."""


@dataclass(frozen=True)
class ToolLine:
    """A crimper or instrument with its calibration as it stood on the day of the work."""

    code: str
    description: str = ""
    calibrated_on: date | None = None
    due_on: date | None = None


@dataclass(frozen=True)
class CertifiedEnd:
    """One end as it was made: parts, recipe and its basis, readings against what was asked.

    Lengths in mm. `asked_from_mm` and `asked_to_mm` bound the crimp OD that passes.
    """

    label: str
    fitting: str
    connection: str
    shell: str
    lots: str
    recipe: str
    basis: Basis
    basis_words: str
    asked_from_mm: Decimal
    asked_to_mm: Decimal
    ovality_limit_mm: Decimal
    readings_mm: tuple[Decimal, ...]
    mean_mm: Decimal
    ovality_mm: Decimal
    die: str = ""
    pin: str = ""
    mark: str = ""
    closed_again: bool = False
    measured_with: ToolLine | None = None

    def __post_init__(self) -> None:
        if not self.readings_mm:
            raise ValueError(f"End {self.label} has no readings: nothing is certified of it.")

    @property
    def matched(self) -> bool:
        """Whether a published chart names hose, fitting and shell together."""
        return self.basis is Basis.PUBLISHED


@dataclass(frozen=True)
class ProofLine:
    """The proof test as it was made: asked and held pressure in bar, time in seconds."""

    asked_bar: Decimal
    held_bar: Decimal
    hold_s: int
    medium: str
    gauge: ToolLine

    def __post_init__(self) -> None:
        if self.held_bar < self.asked_bar:
            raise ValueError(
                f"A proof test at {self.held_bar} bar, below the {self.asked_bar} bar asked, "
                "is none: no certificate."
            )


@dataclass(frozen=True)
class PersonLine:
    """Who did something, and on which day."""

    deed: str
    name: str
    on: date


@dataclass(frozen=True)
class AmendmentLine:
    """What was added to the signed build later, and why."""

    on: date
    by: str
    text: str
    reason: str


@dataclass(frozen=True)
class MadeLine:
    """One thing as it was asked for and as it was made, in words."""

    what: str
    asked: str
    made: str


@dataclass(frozen=True)
class CertificateContent:
    """Everything a certificate says, and nothing else.

    `doubts` are what could not be told for sure when it was signed; `note` says what was decided.
    """

    number: str
    drawn_on: date
    site: str
    tag: str
    title: str
    spec_code: str
    spec_revision: int
    sheet: str
    hose: str
    reel: str
    pressure: PressureLine
    proof: ProofLine
    ends: tuple[CertifiedEnd, CertifiedEnd]
    people: tuple[PersonLine, ...]
    built_on: date
    made: tuple[MadeLine, ...] = ()
    crimper: ToolLine | None = None
    doubts: tuple[str, ...] = ()
    note: str = ""
    amendments: tuple[AmendmentLine, ...] = ()
    alerts: tuple[str, ...] = ()
    standards: tuple[str, ...] = STANDARDS
    replaces: str = ""
    link: str = ""
    shape: int = 1

    def __post_init__(self) -> None:
        if self.pressure.working_bar is None:
            raise ValueError("A certificate states a working pressure.")
        if self.proof.held_bar < self.pressure.working_bar:
            raise ValueError("A proof test below the working pressure proves nothing.")
        if not self.people:
            raise ValueError("A certificate names who signed.")

    @property
    def matched(self) -> bool:
        """Whether published charts name the parts of both ends."""
        return all(end.matched for end in self.ends)

    @property
    def checksum(self) -> str:
        """SHA-256 of the canonical JSON."""
        return frozen.checksum(self)


def with_tools_of(content: CertificateContent, former: CertificateContent) -> CertificateContent:
    """Keep the calibrations that the certificate before this one states of the same tools.

    A tool that was calibrated since must not change what is said of work done before.
    """
    gauge = _tool_as(content.proof.gauge, former.proof.gauge) or content.proof.gauge
    proof = replace(content.proof, gauge=gauge)
    ends = (
        replace(end, measured_with=_tool_as(end.measured_with, before.measured_with))
        for end, before in zip(content.ends, former.ends, strict=True)
    )
    near, far = ends
    crimper = _tool_as(content.crimper, former.crimper)
    return replace(content, proof=proof, ends=(near, far), crimper=crimper)


def _tool_as(tool: ToolLine | None, before: ToolLine | None) -> ToolLine | None:
    """The tool as it was stated before, where it is the same one.

    >>> again = ToolLine("M 1", "gauge", date(2027, 1, 7))
    >>> _tool_as(again, ToolLine("M 1", "gauge", date(2026, 1, 7))).calibrated_on.isoformat()
    '2026-01-07'
    """
    if tool is None or before is None or tool.code != before.code:
        return tool
    return before


def to_json(content: CertificateContent) -> str:
    """The content as canonical JSON, the form in which it is stored."""
    return frozen.to_json(content)


def from_json(text: str) -> CertificateContent:
    """The content as it was stored; ValueError names the place that does not fit."""
    return frozen.from_json(CertificateContent, text)
