"""What a register may say of a hose, and how much of it the tables hold."""

from dataclasses import dataclass
from enum import StrEnum
from typing import Literal


class Field(StrEnum):
    """One fact a column may hold. The value is the word used on the command line."""

    TAG = "tag"
    MACHINE = "machine"
    MACHINE_CLASS = "machine_class"
    MACHINE_MAKER = "machine_maker"
    MACHINE_MODEL = "machine_model"
    MACHINE_SERIAL = "machine_serial"
    PLACE = "place"
    CIRCUIT = "circuit"
    CONSEQUENCE = "consequence"
    STORE = "store"
    HOSE_TYPE = "hose_type"
    SIZE = "size"
    LENGTH = "length"
    PRESSURE = "pressure"
    END_A = "end_a"
    END_B = "end_b"
    MADE = "made"
    BUILT = "built"
    FITTED = "fitted"
    FITTED_HOURS = "fitted_hours"
    HOURS_NOW = "hours_now"
    HOURS_ON = "hours_on"
    INSPECTED = "inspected"
    NOTE = "note"


Kind = Literal["text", "size", "length", "pressure", "day", "hours", "choice"]


@dataclass(frozen=True, slots=True)
class FieldFacts:
    """How a field is called, what it holds, and the longest text of it that is kept."""

    label: str
    kind: Kind
    longest: int
    several: bool = False  # texts of several columns may be joined


FACTS: dict[Field, FieldFacts] = {
    Field.TAG: FieldFacts("tag or mark of the hose", "text", 60),
    Field.MACHINE: FieldFacts("machine (fleet number)", "text", 40),
    Field.MACHINE_CLASS: FieldFacts("class of machine", "text", 80),
    Field.MACHINE_MAKER: FieldFacts("maker of the machine", "text", 80),
    Field.MACHINE_MODEL: FieldFacts("model of the machine", "text", 80),
    Field.MACHINE_SERIAL: FieldFacts("serial number of the machine", "text", 60),
    Field.PLACE: FieldFacts("place on the machine", "text", 120, several=True),
    Field.CIRCUIT: FieldFacts("circuit", "choice", 80),
    Field.CONSEQUENCE: FieldFacts("consequence of a failure", "choice", 80),
    Field.STORE: FieldFacts("place in the store", "text", 60),
    Field.HOSE_TYPE: FieldFacts("type of hose", "text", 40),
    Field.SIZE: FieldFacts("size of the hose", "size", 40),
    Field.LENGTH: FieldFacts("length", "length", 40),
    Field.PRESSURE: FieldFacts("working pressure", "pressure", 40),
    Field.END_A: FieldFacts("end A", "text", 120, several=True),
    Field.END_B: FieldFacts("end B", "text", 120, several=True),
    Field.MADE: FieldFacts("hose made", "day", 60),
    Field.BUILT: FieldFacts("assembly built", "day", 60),
    Field.FITTED: FieldFacts("fitted on", "day", 60),
    Field.FITTED_HOURS: FieldFacts("machine hours at fitting", "hours", 40),
    Field.HOURS_NOW: FieldFacts("machine hours now", "hours", 40),
    Field.HOURS_ON: FieldFacts("day of the hours now", "day", 60),
    Field.INSPECTED: FieldFacts("last inspected", "day", 60),
    Field.NOTE: FieldFacts("note", "text", 1000, several=True),
}

# Fields of which several recognised columns are joined without asking.
JOINED = frozenset({Field.END_A, Field.END_B, Field.NOTE})

# Fields whose value often stands once, above blank cells that mean the same.
CARRIED_DOWN = frozenset(
    {
        Field.MACHINE,
        Field.MACHINE_CLASS,
        Field.MACHINE_MAKER,
        Field.MACHINE_MODEL,
        Field.MACHINE_SERIAL,
        Field.HOURS_NOW,
        Field.HOURS_ON,
    }
)
