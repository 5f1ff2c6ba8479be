"""What a row of a register becomes: an entry, a refusal with its cells, or left out."""

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal
from typing import NamedTuple

from assemblies.calc.datecodes import Precision
from assemblies.calc.sizes import Size


class Dated(NamedTuple):
    """A date as far as it is known, and as it was typed."""

    earliest: dt.date
    latest: dt.date
    precision: Precision
    typed: str


class Measured(NamedTuple):
    """A measure in the unit of its field, and as it was typed."""

    value: Decimal
    typed: str


class Sized(NamedTuple):
    """A size, and as it was typed."""

    size: Size
    typed: str


class RegisterEntry(NamedTuple):
    """One hose as a row tells it. An empty text or None says that the row is silent."""

    row_number: int
    tag: str = ""
    machine: str = ""
    machine_class: str = ""
    machine_maker: str = ""
    machine_model: str = ""
    machine_serial: str = ""
    place: str = ""
    circuit: str = ""
    circuit_typed: str = ""  # people's own word, where it is none of the known circuits
    consequence: str = ""
    store: str = ""
    hose_type: str = ""
    size: Sized | None = None
    length: Measured | None = None
    pressure: Measured | None = None
    end_a: str = ""
    end_b: str = ""
    made: Dated | None = None
    built: Dated | None = None
    fitted: Dated | None = None
    fitted_hours: Measured | None = None
    hours_now: Measured | None = None
    hours_on: dt.date | None = None
    inspected: dt.date | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class CellRefusal:
    """One cell that can't be read: which, under what name, what stood there, what is wrong."""

    cell: str
    header: str
    found: str
    reason: str


@dataclass(frozen=True, slots=True)
class RowRefused:
    """A row that is not taken, with each reason, and what of its place could be read."""

    row_number: int
    refusals: tuple[CellRefusal, ...]
    tag: str = ""
    machine: str = ""
    place: str = ""
    store: str = ""


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A row that is no hose (blank, a total, a heading, the header again), and why."""

    row_number: int
    reason: str
    found: str = ""


ReadRow = RegisterEntry | RowRefused | LeftOut
