"""What a register leaves open, gathered to one question for each column."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from .fields import FACTS, Field

Answers = Mapping[str, str]
_SHOWN_EXAMPLES = 5
A_DAY = "a day"  # the option of a question that is answered with a date


@dataclass(frozen=True, slots=True)
class Option:
    """One answer: its word, and what it would make of the examples."""

    value: str
    label: str


@dataclass(frozen=True, slots=True)
class Question:
    """One question about one column. `key` is the field and the matter, as `size.notation`."""

    key: str
    field: Field
    sentence: str
    options: tuple[Option, ...]
    examples: tuple[str, ...]
    cells: int
    answered_by_day: bool = False


class Asked(Exception):
    """A cell that could be read more than one way: the column's question decides."""

    def __init__(self, matter: str, options: Mapping[str, str]) -> None:
        super().__init__(matter)
        self.matter = matter
        self.options = dict(options)


_SENTENCES: Mapping[str, str] = {
    "order": "In what order stand day, month and year?",
    "code": "How are these date codes meant?",
    "swapped": (
        "The column mixes real dates with dates typed as text, and no real date has a day above "
        "12: a spreadsheet program may have swapped day and month in them. Are the real dates "
        "right as they stand?"
    ),
    "notation": "Sizes without a mark: what do the bare numbers mean?",
    "dates": "A spreadsheet program has turned sizes into dates. Are these sizes meant?",
    "unit": "Which unit is meant where none is written?",
    "decimal": "What is the comma or point before three figures?",
    "blanks": "Cells are blank below a filled one. What does a blank cell mean?",
    "headings": "No machine stands in these rows, but headings stand above them. What are they?",
    "day": "No column says on which day the hours were read. When was it?",
}


@dataclass(slots=True)
class _Asking:
    options: dict[str, list[str]] = field(default_factory=dict)
    examples: dict[str, None] = field(default_factory=dict)
    cells: int = 0


@dataclass(slots=True)
class Gathered:
    """The questions as they come up, row by row."""

    asking: dict[tuple[Field, str], _Asking] = field(default_factory=dict)

    def add(self, asked_field: Field, asked: Asked, shown: str) -> None:
        asking = self.asking.setdefault((asked_field, asked.matter), _Asking())
        asking.cells += 1
        new = shown not in asking.examples and len(asking.examples) < _SHOWN_EXAMPLES
        if new:
            asking.examples[shown] = None
        for value, reading in asked.options.items():
            readings = asking.options.setdefault(value, [])
            if new and reading:
                readings.append(f"{shown} → {reading}")

    def questions(self) -> tuple[Question, ...]:
        """The questions, in the order in which they came up."""
        return tuple(_question(*key, asking) for key, asking in self.asking.items())


def _question(asked_field: Field, matter: str, asking: _Asking) -> Question:
    options = tuple(
        Option(value, f"{label_of(matter, value)}{_with(readings)}")
        for value, readings in asking.options.items()
    )
    return Question(
        f"{asked_field}.{matter}",
        asked_field,
        sentence_of(asked_field, matter),
        options,
        tuple(asking.examples),
        asking.cells,
        answered_by_day=matter == "day",
    )


def sentence_of(asked_field: Field, matter: str) -> str:
    """The question in words."""
    kind, _, word = matter.partition(":")
    label = FACTS[asked_field].label
    if kind == "word":
        return f"{label.capitalize()}: what does “{word}” mean?"
    return f"{label.capitalize()}: {_SENTENCES[kind]}"


_LABELS: Mapping[str, str] = {
    "dmy": "day, month, year",
    "mdy": "month, day, year",
    "ymd": "year, month, day",
    "dash": "dash (sixteenths of an inch)",
    "inch": "inches",
    "dn": "DN",
    "mm": "millimetres",
    "fractions": "yes, sizes in inches",
    "refuse": "no: refuse these rows",
    "as_they_stand": "yes, as they stand",
    "swap": "no: swap day and month",
    "thousands": "it parts thousands",
    "above": "the same as the cell above",
    "blank": "nothing is known",
    "machine": "each heading names a machine",
    "remark": "remarks, no machines",
    "leave_out": "leave the hours out",
    A_DAY: "the day it was",
}


def label_of(matter: str, value: str) -> str:
    """An answer in words.

    >>> label_of("order", "dmy"), label_of("decimal", "decimal")
    ('day, month, year', 'it is the decimal sign')
    """
    if matter == "decimal" and value == "decimal":
        return "it is the decimal sign"
    return _LABELS.get(value, value.replace("_", " ").replace("-", " "))


def _with(readings: list[str]) -> str:
    return f" ({', '.join(readings)})" if readings else ""
