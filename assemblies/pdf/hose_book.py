"""The hose book of a machine: contents in walk-round order, a sheet a specification, an index."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date
from functools import partial
from typing import BinaryIO

from assemblies.calc.sheet import SheetContent
from assemblies.pdf.build_sheet import draw_sheet_pages
from fleet.calc.frozen import checksum
from fleet.pdf.bands import Band, fixed
from fleet.pdf.fields import text_lines
from fleet.pdf.frame import A4, PageSize, Paper, PaperStamp
from fleet.pdf.pen import PT, Box, Pen, Placed
from fleet.pdf.running import RunningPages
from fleet.pdf.text import LEADING

_SIZE_PT = 8.0
_LINE_MM = _SIZE_PT * LEADING / PT
_HEAD_MM = 6.5
_PAD_MM = 0.9
_TITLE_PT, _REMARK_PT = 16.0, 8.5
_RULED_PAD_MM = 1.5
_NO_SPEC = "no specification yet"


@dataclass(frozen=True)
class BookEntry:
    """One position of the machine. `spec` is as on its sheet ("LX-0412 rev 3"), or empty.

    `no_sheet` says why a position has a specification and yet no sheet.
    """

    walk_no: str
    position: str
    circuit: str
    tag: str
    spec: str
    no_sheet: str = ""


@dataclass(frozen=True)
class BookHead:
    """The book's machine, day and positions in walk-round order.

    `remarks` must be read before anything else; `left_out` says what has no sheet here, and why.
    """

    machine: str
    site: str
    as_of_on: date
    entries: tuple[BookEntry, ...]
    number: str = ""
    remarks: tuple[str, ...] = ()
    left_out: tuple[str, ...] = ()


_CONTENTS = (("No.", 10), ("Position", 66), ("Circuit", 24), ("Tag now on it", 28))
_CONTENTS_END = (("Specification", 46), ("Page", 14))
_INDEX = (("Position", 110), ("No.", 14), ("Specification", 50), ("Page", 14))


def draw_hose_book(
    head: BookHead,
    sheets: Iterable[SheetContent],
    out: BinaryIO,
    *,
    page: PageSize = A4,
    log: list[Placed] | None = None,
) -> None:
    """Draw the book into `out`, the sheets one after the other as they come.

    Only one sheet's content need stand in memory at a time. Raises ValueError where a position
    names a specification for which no sheet came, or where a sheet came twice.
    """
    stamp = PaperStamp(f"Hose book {head.machine}", head.number, checksum(head))
    paper = Paper(stamp, page, subject=head.site, log=log)
    specs = sorted({entry.spec for entry in head.entries if entry.spec})
    keys = {spec: f"spec-{n}" for n, spec in enumerate(specs)}
    _Contents(paper, head, keys).draw()
    pages = _draw_sheets(paper, sheets, keys)
    _Index(paper, head, keys, pages).draw()
    for spec, key in keys.items():
        paper.define(key, str(pages[spec]), _SIZE_PT, right=True)
    paper.save(out)


def _draw_sheets(
    paper: Paper, sheets: Iterable[SheetContent], keys: dict[str, str]
) -> dict[str, int]:
    pages: dict[str, int] = {}
    for sheet in sheets:
        spec = f"{sheet.spec_code} rev {sheet.spec_revision}"
        if spec in pages:
            raise ValueError(f"The sheet of {spec} came twice.")
        pages[spec] = draw_sheet_pages(paper, sheet, bookmark=keys.get(spec, spec))
    missing = sorted(set(keys) - set(pages))
    if missing:
        raise ValueError(f"No sheet came for {', '.join(missing)}.")
    return pages


class _Table:
    """Ruled rows from page to page under repeated heads, below a title and what must be read."""

    columns: tuple[tuple[str, int], ...] = ()
    title = ""

    def __init__(self, paper: Paper, head: BookHead, keys: dict[str, str]) -> None:
        self.paper, self.head, self.keys = paper, head, keys
        self.in_rows = False

    def draw(self) -> None:
        """Draw the title, what stands above the rows, and every row."""
        pages = RunningPages(self.paper, self.paper.stamp, self._page_head)
        pages.pen.bookmark(self.title, self.title)
        for band in self.above(pages.pen, pages.rest.w):
            pages.add_band(band)
        self.in_rows = True
        pages.add_band(lambda pen: fixed(_HEAD_MM, _HEAD_MM, partial(self._column_heads, pen)))
        for entry in self.rows():
            pages.add_band(partial(self._row_band, entry, pages.rest.w))

    def above(self, _pen: Pen, width: float) -> Iterable[Callable[[Pen], Band]]:
        """What stands between the title and the rows."""
        words = f"{self.head.site}, as of {self.head.as_of_on.isoformat()}"
        yield partial(_text_band, width, words)

    def rows(self) -> Iterable[BookEntry]:
        """The entries in this table's order."""
        return self.head.entries

    def cells(self, entry: BookEntry) -> list[str]:
        """The texts of a row, the page last."""
        raise NotImplementedError

    def page_of(self, pen: Pen, entry: BookEntry, at: Box) -> None:
        """Write the page of an entry's sheet."""
        raise NotImplementedError

    def _page_head(self, pen: Pen, body: Box) -> Box:
        if self.in_rows:
            heads, rest = body.cut_top(_HEAD_MM)
            self._column_heads(pen, heads)
            return rest
        words = f"{self.title} {self.head.machine}"
        height = text_lines(words, body.w, _TITLE_PT, bold=True) * _TITLE_PT * LEADING / PT + 0.1
        top, rest = body.cut_top(height)
        pen.text(top, words, _TITLE_PT, floor_pt=_TITLE_PT, bold=True)
        return rest

    def _column_heads(self, pen: Pen, box: Box) -> None:
        for (label, _), cell in zip(self.columns, self._split(box), strict=True):
            pen.rectangle(cell, 0.5, 0.82)
            pen.text(cell.inset(_PAD_MM, 0.5), label, 7.5, floor_pt=5, bold=True, middle=True)

    def _split(self, box: Box) -> list[Box]:
        return box.columns([share for _, share in self.columns])

    def _row_band(self, entry: BookEntry, width: float, pen: Pen) -> Band:
        """A row as high as its longest text, however long that is."""
        texts = self.cells(entry)
        widths = self._split(Box(0, 0, width, 1))
        lines = max(
            text_lines(text, cell.w - 2 * _PAD_MM, _SIZE_PT)
            for text, cell in zip(texts, widths, strict=False)
        )
        height = lines * _LINE_MM + 1.6
        return fixed(height, height, partial(self._draw_row, pen, entry, texts))

    def _draw_row(self, pen: Pen, entry: BookEntry, texts: list[str], strip: Box) -> None:
        *boxes, last = self._split(strip)
        for text, cell in zip(texts, boxes, strict=True):
            pen.rectangle(cell, 0.3)
            pen.text(cell.inset(_PAD_MM, 0.6), text, _SIZE_PT)
        pen.rectangle(last, 0.3)
        if entry.spec:
            self.page_of(pen, entry, last)
            pen.link(strip, self.keys[entry.spec])


