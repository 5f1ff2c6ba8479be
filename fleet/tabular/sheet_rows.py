"""The rows of one sheet, streamed: each cell with its kind, the merged blocks known."""

import datetime as dt
import re
from collections.abc import Callable, Iterator, Mapping
from typing import BinaryIO

from .bounds import BOUNDS, Bounds
from .cells import BLANK, NOTHING_COVERED, Cell, Merged, Row, column_index
from .number_formats import number_cell
from .sheet_scan import disordered, sheet_too_large
from .workbook import Workbook, text_cell
from .xml_scan import attribute, feed, hostile, local_name, new_parser

_REF = re.compile(r"([A-Z]{1,3})([1-9][0-9]{0,6})\Z")
_ISO_DAY = re.compile(r"\d{4}-\d{2}-\d{2}")
_KEPT_CELLS = 200_000

Found = tuple[int, list[tuple[int, Cell]]]


def sheet_rows(
    stream: BinaryIO,
    book: Workbook,
    sheet_name: str,
    merges: tuple[Merged, ...],
    bounds: Bounds = BOUNDS,
) -> Iterator[Row]:
    """Yield every row up to the last filled one, blank ones between them included."""
    reader = _Reader(book, sheet_name, bounds)
    parser = new_parser()
    parser.StartElementHandler = reader.opened
    parser.EndElementHandler = reader.closed
    parser.CharacterDataHandler = reader.texts.append
    blocks = _Blocks(merges)
    reached = 0
    for _ in feed(parser, stream, bounds):
        for number, cells in reader.take():
            for blank in range(reached + 1, number):
                yield Row(blank, (), blocks.over(blank, []))
            yield Row(number, _filled(cells), blocks.over(number, cells))
            reached = number


def _filled(cells: list[tuple[int, Cell]]) -> tuple[Cell, ...]:
    """The cells from the first column to the last filled one."""
    width = cells[-1][0] + 1
    if width == len(cells):
        return tuple(cell for _, cell in cells)
    row = [BLANK] * width
    for column, cell in cells:
        row[column] = cell
    return tuple(row)


class _Blocks:
    """The merged blocks that lie over the row now read."""

    def __init__(self, merges: tuple[Merged, ...]) -> None:
        self.coming = list(reversed(merges))
        self.open: list[Merged] = []

    def over(self, number: int, cells: list[tuple[int, Cell]]) -> Mapping[int, Merged]:
        if self.open:
            self.open = [block for block in self.open if block.bottom >= number]
        while self.coming and self.coming[-1].top <= number:
            block = self.coming.pop()
            if block.top == number:
                top_left = next((cell for at, cell in cells if at == block.left), BLANK)
                self.open.append(block._replace(cell=top_left))
        if not self.open:
            return NOTHING_COVERED
        return {
            column: block
            for block in self.open
            for column in range(block.left, min(block.right, BOUNDS.columns - 1) + 1)
            if (number, column) != (block.top, block.left)
        }


