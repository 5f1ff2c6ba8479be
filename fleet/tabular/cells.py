"""What a table is made of: cells, rows, merged blocks."""

import datetime as dt
from collections.abc import Mapping
from decimal import Decimal
from typing import Literal, NamedTuple

CellKind = Literal[
    "text",
    "number",
    "day",
    "moment",
    "boolean",
    "error",
    "formula_without_value",
    "blank",
]
CellValue = str | Decimal | dt.date | dt.datetime | bool | None


class Cell(NamedTuple):
    """One cell: the text a person sees, and what the file says it is."""

    text: str
    kind: CellKind = "text"
    value: CellValue = None
    format: str = ""


BLANK = Cell("", "blank")


class Merged(NamedTuple):
    """A merged block (rows and columns count from 1 and 0) and the cell at its top left."""

    top: int
    left: int
    bottom: int
    right: int
    cell: Cell = BLANK


class Row(NamedTuple):
    """One row by its number in the file. `covered` names the merged block over a column.

    A covered cell is blank in `cells`: whether the block's text is meant for it is for the
    reader of the row to say.
    """

    number: int
    cells: tuple[Cell, ...]
    covered: Mapping[int, Merged]

    @property
    def is_blank(self) -> bool:
        return all(cell.kind == "blank" for cell in self.cells)


NOTHING_COVERED: Mapping[int, Merged] = {}


_ERRORS = frozenset({"#N/A", "#REF!", "#VALUE!", "#DIV/0!", "#NAME?", "#NUM!", "#NULL!"})


def is_error_text(text: str) -> bool:
    """Whether a text is an error that a program wrote in place of a value.

    >>> is_error_text("#REF!"), is_error_text("#####"), is_error_text("#7")
    (True, True, False)
    """
    return text.startswith("#") and (text in _ERRORS or (len(text) > 2 and not text.strip("#")))


def column_letter(index: int) -> str:
    """The letters of a column counted from 0.

    >>> column_letter(0), column_letter(27), column_letter(16383)
    ('A', 'AB', 'XFD')
    """
    letters = ""
    index += 1
    while index:
        index, rest = divmod(index - 1, 26)
        letters = chr(65 + rest) + letters
    return letters


def column_index(letters: str) -> int:
    """The place of a column, counted from 0; -1 for what is not a column's letters.

    >>> column_index("A"), column_index("ab"), column_index("7")
    (0, 27, -1)
    """
    index = 0
    for letter in letters.upper():
        if not "A" <= letter <= "Z":
            return -1
        index = index * 26 + ord(letter) - 64
    return index - 1


def cell_name(column: int, row_number: int) -> str:
    """The name of a cell as a spreadsheet shows it.

    >>> cell_name(7, 17)
    'H17'
    """
    return f"{column_letter(column)}{row_number}"
