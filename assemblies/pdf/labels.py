"""Tag labels: sheets by the label's size in mm, each with its QR code, in a plain and a wrap form.

A label on which the code could not be read, or a text would be cut, is refused with the reason
and the size that would do.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from assemblies.calc.sheet_words import tag_in_groups
from fleet.calc.frozen import checksum
from fleet.pdf import qr
from fleet.pdf.fonts import width_pt
from fleet.pdf.frame import A4, LETTER, PageSize, Paper, PaperStamp
from fleet.pdf.pen import PT, Box, Pen, Placed
from fleet.pdf.text import LEADING, readable

# The smallest square of a code that phones read well in a workshop: common practice, no
# published source.
LEAST_SQUARE_MM = 0.33
_PAD_MM = 1.2
_GAP_MM = 1.0
_TAG_PT = (20.0, 7.0)
_LINE_PT = (9.0, 5.0)


class LabelRefused(ValueError):
    """A label stock that cannot carry the labels; the message says why and what would do."""


class LabelForm(StrEnum):
    """Plain: one code with its texts. Wrap: texts on both sides of the code, a clear tail below."""

    PLAIN = "plain"
    WRAP = "wrap"


@dataclass(frozen=True)
class LabelStock:
    """A sheet of labels, all lengths in mm; `printed_mm` is the white part of a wrap label."""

    width_mm: float
    height_mm: float
    columns: int
    rows: int
    left_mm: float
    top_mm: float
    pitch_x_mm: float
    pitch_y_mm: float
    page: PageSize = A4
    form: LabelForm = LabelForm.PLAIN
    printed_mm: float | None = None

    @property
    def a_page(self) -> int:
        """Labels on one page."""
        return self.columns * self.rows

    def place(self, number: int) -> Box:
        """The printed part of the label of this number on its page, from 0, row by row."""
        row, column = divmod(number, self.columns)
        height = self.printed_mm if self.form is LabelForm.WRAP and self.printed_mm else None
        return Box(
            self.left_mm + column * self.pitch_x_mm,
            self.top_mm + row * self.pitch_y_mm,
            self.width_mm,
            height or self.height_mm,
        )


# Sizes sold everywhere under many names. Common practice, no published source.
STOCKS = {
    "70 × 37, 24 a page, A4": LabelStock(70, 37, 3, 8, 0, 0.5, 70, 37),
    "63.5 × 38.1, 21 a page, A4": LabelStock(63.5, 38.1, 3, 7, 7.2, 15.1, 66.0, 38.1),
    "99.1 × 67.7, 8 a page, A4": LabelStock(99.1, 67.7, 2, 4, 4.65, 13.1, 101.6, 67.7),
    "66.7 × 25.4, 30 a page, Letter": LabelStock(
        66.7, 25.4, 3, 10, 4.8, 12.7, 69.8, 25.4, page=LETTER
    ),
    "50 × 70 wrap, 12 a page, A4": LabelStock(
        50, 70, 4, 3, 5, 20, 50, 80, form=LabelForm.WRAP, printed_mm=25
    ),
}


@dataclass(frozen=True)
class Label:
    """What one label says. A blank tag, printed ahead, has its tag, link and mark only.

    `warnings` are what must stand wherever the hose is shown: unmatched parts, a day to replace
    it by.
    """

    tag: str
    link: str
    mark: str = ""
    pressure: str = ""
    built: str = ""
    length: str = ""
    warnings: tuple[str, ...] = ()

    @property
    def lines(self) -> tuple[str, ...]:
        """The texts below the tag, those there are; the warnings come first."""
        facts = (self.mark, self.pressure, self.built, self.length)
        return tuple(text for text in (*self.warnings, *facts) if text.strip())


@dataclass(frozen=True)
class LabelSheet:
    """A run of labels, for the checksum and the properties of the paper."""

    number: str
    labels: tuple[Label, ...]
    skipped: int = 0


def draw_labels(sheet: LabelSheet, stock: LabelStock, *, log: list[Placed] | None = None) -> bytes:
    """Draw the labels on as many pages as they take.

    `sheet.skipped` places are left out at the start, for a page that was begun before. Raises
    LabelRefused where the stock cannot carry them; then nothing is drawn.
    """
    _check_stock(stock)
    if not 0 <= sheet.skipped < stock.a_page:
        raise LabelRefused(
            f"{sheet.skipped} places to leave out: a page has {stock.a_page}; "
            f"say 0 to {stock.a_page - 1}."
        )
    for label in sheet.labels:
        _check_label(label, stock)
    stamp = PaperStamp("Tag labels", sheet.number, checksum(sheet))
    paper = Paper(stamp, stock.page, subject=f"{len(sheet.labels)} tags", foot=False, log=log)
    pen = paper.new_page()
    for number, label in enumerate(sheet.labels, sheet.skipped):
        if number > sheet.skipped and number % stock.a_page == 0:
            pen = paper.new_page()
        _draw_label(pen, stock.place(number % stock.a_page), label, stock.form)
    return paper.to_bytes()


def _check_stock(stock: LabelStock) -> None:
    wide = stock.left_mm + (stock.columns - 1) * stock.pitch_x_mm + stock.width_mm
    high = stock.top_mm + (stock.rows - 1) * stock.pitch_y_mm + stock.height_mm
    page = stock.page
    if stock.columns < 1 or stock.rows < 1:
        raise LabelRefused("A label sheet has at least one column and one row.")
    if wide > page.width_mm + 0.05 or high > page.height_mm + 0.05:
        raise LabelRefused(
            f"{stock.columns} × {stock.rows} labels take {wide:.1f} × {high:.1f} mm with their "
            f"margins, more than {page.name} has ({page.width_mm:g} × {page.height_mm:g} mm)."
        )
    if stock.columns > 1 and stock.pitch_x_mm < stock.width_mm - 0.05:
        raise LabelRefused("The labels overlap: the step to the right is less than their width.")
    if stock.rows > 1 and stock.pitch_y_mm < stock.height_mm - 0.05:
        raise LabelRefused("The labels overlap: the step down is less than their height.")


def _check_label(label: Label, stock: LabelStock) -> None:
    box = stock.place(0)
    code = qr.side_in_squares(label.link) * LEAST_SQUARE_MM
    text_w, text_h = _least_text(label)
    beside = 2 if stock.form is LabelForm.WRAP else 1
    need_w = code + beside * (text_w + _GAP_MM) + 2 * _PAD_MM
    need_h = max(code, text_h) + 2 * _PAD_MM
    if box.w < need_w - 0.01 or box.h < need_h - 0.01:
        raise LabelRefused(
            f"A label of {box.w:g} × {box.h:g} mm is too small for the tag {label.tag}: its QR "
            f"code needs {code:.1f} mm to be read, and with the texts the label needs "
            f"{need_w:.1f} × {need_h:.1f} mm."
        )


def _least_text(label: Label) -> tuple[float, float]:
    """The least width and height of the texts beside the code."""
    first, second = _tag_lines(label.tag)
    tag_w = max(width_pt(part, _TAG_PT[1], bold=True) for part in (first, second))
    line_w = max(
        (width_pt(readable(line), _LINE_PT[1], bold=True) for line in label.lines), default=0.0
    )
    height = 2 * _TAG_PT[1] * LEADING + len(label.lines) * _LINE_PT[1] * LEADING
    return max(tag_w, line_w) / PT + 0.2, height / PT + 0.2


def _tag_lines(tag: str) -> tuple[str, str]:
    groups = tag_in_groups(tag).split(" ")
    half = (len(groups) + 1) // 2
    return " ".join(groups[:half]), " ".join(groups[half:])


def _draw_label(pen: Pen, box: Box, label: Label, form: LabelForm) -> None:
    inner = box.inset(_PAD_MM)
    least_code = qr.side_in_squares(label.link) * LEAST_SQUARE_MM
    text_w, _ = _least_text(label)
    beside = 2 if form is LabelForm.WRAP else 1
    code = max(least_code, min(inner.h, inner.w - beside * (1.5 * text_w + _GAP_MM)))
    if form is LabelForm.WRAP:
        side = (inner.w - code) / 2
        left, rest = inner.cut_left(side)
        middle, right = rest.cut_left(code)
        qr.draw(pen, middle, label.link)
        _draw_texts(pen, replace(left, w=side - _GAP_MM), label)
        _draw_texts(pen, replace(right, x=right.x + _GAP_MM, w=side - _GAP_MM), label)
        return
    square, texts = inner.cut_left(code)
    qr.draw(pen, square, label.link)
    _draw_texts(pen, replace(texts, x=texts.x + _GAP_MM, w=texts.w - _GAP_MM), label)


def _draw_texts(pen: Pen, box: Box, label: Label) -> None:
    """The tag in two groups as large as fits, the other texts below it."""
    first, second = _tag_lines(label.tag)
    tag_pt = _largest(_TAG_PT, (first, second), box.w, bold=True)
    line_pt = _largest(_LINE_PT, label.lines, box.w, bold=True)
    while _texts_mm(label, tag_pt, line_pt) > box.h and tag_pt > _TAG_PT[1]:
        tag_pt = max(_TAG_PT[1], tag_pt - 0.5)
    while _texts_mm(label, tag_pt, line_pt) > box.h and line_pt > _LINE_PT[1]:
        line_pt = max(_LINE_PT[1], line_pt - 0.5)
    y = box.y + (box.h - _texts_mm(label, tag_pt, line_pt)) / 2
    rows = [(first, tag_pt, True), (second, tag_pt, True)]
    rows += [(line, line_pt, line in label.warnings) for line in label.lines]
    for text, size, bold in rows:
        height = size * LEADING / PT
        pen.text(Box(box.x, y, box.w, height + 0.02), text, size, floor_pt=size, bold=bold)
        y += height


def _texts_mm(label: Label, tag_pt: float, line_pt: float) -> float:
    return (2 * tag_pt + len(label.lines) * line_pt) * LEADING / PT


def _largest(
    sizes: tuple[float, float], texts: Sequence[str], width_mm: float, *, bold: bool
) -> float:
    size, floor = sizes
    widest = max((width_pt(readable(text), 1.0, bold=bold) for text in texts), default=0.0)
    while size > floor and widest * size > width_mm * PT - 0.1:
        size = max(floor, size - 0.5)
    return size