class _Reader:
    """The events of a sheet, gathered to rows of cells."""

    def __init__(self, book: Workbook, sheet_name: str, bounds: Bounds) -> None:
        self.book, self.sheet_name, self.bounds = book, sheet_name, bounds
        self.depth = self.seen = self.row = self.total = 0
        self.column = -1
        self.cells: list[tuple[int, Cell]] = []
        self.ready: list[Found] = []
        self.texts: list[str] = []
        self.raw: str | None = None
        self.kind = self.style = ""
        self.formula = self.aside = False
        self.columns: dict[str, int] = {}
        self.numbers: dict[tuple[str, str], Cell] = {}
        self.inline: dict[str, Cell] = {}

    def take(self) -> list[Found]:
        ready, self.ready = self.ready, []
        return ready

    def opened(self, name: str, attributes: list[str]) -> None:
        self.depth += 1
        self.seen += 1
        if self.depth > self.bounds.nesting or self.seen > self.bounds.elements:
            raise hostile("elements without end")
        if ":" in name:
            name = local_name(name)
        if name == "c":
            self._open_cell(attributes)
        elif name in ("v", "is"):
            self.texts.clear()
        elif name == "row":
            self._open_row(attribute(attributes, "r"))
        elif name == "f":
            self.formula = True
        elif name == "t" and not self.aside:
            self.texts.clear()
        elif name == "rPh":
            self.aside = True

    def closed(self, name: str) -> None:
        self.depth -= 1
        if ":" in name:
            name = local_name(name)
        if name == "v":
            self.raw = "".join(self.texts)
        elif name == "c":
            self._close_cell()
        elif name == "row":
            if self.cells:
                self.ready.append((self.row, self.cells))
                self.cells = []
        elif name == "t" and not self.aside:
            self.raw = (self.raw or "") + "".join(self.texts)
        elif name == "rPh":
            self.aside = False

    def _open_row(self, number: str) -> None:
        row = int(number) if number.isdecimal() and len(number) < 9 else self.row + 1
        if row <= self.row or self.cells:
            raise disordered(self.sheet_name)
        self.row, self.column = row, -1
        self.texts.clear()

    def _open_cell(self, attributes: list[str]) -> None:
        kind = style = ref = ""
        for at in range(0, len(attributes), 2):
            key = attributes[at]
            if key == "r":
                ref = attributes[at + 1]
            elif key == "t":
                kind = attributes[at + 1]
            elif key == "s":
                style = attributes[at + 1]
        self.kind, self.style, self.raw, self.formula = kind, style, None, False
        column = self._column(ref) if ref else self.column + 1
        if column <= self.column or not self.row:
            raise disordered(self.sheet_name)
        self.column = column

    def _column(self, ref: str) -> int:
        letters = ref.rstrip("0123456789")
        column = self.columns.get(letters)
        if column is None:
            if _REF.match(ref) is None:
                raise disordered(self.sheet_name)
            column = self.columns[letters] = column_index(letters)
        if ref[len(letters) :] != str(self.row):
            raise disordered(self.sheet_name)
        return column

    def _close_cell(self) -> None:
        if self.raw is None and not self.formula:
            return
        cell = self._cell(self.raw)
        if cell.kind == "blank":
            return
        self.cells.append((self.column, cell))
        self.total += 1
        bounds = self.bounds
        if self.row > bounds.rows or self.column >= bounds.columns or self.total > bounds.cells:
            raise sheet_too_large(self.sheet_name, f"has too much in it (row {self.row})", bounds)

    def _cell(self, raw: str | None) -> Cell:
        # A formula whose answer is an empty text is blank; one without any answer is not.
        if raw is None or (not raw and self.formula and self.kind != "str"):
            return Cell("", "formula_without_value")
        if self.kind == "s":
            return self._shared(raw)
        if self.kind in ("inlineStr", "str"):
            return self._text(raw)
        make = _BY_TYPE.get(self.kind)
        return make(raw) if make else self._number(raw)

    def _text(self, raw: str) -> Cell:
        """Equal texts are one cell, so that whoever reads them need read them once."""
        cell = self.inline.get(raw)
        if cell is None:
            cell = text_cell(raw)
            if len(self.inline) < _KEPT_CELLS:
                self.inline[raw] = cell
        return cell

    def _shared(self, raw: str) -> Cell:
        try:
            place = int(raw)
        except ValueError:
            place = -1
        if not 0 <= place < len(self.book.texts):
            raise disordered(self.sheet_name)
        return self.book.texts[place]

    def _number(self, raw: str) -> Cell:
        if not raw:
            return BLANK
        cell = self.numbers.get((raw, self.style))
        if cell is None:
            formats, style = self.book.formats, self.style
            known = style.isdecimal() and int(style[:9]) < len(formats)
            code = formats[int(style)] if known else ""
            cell = number_cell(raw, code, from_1904=self.book.from_1904)
            if len(self.numbers) < _KEPT_CELLS:
                self.numbers[raw, self.style] = cell
        return cell


def _iso_cell(raw: str) -> Cell:
    """A day or moment written out, as some programs do."""
    if not _ISO_DAY.match(raw):
        return Cell(raw, "text", raw)
    try:
        moment = dt.datetime.fromisoformat(raw)
    except ValueError:
        return Cell(raw, "error")
    if moment.time() == dt.time():
        return Cell(moment.date().isoformat(), "day", moment.date())
    return Cell(moment.isoformat(" ", "seconds"), "moment", moment)


def _boolean_cell(raw: str) -> Cell:
    true = raw.strip() in ("1", "true")
    return Cell("TRUE" if true else "FALSE", "boolean", true)


_BY_TYPE: Mapping[str, Callable[[str], Cell]] = {
    "b": _boolean_cell,
    "e": lambda raw: Cell(raw, "error"),
    "d": _iso_cell,
}
