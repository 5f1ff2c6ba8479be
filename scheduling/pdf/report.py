"""The manager's report on paper: figures with their limits and formulas, pictures, tables.

Drawn from plain content; the same content gives the same bytes.
"""

from collections.abc import Sequence
from dataclasses import replace

from fleet.calc.frozen import checksum
from fleet.calc.scene import Scene
from fleet.pdf.frame import A4, PageSize, Paper, PaperStamp
from fleet.pdf.pen import PT, Box, Pen, Placed
from fleet.pdf.picture import draw_scene
from fleet.pdf.text import LEADING, fit, readable, shorten
from scheduling.calc.report import Column, Figure, Picture, ReportContent, Row, Study, Table, shown

_SIZE_PT, _SMALL_PT, _HEAD_PT = 8.5, 7.0, 11.0
_GAP_MM = 4.0
_MM_A_POINT = 0.244  # of a picture: one scale for all, so that their type is of one size
_TALLEST_MM = 200.0
_CARDS_A_ROW = 3
_CARD_PAD = 1.6


def draw_report(
    content: ReportContent, *, page: PageSize = A4, log: list[Placed] | None = None
) -> bytes:
    """Draw the report as a PDF."""
    said = checksum(replace(content, pictures=(), studies=()))  # pictures follow from the rest
    stamp = PaperStamp(f"{content.title}, {content.period}", "", said)
    paper = Paper(stamp, page, subject=content.scope, log=log)
    pages = _Pages(paper, content)
    pages.say(content.warnings, bold=True)
    pages.cards(content.figures, content.currency)
    for picture in content.pictures:
        pages.picture(picture)
    for table in content.tables:
        pages.table(table)
    for study in content.studies:
        pages.study(study)
    return paper.to_bytes()


class _Pages:
    """What runs from page to page: each part is given what is left, or a new page."""

    def __init__(self, paper: Paper, content: ReportContent) -> None:
        self.paper, self.content = paper, content
        self.pen: Pen
        self.rest: Box
        self._turn()

    def _turn(self) -> None:
        self.pen = self.paper.new_page()
        self.rest = self.paper.page.body
        first = self.paper.pages == 1
        head, self.rest = self.rest.cut_top(20.0 if first else 8.0)
        if first:
            title, under = head.cut_top(9.0)
            self.pen.text(title, self.content.title, 18, bold=True)
            made = f"Made on {self.content.made_on.day} {self.content.made_on:%b %Y}."
            words = f"{self.content.scope}. {self.content.period}. {made}"
            self.pen.text(under.cut_top(9.0)[0], words, 10)
        else:
            self.pen.text(head, f"{self.content.title}, {self.content.period}", _SIZE_PT)

    def room(self, height: float) -> Box:
        """The next strip of this height, on a new page where it does not fit here."""
        if self.rest.h < height:
            self._turn()
        strip, self.rest = self.rest.cut_top(height)
        return strip

    def say(self, lines: Sequence[str], *, bold: bool = False, size: float = _SIZE_PT) -> None:
        for line in lines:
            height = _height(line, self.rest.w, size, bold=bold)
            self.pen.text(self.room(height + 0.6), line, size, bold=bold)
        if lines:
            self.room(min(1.5, self.rest.h))

    def heading(self, words: str, with_next: float) -> None:
        """A heading that is not left alone at the foot of a page."""
        if self.rest.h < 7.5 + with_next:
            self._turn()
        self.pen.text(self.room(7.5), words, _HEAD_PT, bold=True)

    def cards(self, figures: Sequence[Figure], currency: str) -> None:
        for n in range(0, len(figures), _CARDS_A_ROW):
            row = figures[n : n + _CARDS_A_ROW]
            width = self.rest.w / _CARDS_A_ROW - 2 * _CARD_PAD
            height = max(_card_height(one, width, currency) for one in row) + 2 * _CARD_PAD
            strip = self.room(height)
            for one, box in zip(row, strip.columns([1] * _CARDS_A_ROW), strict=False):
                self.pen.rectangle(box, 0.4)
                _draw_card(self.pen, box.inset(_CARD_PAD), one, currency)
        self.room(min(_GAP_MM, self.rest.h))

    def picture(self, picture: Picture) -> None:
        height = _picture_height(picture.scene, self.rest.w)
        self.heading(picture.caption, height)
        draw_scene(self.pen, self.room(height), picture.scene)
        self.room(min(_GAP_MM, self.rest.h))

    def table(self, table: Table) -> None:
        self.heading(table.title, 12)
        if not table.rows:
            self.say([table.empty])
            return
        shares = _shares(table)
        self._table_head(table, shares)
        for row in table.rows:
            height = _row_height(row, table.columns, shares, self.rest.w)
            if self.rest.h < height:
                self._turn()
                self._table_head(table, shares)
            self._row(row, table.columns, shares, self.room(height))
        self.room(min(_GAP_MM, self.rest.h))

    def _table_head(self, table: Table, shares: list[float]) -> None:
        words = [f"{c.words}, {c.unit}" if c.unit else c.words for c in table.columns]
        wide = Box(0, 0, self.rest.w, 10).columns(shares, 2.0)
        tall = [_height(w, b.w, _SMALL_PT, bold=True) for w, b in zip(words, wide, strict=True)]
        cells = self.room(max(tall) + 0.6).columns(shares, 2.0)
        for n, (text, box) in enumerate(zip(words, cells, strict=True)):
            self.pen.text(box, text, _SMALL_PT, bold=True, align="left" if n == 0 else "right")
        self.pen.line((cells[0].x, cells[0].bottom), (cells[-1].right, cells[-1].bottom), 0.6)

    def _row(self, row: Row, columns: Sequence[Column], shares: list[float], strip: Box) -> None:
        cells = strip.inset(0, 0.6).columns(shares, 2.0)
        for n, (value, column, box) in enumerate(zip(row.cells, columns, cells, strict=True)):
            beside = n > 0 and not isinstance(value, str)
            self.pen.text(box, shown(value, column), _SIZE_PT, align="right" if beside else "left")
        self.pen.line((strip.x, strip.bottom), (strip.right, strip.bottom), 0.2)

    def study(self, study: Study) -> None:
        self.heading(f"{study.title} ({study.made_on.day} {study.made_on:%b %Y})", 20)
        self.say(study.says)
        for picture in study.pictures:
            self.picture(picture)


