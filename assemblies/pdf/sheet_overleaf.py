"""The pages after the first: texts that did not fit, and the boxes of every further piece."""

from assemblies.calc.sheet import SheetContent
from assemblies.calc.sheet_words import bars, figure, millimetres
from assemblies.pdf.sheet_steps import draw_step, step_height
from fleet.pdf.fields import Field, Overleaf, draw_field
from fleet.pdf.frame import Paper, PaperStamp
from fleet.pdf.pen import PT, Box, Pen
from fleet.pdf.text import LEADING, readable, shorten, wrap

_HEAD_MM = 11.0
_SIZE_PT = 9.0
_LABEL_PT = 8.0
_PIECE_MM = 11.5
_COLUMN_HEAD_MM = 10.0


def draw_overleaf(
    paper: Paper, stamp: PaperStamp, content: SheetContent, overleaf: Overleaf
) -> None:
    """Print every kept text whole, then the boxes of a batch, over as many pages as it takes."""
    pieces = content.quantity if content.quantity > 1 and content.can_be_crimped else 0
    if not overleaf.entries and not overleaf.steps and not pieces:
        return
    flow = _Flow(paper, stamp, content)
    for number, step in overleaf.steps:
        flow.add_step(number, step)
    for label, text in overleaf.entries:
        flow.add(label, text)
    if pieces:
        flow.add_pieces()


class _Flow:
    """Running text under headings, from page to page."""

    def __init__(self, paper: Paper, stamp: PaperStamp, content: SheetContent) -> None:
        self.paper, self.stamp, self.content = paper, stamp, content
        self.pen: Pen
        self.rest: Box
        self._turn()
        self.longest = self.rest.h

    def add(self, label: str, text: str) -> None:
        """A heading and its text."""
        heading = label or "Continued"
        heading_mm = _LABEL_PT * LEADING / PT
        line_mm = _SIZE_PT * LEADING / PT
        ready = readable(shorten(text), self.pen.signs)
        lines = wrap(ready, _SIZE_PT, self.rest.w * PT)
        whole = heading_mm + len(lines) * line_mm
        # An entry stays together where a page holds it, else its heading has two lines below it.
        room = whole if whole < self.longest else heading_mm + 2 * line_mm
        if self.rest.h < room:
            self._turn()
            readable(text, self.pen.signs)
        top, self.rest = self.rest.cut_top(heading_mm)
        self.pen.text(top, heading, _LABEL_PT, bold=True)
        for line in lines:
            if self.rest.h < line_mm:
                self._turn()
            strip, self.rest = self.rest.cut_top(line_mm)
            self.pen.text(strip, line, _SIZE_PT)
        _, self.rest = self.rest.cut_top(min(2.0, self.rest.h))

    def add_step(self, number: int, step: str) -> None:
        """A step with its box to tick, on one page."""
        height = step_height(step, self.rest.w, _SIZE_PT) + 0.8
        if self.rest.h < height:
            self._turn()
        strip, self.rest = self.rest.cut_top(height)
        draw_step(self.pen, strip, number, step, _SIZE_PT)

    def add_pieces(self) -> None:
        """A row of boxes for each piece of a batch."""
        columns = _columns(self.content)
        shares = [share for _, share in columns]
        if self.rest.h < _COLUMN_HEAD_MM + 2 * _PIECE_MM:
            self._turn()
        self._piece_heads(columns, shares)
        for piece in range(1, self.content.quantity + 1):
            if self.rest.h < _PIECE_MM:
                self._turn()
                self._piece_heads(columns, shares)
            row, self.rest = self.rest.cut_top(_PIECE_MM)
            number, *cells = row.columns(shares)
            entry = Field("", str(piece), size_pt=10, bold=True)
            draw_field(self.pen, number, entry, Overleaf())
            for cell in cells:
                self.pen.rectangle(cell, 0.35)

    def _piece_heads(self, columns: list[tuple[str, float]], shares: list[float]) -> None:
        strip, self.rest = self.rest.cut_top(_COLUMN_HEAD_MM)
        for (label, _), cell in zip(columns, strip.columns(shares), strict=True):
            self.pen.rectangle(cell, 0.5, 0.9)
            self.pen.text(cell.inset(0.6, 0.4), label, 6.5, floor_pt=4.5, bold=True)

    def _turn(self) -> None:
        self.pen = self.paper.new_page(self.stamp)
        self.rest = _draw_head(self.pen, self.paper.page.body, self.content, "continued")


def _draw_head(pen: Pen, body: Box, content: SheetContent, words: str) -> Box:
    head, rest = body.cut_top(_HEAD_MM)
    top, under = head.inset(0, 0.3).rows([1.3, 1])
    spec = f"{content.spec_code} rev {content.spec_revision}"
    pen.text(top, f"BUILD SHEET {content.number}, {words}: {spec}", 11, floor_pt=7, bold=True)
    pen.text(under, content.title, 8)
    pen.line((head.x, head.bottom - 0.6), (head.right, head.bottom - 0.6), 0.8)
    return Box(rest.x, rest.y + 1.0, rest.w, rest.h - 1.0)


def _columns(content: SheetContent) -> list[tuple[str, float]]:
    columns = [("No.", 0.55), ("Tag", 1.5), (f"Cut {millimetres(content.length.cut_length_mm)}", 1)]
    for end in content.ends:
        if end.crimp is None:
            continue
        low, high = end.crimp.crimp_od_range_mm
        od = f"{end.label} mean OD {figure(low)} … {figure(high)}"
        oval = f"{end.label} ovality"
        columns += [(od, 1.2), (oval, 1.0)]
        if end.crimp.pin is not None:
            columns.append((f"{end.label} pin {end.crimp.pin.expected.value}", 0.8))
    return [*columns, (f"Proof {bars(content.test.pressure_bar)}", 1.0), ("Signed", 1.0)]
