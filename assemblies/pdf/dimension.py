"""Dimension lines: two arrows between two extension lines, the figure where it is clear of both."""

from fleet.pdf.fonts import width_pt
from fleet.pdf.pen import PT, Box, Pen

ARROW_MM = 1.6
TEXT_MM = 3.2
TEXT_PT = 7.5


def draw_dimension(
    pen: Pen,
    span: tuple[float, float],
    y: float,
    words: str,
    *,
    beside: float,
    size_pt: float = TEXT_PT,
) -> None:
    """Draw one dimension over a span from left to right at the height `y` (mm).

    The words stand above the line where they fit between the arrows; else they begin at `beside`,
    a place the caller knows to be free.
    """
    left, right = span
    pen.line((left, y), (right, y), 0.4)
    _arrow(pen, left, y, 1)
    _arrow(pen, right, y, -1)
    wide = width_pt(words, size_pt, bold=True) / PT
    height = size_pt * 1.19 / PT
    if wide <= right - left - 2:
        box = Box((left + right - wide) / 2 - 0.2, y - height - 0.3, wide + 0.6, height + 0.1)
    else:
        box = Box(beside, y - height / 2, wide + 0.6, height + 0.1)
    pen.text(box, words, size_pt, bold=True)


def draw_extension(pen: Pen, x: float, top: float, bottom: float) -> None:
    """A thin line that carries a dimension away from the thing measured."""
    pen.line((x, top), (x, bottom), 0.25)


def _arrow(pen: Pen, x: float, y: float, toward: int) -> None:
    back = x + toward * ARROW_MM
    pen.path([(x, y), (back, y - 0.45), (back, y + 0.45)], close=True, width_pt=0, grey=0)
