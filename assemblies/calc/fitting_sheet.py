"""What a fitting-up sheet says to the person at the machine: frozen, drawn from alone.

What the register does not know is empty here, and the paper has a box for the pen there. A
torque is its maker's figure or nothing: never a guess from a table of another maker.
"""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from assemblies.calc.injection_card import FIRST_AID, FOR_THE_SURGEON
from assemblies.calc.sheet_words import CAUTIONS
from fleet.calc import frozen


@dataclass(frozen=True)
class Place:
    """Where the work is: machine, position, and what the position asks of a hose."""

    site: str
    machine: str
    machine_facts: str = ""
    position: str = ""
    circuit: str = ""
    counts: str = ""
    pressure_bar: Decimal | None = None
    surge_bar: Decimal | None = None
    oil_temperature_c: Decimal | None = None
    fluid: str = ""
    routing_radius_mm: Decimal | None = None


@dataclass(frozen=True)
class Access:
    """What must be there and out of the way before the work begins."""

    labour_h: Decimal | None = None
    people: int | None = None
    lifting: str = ""
    together: str = ""
    note: str = ""


@dataclass(frozen=True)
class HoseCard:
    """One hose as the register knows it; what is empty is for the pen."""

    tag: str = ""
    spec: str = ""
    hose: str = ""
    length: str = ""
    working_bar: Decimal | None = None
    pressure_from: str = ""
    built: str = ""
    where: str = ""
    basis: str = ""


@dataclass(frozen=True)
class PortLine:
    """One end at its port: what it is, what seals it, and its maker's torque."""

    label: str
    port: str = ""
    fitting: str = ""
    connection: str = ""
    seal: str = ""
    torque_nm: Decimal | None = None
    torque_source: str = ""


@dataclass(frozen=True)
class Phase:
    """A part of the work with its steps."""

    name: str
    steps: tuple[str, ...]


@dataclass(frozen=True)
class FittingContent:
    """Everything a fitting-up sheet says, and nothing else."""

    number: str
    drawn_on: date
    place: Place
    access: Access
    old: HoseCard
    new: HoseCard
    ends: tuple[PortLine, PortLine]
    job: str = ""
    bend_radius_mm: Decimal | None = None
    bend_from: str = ""
    guards: tuple[str, ...] = ()
    alerts: tuple[str, ...] = ()
    phases: tuple[Phase, ...] = ()
    cautions: tuple[str, ...] = CAUTIONS
    first_aid: tuple[str, ...] = FIRST_AID
    for_the_surgeon: tuple[str, ...] = FOR_THE_SURGEON
    link: str = ""
    shape: int = 1

    def __post_init__(self) -> None:
        if not self.place.machine.strip():
            raise ValueError("A fitting-up sheet names its machine.")
        if self.ends[0].label == self.ends[1].label:
            raise ValueError(f"Both ends are named {self.ends[0].label}.")

    @property
    def checksum(self) -> str:
        """SHA-256 of the canonical JSON."""
        return frozen.checksum(self)


def to_json(content: FittingContent) -> str:
    """The content as canonical JSON, the form in which it is stored.

    >>> place, none = Place("Blackmere Quarry", "BQ-014"), HoseCard()
    >>> ends = PortLine("A"), PortLine("B", torque_nm=Decimal("60.0"))
    >>> day = date(2026, 11, 26)
    >>> content = FittingContent("BQ 12", day, place, Access(), none, none, ends)
    >>> from_json(to_json(content)) == content
    True
    """
    return frozen.to_json(content)


def from_json(text: str) -> FittingContent:
    """The content as it was stored; ValueError names the place that does not fit."""
    return frozen.from_json(FittingContent, text)
