"""One door for every table: what it is, which sheets it has, its rows as cells."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

from .bounds import BOUNDS, Bounds
from .cells import Merged, Row
from .csv_reading import csv_delimiter, csv_encoding, csv_rows
from .errors import TableRefused
from .guard import open_part, open_workbook_zip
from .sheet_rows import sheet_rows
from .sheet_scan import SheetTooLarge, scan_sheet
from .sniffing import table_kind
from .sources import Source
from .workbook import Workbook, read_workbook


@dataclass(frozen=True)
class Sheet:
    """One sheet: what is merged in it, whether it is hidden, or why it can't be read."""

    name: str
    hidden: bool = False
    filled_cells: int = 0
    merged: tuple[Merged, ...] = ()
    refusal: str = ""


@dataclass(frozen=True)
class TableFile:
    """A file that has passed the guard. `rows` may be asked for again and again."""

    format: Literal["csv", "xlsx"]
    sheets: tuple[Sheet, ...]
    source: Source = field(repr=False)
    encoding: str = ""
    delimiter: str = ""
    names_delimiter: bool = False
    book: Workbook | None = field(default=None, repr=False)
    bounds: Bounds = field(default=BOUNDS, repr=False)

    def rows(self, sheet_name: str | None = None) -> Iterator[Row]:
        """The rows of a sheet (of the first where none is named), blank ones included."""
        if self.book is None:
            return csv_rows(
                self.source,
                self.encoding,
                self.delimiter,
                skip_first=self.names_delimiter,
                bounds=self.bounds,
            )
        return self._sheet_rows(self.book, self.sheet(sheet_name))

    def sheet(self, name: str | None = None) -> Sheet:
        """A sheet by its name; the first where none is named."""
        for sheet in self.sheets:
            if name is None or sheet.name == name:
                return sheet
        names = ", ".join(sheet.name for sheet in self.sheets)
        raise TableRefused("no_sheet", f"There is no sheet “{name}”. There are: {names}.")

    def _sheet_rows(self, book: Workbook, sheet: Sheet) -> Iterator[Row]:
        if sheet.refusal:
            raise SheetTooLarge("sheet_size", sheet.refusal)
        part = next(part for part in book.sheets if part.name == sheet.name)
        with open_part(book.packed, part.part) as stream:
            yield from sheet_rows(stream, book, sheet.name, sheet.merged, self.bounds)


def open_table(
    content: bytes | Path, *, name: str, encoding: str | None = None, bounds: Bounds = BOUNDS
) -> TableFile:
    """Open a CSV or XLSX file, or refuse it with a sentence (`TableRefused`).

    Parameters: the bytes or the path; the name its owner gave it (never used as a path); the
    table of letters where the text is not UTF-8 and a person has said which (`EncodingAsked`
    is raised otherwise). A workbook's every sheet is looked at here; a CSV file's rows are
    checked as they are read, and may still be refused then.
    """
    source = Source(content, name)
    if table_kind(source) == "csv":
        found = csv_encoding(source, encoding, bounds)
        delimiter, named = csv_delimiter(source, found, bounds)
        return TableFile("csv", (Sheet(""),), source, found, delimiter, named, None, bounds)
    packed = open_workbook_zip(source, bounds)
    book = read_workbook(packed, bounds)
    sheets = tuple(_look_at(book, number, bounds) for number in range(len(book.sheets)))
    if all(sheet.refusal for sheet in sheets):
        raise TableRefused("sheet_size", sheets[0].refusal)
    return TableFile("xlsx", sheets, source, book=book, bounds=bounds)


def _look_at(book: Workbook, number: int, bounds: Bounds) -> Sheet:
    part = book.sheets[number]
    try:
        with open_part(book.packed, part.part) as stream:
            extent = scan_sheet(stream, part.name, bounds)
    except SheetTooLarge as refused:
        return Sheet(part.name, part.hidden, refusal=refused.sentence)
    return Sheet(part.name, part.hidden, extent.cells, extent.merges)
