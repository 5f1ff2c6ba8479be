"""Reading a cited table: every row names its document, edition, mark and second source."""

import csv
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from enum import StrEnum
from pathlib import Path

UNVERIFIED = "unverified"
SOURCE_COLUMNS = ("document", "edition", "mark", "confirmed_by", "note")
_FOLDER = Path(__file__).parent


class TableError(ValueError):
    """A row that may not be used; the message names file, line and column."""


class Mark(StrEnum):
    """How a figure was come by."""

    SEEN = "seen"  # in a public page that quotes the document
    MEMORY = "memory"  # from memory, to be checked
    DERIVED = "derived"  # by arithmetic from other figures
    PRACTICE = "practice"  # common practice, no published source


@dataclass(frozen=True, slots=True)
class Source:
    """Where a row comes from, and what else stands behind it."""

    document: str
    edition: str
    mark: Mark
    confirmed_by: str
    note: str

    @property
    def is_unverified(self) -> bool:
        return self.confirmed_by == UNVERIFIED

    def __str__(self) -> str:
        return f"{self.document}, {self.edition}"


@dataclass(frozen=True, slots=True)
class Row:
    """One line of a table, with the place to name when it is wrong."""

    place: str
    values: Mapping[str, str]
    source: Source

    def text(self, column: str) -> str:
        value = self.values.get(column, "").strip()
        if not value:
            raise TableError(f"{self.place}: nothing stands under {column}.")
        return value

    def decimal(self, column: str) -> Decimal:
        try:
            number = Decimal(self.text(column))
        except InvalidOperation as error:
            raise TableError(f"{self.place}: {column} is not a number.") from error
        if not number.is_finite():
            raise TableError(f"{self.place}: {column} is not a number.")
        return number

    def whole(self, column: str) -> int:
        number = self.decimal(column)
        if number != number.to_integral_value():
            raise TableError(f"{self.place}: {column} is not a whole number.")
        return int(number)

    def decimal_or_none(self, column: str) -> Decimal | None:
        return self.decimal(column) if self.values.get(column, "").strip() else None

    def whole_or_none(self, column: str) -> int | None:
        return self.whole(column) if self.values.get(column, "").strip() else None

    def one_of(self, column: str, *words: str) -> str:
        word = self.text(column)
        if word not in words:
            raise TableError(f"{self.place}: {column} must be one of {', '.join(words)}.")
        return word


def read_table(name: str, *, folder: Path = _FOLDER) -> tuple[Row, ...]:
    """Read every row of a table, or refuse the table.

    Parameters: name of the CSV file; folder it stands in.
    Errors: TableError where a row has more or fewer cells than the head, or lacks document,
    edition, mark, confirmed_by or note. Source: the project's own rule.

    >>> read_table("sizes.csv")[4].text("inch")
    '1/2'
    """
    with (folder / name).open(newline="", encoding="utf-8") as file:
        lines = csv.DictReader(file, strict=True)
        return tuple(_row(f"{name} line {lines.line_num}", line) for line in lines)


def _row(place: str, line: Mapping[str | None, str | None]) -> Row:
    values = {key: value for key, value in line.items() if key is not None and value is not None}
    if len(values) != len(line):
        raise TableError(f"{place}: the row has not as many cells as the head.")
    for column in SOURCE_COLUMNS:
        if not values.get(column, "").strip():
            raise TableError(f"{place}: {column} is missing; a row without it may not be used.")
    if values["mark"] not in list(Mark):
        raise TableError(f"{place}: the mark must be one of {', '.join(Mark)}.")
    source = Source(
        values["document"], values["edition"], Mark(values["mark"]), values["confirmed_by"],
        values["note"],
    )  # fmt: skip
    return Row(place, values, source)