def _text_band(width: float, words: str, _pen: Pen, *, ruled: bool = False) -> Band:
    """A text whole, in a thick rule where it must be read."""
    inner = width - (2 * _RULED_PAD_MM if ruled else 0.0)
    lines = text_lines(words, inner, _REMARK_PT, bold=ruled)
    height = lines * _REMARK_PT * LEADING / PT + (2 * _RULED_PAD_MM if ruled else 1.6)

    def draw(box: Box) -> None:
        if ruled:
            _pen.rectangle(box.inset(0, 0.3), 1.6)
        place = box.inset(_RULED_PAD_MM) if ruled else box
        _pen.text(place, words, _REMARK_PT, bold=ruled)

    return fixed(height, height, draw)


class _Contents(_Table):
    """The positions in walk-round order; their pages are filled in when the sheets are drawn."""

    columns = (*_CONTENTS, *_CONTENTS_END)
    title = "Hose book"

    def above(self, pen: Pen, width: float) -> Iterable[Callable[[Pen], Band]]:
        yield from super().above(pen, width)
        for remark in self.head.remarks:
            yield partial(_text_band, width, f"▲ {remark}", ruled=True)
        for words in self.head.left_out:
            yield partial(_text_band, width, f"Left out: {words}")

    def cells(self, entry: BookEntry) -> list[str]:
        spec = entry.spec or entry.no_sheet or _NO_SPEC
        return [entry.walk_no, entry.position, entry.circuit, entry.tag or "–", spec]

    def page_of(self, pen: Pen, entry: BookEntry, at: Box) -> None:
        baseline = at.y + 0.6 + 0.93 * _SIZE_PT / PT
        pen.later(self.keys[entry.spec], at.right - _PAD_MM, baseline)


class _Index(_Table):
    """The positions by name."""

    columns = _INDEX
    title = "Index by position,"

    def __init__(
        self, paper: Paper, head: BookHead, keys: dict[str, str], pages: dict[str, int]
    ) -> None:
        super().__init__(paper, head, keys)
        self.pages = pages

    def rows(self) -> Iterable[BookEntry]:
        return sorted(self.head.entries, key=lambda entry: entry.position.casefold())

    def cells(self, entry: BookEntry) -> list[str]:
        return [entry.position, entry.walk_no, entry.spec or entry.no_sheet or _NO_SPEC]

    def page_of(self, pen: Pen, entry: BookEntry, at: Box) -> None:
        place = at.inset(_PAD_MM, 0.6)
        pen.text(place, str(self.pages[entry.spec]), _SIZE_PT, align="right")
