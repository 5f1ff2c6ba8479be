"""A whole file understood: which sheet, which header, which columns, and its rows in order."""

import datetime as dt
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import islice

from fleet.tabular import Row, TableFile, TableRefused, column_letter

from .columns import Column, match_columns
from .entries import ReadRow
from .fields import Field
from .folding import words_of
from .header import SEARCHED_ROWS, Header, find_header, header_of
from .questions import Answers, Question
from .row_reading import RowReader


@dataclass(frozen=True, slots=True)
class Chosen:
    """What a person chose for a file; empty where nothing was chosen.

    `columns` names, for a field, headers as they stand in the file, or letters of columns; a
    letter in square brackets (`[C]`) is never taken for a header.
    """

    sheet: str = ""
    header_row: int = 0
    columns: Mapping[str, Sequence[str]] | None = None


@dataclass(frozen=True, slots=True)
class Understood:
    """The sheet, header and columns that a file is read by."""

    sheet: str
    header: Header
    columns: tuple[Column, ...]
    other_sheets: tuple[str, ...] = ()

    def has(self, field: Field) -> bool:
        return any(column.field is field for column in self.columns)


@dataclass(frozen=True, slots=True)
class ReadRegister:
    """All rows below the header, and what the columns leave open."""

    rows: tuple[ReadRow, ...]
    questions: tuple[Question, ...]
    read_as_blank: Mapping[str, Mapping[str, int]]
    unnamed: tuple[str, ...]


def understand(
    table: TableFile, chosen: Chosen, remembered: Mapping[str, Sequence[str]] | None = None
) -> Understood:
    """Find sheet, header and columns, by what a person chose, else by what is remembered.

    Parameters: the table; what was chosen for this file; the headers that the site's columns
    had before, by field (one that this file has not is passed over).
    Raises `TableRefused` where no header is found, several sheets have one, or a column that
    was chosen is not there. Source: the project's own.

    >>> from fleet.tabular import open_table
    >>> table = open_table(b"Machine;Place;Size\\nEX-01;Boom;1/2\\n", name="register.csv")
    >>> [column.field.value for column in understand(table, Chosen()).columns]
    ['machine', 'place', 'size']
    """
    sheet, header, others = _sheet_and_header(table, chosen)
    by_hand = _remembered(header, remembered or {})
    by_hand.update(_named(header, chosen.columns or {}))
    return Understood(sheet, header, match_columns(header.texts, by_hand=by_hand), others)


def read_register(
    table: TableFile, found: Understood, answers: Answers, today: dt.date
) -> ReadRegister:
    """Read every row below the header.

    Parameters: the table; how it is understood; the answers given; today at the site (no date
    may be later). Raises `TableRefused` where the file turns out not to be readable.
    """
    reader = RowReader(
        found.header, found.columns, answers, today, every_cell_named=table.format == "csv"
    )
    rows = tuple(
        reader.read(row)
        for row in table.rows(found.sheet or None)
        if row.number > found.header.last_row
    )
    reader.finish()
    headers = {column.index: column.header for column in found.columns}
    blanks = {headers[at]: dict(_most(seen)) for at, seen in reader.read_as_blank.items()}
    unnamed = tuple(column_letter(at) for at in sorted(reader.unnamed))
    return ReadRegister(rows, reader.gathered.questions(), blanks, unnamed)


def _most(seen: Counter[str]) -> list[tuple[str, int]]:
    return seen.most_common(10)


def _sheet_and_header(table: TableFile, chosen: Chosen) -> tuple[str, Header, tuple[str, ...]]:
    if table.format == "csv":
        return "", _header(table, "", chosen.header_row), ()
    if chosen.sheet:
        others = tuple(s.name for s in table.sheets if s.name != chosen.sheet and s.filled_cells)
        return chosen.sheet, _header(table, chosen.sheet, chosen.header_row), others
    readable = [s for s in table.sheets if not s.refusal and not s.hidden and s.filled_cells]
    found = {s.name: find_header(_first_rows(table, s.name)) for s in readable}
    with_header = {name: header for name, header in found.items() if header is not None}
    if len(with_header) > 1:
        names = ", ".join(f"“{name}”" for name in with_header)
        raise TableRefused(
            "which_sheet",
            f"Several sheets hold a register: {names}. Choose one; read the others after it.",
        )
    if not with_header:
        names_read = ", ".join(f"“{s.name}”" for s in readable) or "none that can be read"
        raise _no_header(f"the first {SEARCHED_ROWS} rows of the sheets ({names_read})")
    name, header = with_header.popitem()
    others = tuple(s.name for s in table.sheets if s.name != name and s.filled_cells)
    if chosen.header_row:
        header = _header(table, name, chosen.header_row)
    return name, header, others


def _header(table: TableFile, sheet: str, row_number: int) -> Header:
    rows = _first_rows(table, sheet, max(SEARCHED_ROWS, row_number))
    if row_number:
        block = [row for row in rows if row.number == row_number and not row.is_blank]
        if not block:
            raise TableRefused("header", f"Row {row_number} is blank: it can't be the header.")
        return header_of(block)
    header = find_header(rows)
    if header is None:
        raise _no_header(f"the first {SEARCHED_ROWS} rows")
    return header


def _first_rows(table: TableFile, sheet: str, count: int = SEARCHED_ROWS) -> list[Row]:
    return list(islice(table.rows(sheet or None), count))


def _no_header(where: str) -> TableRefused:
    return TableRefused(
        "header",
        f"No header is recognised in {where}: a row with names such as Tag, Machine, Position, "
        "Size, Length. Say which row holds the names, and which column holds what.",
    )


def _named(header: Header, columns: Mapping[str, Sequence[str]]) -> dict[Field, list[int]]:
    """The columns a person chose, by header text, or by letter where no header reads so."""
    said: dict[Field, list[int]] = {}
    for name, texts in columns.items():
        try:
            field = Field(name)
        except ValueError:
            known = ", ".join(Field)
            raise TableRefused("field", f"“{name}” is no field. The fields are: {known}.") from None
        said[field] = [at for text in texts if text for at in [_find(header, text)]]
    return said


def _find(header: Header, text: str) -> int:
    letters = {column_letter(at): at for at in range(len(header.texts))}
    bracketed = text.startswith("[") and text.endswith("]")
    found = None if bracketed else _by_text(header, text)
    if found is None:
        found = letters.get(text.strip("[] ").upper())
    if found is None:
        names = ", ".join(f"“{name}”" for name in header.texts if name)
        raise TableRefused("column", f"There is no column “{text}”. There are: {names}.")
    return found


def _by_text(header: Header, text: str) -> int | None:
    wanted = words_of(text)
    return next((at for at, name in enumerate(header.texts) if words_of(name) == wanted), None)


def _remembered(header: Header, columns: Mapping[str, Sequence[str]]) -> dict[Field, list[int]]:
    said: dict[Field, list[int]] = {}
    for name, texts in columns.items():
        if name not in list(Field):
            continue
        found = [at for text in texts for at in [_by_text(header, text)] if at is not None]
        if len(found) == len(texts):
            said[Field(name)] = found
    return said