def _height(text: str, width: float, size: float, *, bold: bool = False) -> float:
    fitted = fit(readable(shorten(text)), size, size, width * PT, 500 * PT, bold=bold)
    return fitted.height_pt / PT + 0.3


def value_words(one: Figure, currency: str) -> str:
    """A figure's value with its unit as the paper prints it."""
    if one.value is None:
        return (
            "not known" if not one.low else f"at least {one.low:,.{one.places}f} {one.unit}".strip()
        )
    if one.unit == "money":
        return f"{currency} {one.value:,.2f}"
    places = 1 if one.unit == "%" else one.places
    return f"{one.value:,.{places}f} {one.unit}".strip()


def _card_lines(one: Figure, currency: str) -> list[tuple[str, float, bool]]:
    told = [(one.words, _SIZE_PT, False), (value_words(one, currency), 13.0, True)]
    if one.limits_words and one.value is not None:
        told.append((one.limits_words, _SIZE_PT, False))
    small = [text for text in (one.why, one.note, one.formula) if text]
    return told + [(text, _SMALL_PT, False) for text in small]


def _card_height(one: Figure, width: float, currency: str) -> float:
    lines = _card_lines(one, currency)
    return sum(_height(text, width, size, bold=bold) + 0.5 for text, size, bold in lines)


def _draw_card(pen: Pen, box: Box, one: Figure, currency: str) -> None:
    rest = box
    for text, size, bold in _card_lines(one, currency):
        strip, rest = rest.cut_top(_height(text, box.w, size, bold=bold) + 0.5)
        pen.text(strip, text, size, bold=bold)


def _picture_height(scene: Scene, width: float) -> float:
    return min(_MM_A_POINT * scene.height, width * scene.height / scene.width, _TALLEST_MM)


def _shares(table: Table) -> list[float]:
    """Widths of the columns: the first takes what its texts want, the others what is left."""
    rest = 1.0 if len(table.columns) == 1 else max(0.09, 0.62 / (len(table.columns) - 1))
    rest = min(rest, 0.22)
    return [1 - rest * (len(table.columns) - 1), *[rest] * (len(table.columns) - 1)]


def _row_height(row: Row, columns: Sequence[Column], shares: list[float], width: float) -> float:
    cells = Box(0, 0, width, 10).columns(shares, 2.0)
    texts = [shown(value, column) for value, column in zip(row.cells, columns, strict=True)]
    tall = [_height(text, box.w, _SIZE_PT) for text, box in zip(texts, cells, strict=True)]
    return max(*tall, _SIZE_PT * LEADING / PT) + 1.2
