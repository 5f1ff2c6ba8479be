"""The rows of one sheet, streamed: each cell with its kind, the merged blocks known."""

import datetime as dt
import re
from collections.abc import Callable, Iterator, Mapping
from typing import BinaryIO
from xml.parsers import expat

from .bounds import BOUNDS, Bounds
from .cells import BLANK, NOTHING_COVERED, Cell, Merged, Row, column_index, column_letter
from .number_formats import number_cell
from .sheet_scan import disordered, sheet_too_large
from .workbook import Workbook, text_cell
from .xml_scan import attribute, feed, hostile, local_name, new_parser

_REF = re.compile(r"([A-Z]{1,3})([1-9][0-9]{0,6})\Z")
_ISO_DAY = re.compile(r"\d{4}-\d{2}-\d{2}")
_LAST_COLUMN = 16_384
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
    reader.hear(parser)
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
    """The events of a sheet, gathered to rows of cells.

    Elements need not be counted here: the look over the bytes has counted them before.
    """

    def __init__(self, book: Workbook, sheet_name: str, bounds: Bounds) -> None:
        self.book, self.sheet_name, self.bounds = book, sheet_name, bounds
        self.depth = self.row = self.total = 0
        self.column = -1
        self.row_text = ""
        self.cells: list[tuple[int, Cell]] = []
        self.ready: list[Found] = []
        self.texts: list[str] = []
        self.raw: str | None = None
        self.kind = self.style = ""
        self.formula = self.aside = False
        self.letters = [column_letter(at) for at in range(bounds.columns)]
        self.numbers: dict[tuple[str, str], Cell] = {}
        self.inline: dict[str, Cell] = {}

    def hear(self, parser: expat.XMLParserType) -> None:
        """Take the events of a parser; names with a prefix only where the root has one."""

        def first(name: str, attributes: list[str]) -> None:
            prefixed = ":" in name
            parser.StartElementHandler = self._opened_prefixed if prefixed else self.opened
            parser.EndElementHandler = self._closed_prefixed if prefixed else self.closed
            parser.StartElementHandler(name, attributes)

        parser.StartElementHandler = first
        parser.CharacterDataHandler = self.texts.append

    def take(self) -> list[Found]:
        ready, self.ready = self.ready, []
        return ready

    def _opened_prefixed(self, name: str, attributes: list[str]) -> None:
        self.opened(local_name(name), attributes)

    def _closed_prefixed(self, name: str) -> None:
        self.closed(local_name(name))

    def opened(self, name: str, attributes: list[str]) -> None:
        self.depth += 1
        if self.depth > self.bounds.nesting:
            raise hostile("elements without end")
        if name == "c":
            self._open_cell(attributes)
        elif name in {"v", "is"}:
            self.texts.clear()
        elif name == "t":
            if not self.aside:
                self.texts.clear()
        elif name == "row":
            self._open_row(attribute(attributes, "r"))
        elif name == "f":
            self.formula = True
        elif name == "rPh":
            self.aside = True

    def closed(self, name: str) -> None:
        self.depth -= 1
        if name == "v":
            texts = self.texts
            self.raw = texts[0] if len(texts) == 1 else "".join(texts)
        elif name == "c":
            if self.raw is not None or self.formula:
                cell = self._cell(self.raw)
                if cell is not BLANK:
                    self.cells.append((self.column, cell))
        elif name == "t":
            if not self.aside:
                self.raw = (self.raw or "") + "".join(self.texts)
        elif name == "row":
            if self.cells:
                self._close_row()
        elif name == "rPh":
            self.aside = False

    def _open_row(self, number: str) -> None:
        row = int(number) if number.isdecimal() and len(number) < 9 else self.row + 1
        if row <= self.row or self.cells:
            raise disordered(self.sheet_name)
        self.row, self.column, self.row_text = row, -1, str(row)
        self.texts.clear()

    def _close_row(self) -> None:
        self.total += len(self.cells)
        bounds = self.bounds
        too_wide = self.cells[-1][0] >= bounds.columns
        if too_wide or self.row > bounds.rows or self.total > bounds.cells:
            raise sheet_too_large(self.sheet_name, f"has too much in it (row {self.row})", bounds)
        self.ready.append((self.row, self.cells))
        self.cells = []

    def _open_cell(self, attributes: list[str]) -> None:
        self.raw, self.formula = None, False
        self.kind = self.style = ""
        column = self.column + 1
        for at in range(0, len(attributes), 2):
            key = attributes[at]
            if key == "r":
                ref = attributes[at + 1]
                # Mostly the next cell of the row: told without taking the name apart.
                if column >= len(self.letters) or ref != self.letters[column] + self.row_text:
                    column = self._column(ref)
            elif key == "t":
                self.kind = attributes[at + 1]
            elif key == "s":
                self.style = attributes[at + 1]
        if not self.column < column < _LAST_COLUMN or not self.row:
            raise disordered(self.sheet_name)
        self.column = column

    def _column(self, ref: str) -> int:
        found = _REF.match(ref)
        if found is None or found[2] != self.row_text:
            raise disordered(self.sheet_name)
        return column_index(found[1])

    def _cell(self, raw: str | None) -> Cell:
        kind = self.kind
        # A formula whose answer is an empty text is blank; one without any answer is not.
        if raw is None or (not raw and self.formula and kind != "str"):
            return Cell("", "formula_without_value")
        if kind == "s":
            return self._shared(raw)
        if kind in {"inlineStr", "str"}:
            return self.inline.get(raw) or self._text(raw)
        make = _BY_TYPE.get(kind)
        if make is not None:
            return make(raw)
        return self.numbers.get((raw, self.style)) or self._number(raw)

    def _text(self, raw: str) -> Cell:
        """Equal texts are one cell, so that whoever reads them need read them once."""
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
