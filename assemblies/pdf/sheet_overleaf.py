"""The pages after the first: texts that did not fit, and the boxes of every further piece."""

from assemblies.calc.sheet import SheetContent
from assemblies.calc.sheet_words import bars, figure, millimetres
from fleet.pdf.fields import Field, Overleaf, draw_field
from fleet.pdf.frame import Paper, PaperStamp
from fleet.pdf.pen import Box, Pen
from fleet.pdf.running import RunningPages

_HEAD_MM = 11.0
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
    flow.add_overleaf(overleaf)
    if pieces:
        flow.add_pieces()


class _Flow(RunningPages):
    """Running text under headings, then the boxes of a batch."""

    def __init__(self, paper: Paper, stamp: PaperStamp, content: SheetContent) -> None:
        self.content = content
        super().__init__(paper, stamp, lambda pen, body: _draw_head(pen, body, content))

    def add_pieces(self) -> None:
        """A row of boxes for each piece of a batch."""
        columns = _columns(self.content)
        shares = [share for _, share in columns]
        if self.rest.h < _COLUMN_HEAD_MM + 2 * _PIECE_MM:
            self.turn()
        self._piece_heads(columns, shares)
        for piece in range(1, self.content.quantity + 1):
            if self.rest.h < _PIECE_MM:
                self.turn()
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


def _draw_head(pen: Pen, body: Box, content: SheetContent) -> Box:
    head, rest = body.cut_top(_HEAD_MM)
    top, under = head.inset(0, 0.3).rows([1.3, 1])
    spec = f"{content.spec_code} rev {content.spec_revision}"
    pen.text(top, f"BUILD SHEET {content.number}, continued: {spec}", 11, floor_pt=7, bold=True)
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
