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
    """Print every kept text whole, over as many pages as it takes."""
    if not overleaf.entries and not overleaf.steps:
        return
    flow = _Flow(paper, stamp, content)
    for number, step in overleaf.steps:
        flow.add_step(number, step)
    for label, text in overleaf.entries:
        flow.add(label, text)


class _Flow:
    """Running text under headings, from page to page."""

    def __init__(self, paper: Paper, stamp: PaperStamp, content: SheetContent) -> None:
        self.paper, self.stamp, self.content = paper, stamp, content
        self.pen: Pen
        self.rest: Box
        self._turn()

    def add(self, label: str, text: str) -> None:
        """A heading and its text; a heading never stands alone at the foot of a page."""
        heading = label or "Continued"
        heading_mm = _LABEL_PT * LEADING / PT
        line_mm = _SIZE_PT * LEADING / PT
        if self.rest.h < heading_mm + 2 * line_mm:
            self._turn()
        top, self.rest = self.rest.cut_top(heading_mm)
        self.pen.text(top, heading, _LABEL_PT, bold=True)
        ready = readable(shorten(text), self.pen.signs)
        for line in wrap(ready, _SIZE_PT, self.rest.w * PT):
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


def draw_pieces(paper: Paper, stamp: PaperStamp, content: SheetContent) -> None:
    """A row of boxes for each piece of a batch, where there is more than one."""
    if content.quantity == 1 or not content.can_be_crimped:
        return
    piece = 1
    while piece <= content.quantity:
        pen = paper.new_page(stamp)
        rest = _draw_head(pen, paper.page.body, content, "every piece")
        columns = _columns(content)
        strip, rest = rest.cut_top(_COLUMN_HEAD_MM)
        cells = strip.columns([share for _, share in columns])
        for (label, _), cell in zip(columns, cells, strict=True):
            pen.rectangle(cell, 0.5, 0.9)
            pen.text(cell.inset(0.6, 0.4), label, 6.5, floor_pt=4.5, bold=True)
        while piece <= content.quantity and rest.h >= _PIECE_MM:
            row, rest = rest.cut_top(_PIECE_MM)
            cells = row.columns([share for _, share in columns])
            draw_field(pen, cells[0], Field("", str(piece), size_pt=10, bold=True), Overleaf())
            for cell in cells[1:]:
                pen.rectangle(cell, 0.35)
            piece += 1


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
