"""The due list on paper: grouped by machine, heads repeated on every page, across the long side.

Drawn from plain dataclasses; the same content gives the same bytes.
"""

from dataclasses import dataclass
from datetime import date
from functools import lru_cache

from fleet.calc.frozen import checksum
from fleet.pdf.fonts import width_pt
from fleet.pdf.frame import A4, PageSize, Paper, PaperStamp
from fleet.pdf.pen import PT, Box, Pen, Placed
from fleet.pdf.text import LEADING, Fitted, fit, readable, shorten

_SIZE_PT = 7.5
_LINE_MM = _SIZE_PT * LEADING / PT
_PAD_MM = 0.9
_MOST_LINES = 5
_LONGEST_CELL = 300
_TITLE_MM = 17.0
_HEAD_MM = 8.6
_GROUP_MM = 5.6


@dataclass(frozen=True)
class DueListRow:
    """One hose: where, which, what, when, what decides it, and what hangs on it.

    `state` is the row's standing in words ("overdue"); it is printed, since a shade is not enough.
    """

    position: str
    tag: str
    hose: str
    early_on: date | None
    likely_on: date | None
    late_on: date | None
    inspect_on: date | None
    binds: str
    consequence: str
    state: str = ""


@dataclass(frozen=True)
class DueListMachine:
    """One machine's hoses, in the order in which one walks round it."""

    name: str
    detail: str
    rows: tuple[DueListRow, ...]


@dataclass(frozen=True)
class DueListContent:
    """A whole due list: its site, day and filter in words, and the machines."""

    site: str
    as_of_on: date
    filtered: str
    summary: str
    machines: tuple[DueListMachine, ...]
    title: str = "Due list"
    number: str = ""


@dataclass(frozen=True)
class _Column:
    head: str
    share: float
    attribute: str


_COLUMNS = (
    _Column("Position", 56, "position"),
    _Column("Tag or mark", 29, "tag"),
    _Column("Hose", 55, "hose"),
    _Column("Replace by, earliest", 20, "early_on"),
    _Column("likely", 20, "likely_on"),
    _Column("latest", 20, "late_on"),
    _Column("Inspect by", 20, "inspect_on"),
    _Column("What decides it", 43, "binds"),
    _Column("If it fails", 24, "consequence"),
)
_LIKELY = 4
_MARKER = " … (in the register)"


def draw_due_list(
    content: DueListContent, *, page: PageSize = A4, log: list[Placed] | None = None
) -> bytes:
    """Draw the list as a PDF, the long side of the page across."""
    stamp = PaperStamp(f"{content.title} {content.site}", content.number, checksum(content))
    paper = Paper(stamp, page.turned(), subject=content.filtered, log=log)
    table = _Table(paper, content)
    for machine in content.machines:
        table.add_machine(machine)
    if not content.machines:
        table.say("Nothing is due by this list: no hose meets what was asked for.")
    return paper.to_bytes()


class _Table:
    """The rows as they run from page to page."""

    def __init__(self, paper: Paper, content: DueListContent) -> None:
        self.paper, self.content = paper, content
        self.pen: Pen
        self.rest: Box
        self._turn()

    def add_machine(self, machine: DueListMachine) -> None:
        """A machine's heading and rows; the heading stands again where its rows go on."""
        cells = [_cells(row, self.rest.w) for row in machine.rows]
        heights = [_height(row_cells) for row_cells in cells]
        first = heights[0] if heights else 0.0
        if self.rest.h < _GROUP_MM + first:
            self._turn()
        self._group(machine, "")
        for row, row_cells, height in zip(machine.rows, cells, heights, strict=True):
            if self.rest.h < height:
                self._turn()
                self._group(machine, ", continued")
            strip, self.rest = self.rest.cut_top(height)
            _draw_row(self.pen, strip, row_cells, overdue=bool(row.state))

    def say(self, words: str) -> None:
        """One sentence in place of rows."""
        strip, self.rest = self.rest.cut_top(8.0)
        self.pen.text(strip, words, 9, middle=True)

    def _turn(self) -> None:
        self.pen = self.paper.new_page()
        body = self.paper.page.body
        if self.pen.page == 1:
            title, body = body.cut_top(_TITLE_MM)
            _draw_title(self.pen, title, self.content)
        head, self.rest = body.cut_top(_HEAD_MM)
        _draw_heads(self.pen, head)

    def _group(self, machine: DueListMachine, more: str) -> None:
        strip, self.rest = self.rest.cut_top(_GROUP_MM)
        self.pen.rectangle(strip, 0.4, 0.88)
        inner = strip.inset(_PAD_MM, 0.4)
        name = f"{machine.name}{more}"
        wide = min(inner.w * 0.6, width_pt(readable(name), 9, bold=True) / PT + 4)
        left, right = inner.cut_left(wide)
        self.pen.text(left, name, 9, bold=True, middle=True)
        if machine.detail:
            self.pen.text(right, machine.detail, _SIZE_PT, middle=True)


def _draw_title(pen: Pen, box: Box, content: DueListContent) -> None:
    top, middle, low = box.inset(0, 0.2).rows([1.6, 1, 1])
    day = content.as_of_on.isoformat()
    number = f" {content.number}" if content.number else ""
    pen.text(
        top, f"{content.title}{number}: {content.site}, as of {day}", 14, floor_pt=8, bold=True
    )
    if content.filtered:
        pen.text(middle, content.filtered, 8.5)
    if content.summary:
        pen.text(low, content.summary, 8.5, bold=True)


def _draw_heads(pen: Pen, box: Box) -> None:
    strip = Box(box.x, box.y, box.w, box.h - 0.6)
    shares = [column.share for column in _COLUMNS]
    for column, cell in zip(_COLUMNS, strip.columns(shares), strict=True):
        pen.rectangle(cell, 0.5, 0.78)
        pen.text(cell.inset(_PAD_MM, 0.4), column.head, 7, floor_pt=5, bold=True)


@dataclass(frozen=True)
class _Cell:
    text: str
    lines: Fitted


def _cells(row: DueListRow, width: float) -> list[_Cell]:
    share = width / sum(column.share for column in _COLUMNS)
    cells = []
    for number, column in enumerate(_COLUMNS):
        value = getattr(row, column.attribute)
        text = value.isoformat() if isinstance(value, date) else (value or "–")
        if number == _LIKELY and row.state:
            text = f"{text}\n{row.state}"
        room = round((column.share * share - 2 * _PAD_MM) * PT, 2)
        cells.append(_Cell(text, _fitted(text, room, number == _LIKELY)))
    return cells


@lru_cache(maxsize=5_000)
def _fitted(text: str, room: float, bold: bool) -> Fitted:
    ready = readable(shorten(text, _LONGEST_CELL))
    height = _MOST_LINES * _SIZE_PT * LEADING
    return fit(ready, _SIZE_PT, _SIZE_PT, room, height, bold=bold, marker=_MARKER)


def _height(cells: list[_Cell]) -> float:
    return max(len(cell.lines.lines) for cell in cells) * _LINE_MM + 1.3


def _draw_row(pen: Pen, box: Box, cells: list[_Cell], *, overdue: bool) -> None:
    boxes = box.columns([column.share for column in _COLUMNS])
    pen.rectangle(box, 0.25)
    for number, (cell, place) in enumerate(zip(cells, boxes, strict=True)):
        if number:
            pen.line((place.x, place.y), (place.x, place.bottom), 0.2)
        readable(cell.text, pen.signs)
        bold = overdue and number == _LIKELY
        inner = place.inset(_PAD_MM, 0.5)
        pen.set_lines(inner, cell.lines, bold=bold, source=cell.text)
