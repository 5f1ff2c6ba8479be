"""The hose book of a machine: contents in walk-round order, a sheet a specification, an index."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import BinaryIO

from assemblies.calc.sheet import SheetContent
from assemblies.pdf.build_sheet import draw_sheet_pages
from fleet.calc.frozen import checksum
from fleet.pdf.fields import text_lines
from fleet.pdf.frame import A4, PageSize, Paper, PaperStamp
from fleet.pdf.pen import PT, Box, Pen, Placed
from fleet.pdf.text import LEADING

_SIZE_PT = 8.0
_LINE_MM = _SIZE_PT * LEADING / PT
_TITLE_MM = 20.0
_HEAD_MM = 6.5
_PAD_MM = 0.9
_NO_SPEC = "no specification yet"


@dataclass(frozen=True)
class BookEntry:
    """One position of the machine. `spec` is as on its sheet ("LX-0412 rev 3"), or empty."""

    walk_no: str
    position: str
    circuit: str
    tag: str
    spec: str


@dataclass(frozen=True)
class BookHead:
    """The book's machine, day and positions in walk-round order."""

    machine: str
    site: str
    as_of_on: date
    entries: tuple[BookEntry, ...]
    number: str = ""
    remarks: tuple[str, ...] = ()


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
    """Ruled rows from page to page under repeated heads."""

    columns: tuple[tuple[str, int], ...] = ()
    title = ""

    def __init__(self, paper: Paper, head: BookHead, keys: dict[str, str]) -> None:
        self.paper, self.head, self.keys = paper, head, keys
        self.pen: Pen
        self.rest: Box
        self.started = False

    def draw(self) -> None:
        """Draw every row."""
        self._turn()
        for entry in self.rows():
            self._row(entry)

    def rows(self) -> Iterable[BookEntry]:
        """The entries in this table's order."""
        return self.head.entries

    def cells(self, entry: BookEntry) -> list[str]:
        """The texts of a row, the page last."""
        raise NotImplementedError

    def page_of(self, entry: BookEntry, at: Box) -> None:
        """Write the page of an entry's sheet."""
        raise NotImplementedError

    def _turn(self) -> None:
        self.pen = self.paper.new_page()
        body = self.paper.page.body
        if not self.started:
            self.started = True
            title, body = body.cut_top(_TITLE_MM)
            self._title(title)
        heads, self.rest = body.cut_top(_HEAD_MM)
        for (label, _), cell in zip(self.columns, self._split(heads), strict=True):
            self.pen.rectangle(cell, 0.5, 0.82)
            self.pen.text(cell.inset(_PAD_MM, 0.5), label, 7.5, floor_pt=5, bold=True, middle=True)

    def _title(self, box: Box) -> None:
        top, rest = box.inset(0, 0.3).cut_top(8.0)
        self.pen.text(top, f"{self.title} {self.head.machine}", 16, floor_pt=8, bold=True)
        lines = [
            f"{self.head.site}, as of {self.head.as_of_on.isoformat()}",
            *self.head.remarks,
        ]
        self.pen.text(rest, "\n".join(lines), 8.5)
        self.pen.bookmark(self.title, self.title)

    def _split(self, box: Box) -> list[Box]:
        return box.columns([share for _, share in self.columns])

    def _row(self, entry: BookEntry) -> None:
        texts = self.cells(entry)
        widths = self._split(Box(0, 0, self.rest.w, 1))
        lines = max(
            text_lines(text, cell.w - 2 * _PAD_MM, _SIZE_PT)
            for text, cell in zip(texts, widths, strict=False)
        )
        height = min(lines, 4) * _LINE_MM + 1.6
        if self.rest.h < height:
            self._turn()
        strip, self.rest = self.rest.cut_top(height)
        *boxes, last = self._split(strip)
        for text, cell in zip(texts, boxes, strict=True):
            self.pen.rectangle(cell, 0.3)
            self.pen.text(cell.inset(_PAD_MM, 0.6), text, _SIZE_PT)
        self.pen.rectangle(last, 0.3)
        if entry.spec:
            self.page_of(entry, last)
            self.pen.link(strip, self.keys[entry.spec])


class _Contents(_Table):
    """The positions in walk-round order; their pages are filled in when the sheets are drawn."""

    columns = (*_CONTENTS, *_CONTENTS_END)
    title = "Hose book"

    def cells(self, entry: BookEntry) -> list[str]:
        spec = entry.spec or _NO_SPEC
        return [entry.walk_no, entry.position, entry.circuit, entry.tag or "–", spec]

    def page_of(self, entry: BookEntry, at: Box) -> None:
        baseline = at.y + 0.6 + 0.93 * _SIZE_PT / PT
        self.pen.later(self.keys[entry.spec], at.right - _PAD_MM, baseline)


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
        return [entry.position, entry.walk_no, entry.spec or _NO_SPEC]

    def page_of(self, entry: BookEntry, at: Box) -> None:
        place = at.inset(_PAD_MM, 0.6)
        self.pen.text(place, str(self.pages[entry.spec]), _SIZE_PT, align="right")
