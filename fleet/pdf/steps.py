"""The numbered steps with their boxes to tick, in two columns."""

from collections.abc import Sequence

from fleet.pdf.bands import Band, fixed, space
from fleet.pdf.fields import Overleaf, text_lines
from fleet.pdf.pen import PT, Box, Pen
from fleet.pdf.text import LEADING

TICK_MM = 3.4
LARGE_PT = 7.2
SMALL_PT = 5.8
_COLUMN_GAP_MM = 3.0
_NUMBER_MM = 10.0
_BETWEEN_MM = 0.5


def steps_band(
    pen: Pen,
    width: float,
    steps: Sequence[str],
    overleaf: Overleaf,
    *,
    first: int = 1,
    sizes_pt: tuple[float, float] = (SMALL_PT, LARGE_PT),
) -> Band:
    """All steps as one band, numbered from `first`; what does not fit goes overleaf, by steps."""
    if not steps:
        return space(0.0)
    small, large = sizes_pt

    def draw(box: Box) -> None:
        size = large
        while size > small and _height(steps, box.w, size) > box.h + 0.01:
            size = max(small, size - 0.2)
        overleaf.steps.extend(_draw(pen, box, list(enumerate(steps, first)), size))

    return fixed(_height(steps, width, small), _height(steps, width, large), draw)


def _height(steps: Sequence[str], width: float, size_pt: float) -> float:
    left, right = _split(steps, width, size_pt)
    return max(sum(left), sum(right)) + 0.6


def _split(steps: Sequence[str], width: float, size_pt: float) -> tuple[list[float], list[float]]:
    """Heights of the steps in the left and the right column, the left one never the shorter."""
    column = (width - _COLUMN_GAP_MM) / 2
    heights = [step_height(step, column, size_pt) for step in steps]
    cut = next(n for n in range(1, len(heights) + 1) if sum(heights[:n]) >= sum(heights[n:]) - 1e-6)
    return heights[:cut], heights[cut:]


def step_height(step: str, width: float, size_pt: float) -> float:
    """The height of one step in a column of this width."""
    lines = text_lines(step, width - _NUMBER_MM - 0.4, size_pt)
    return max(TICK_MM, lines * size_pt * LEADING / PT) + _BETWEEN_MM


def _draw(pen: Pen, box: Box, told: list[tuple[int, str]], size: float) -> list[tuple[int, str]]:
    """Draw numbered steps in two columns; those that don't fit are given back."""
    heights = _split([step for _, step in told], box.w, size)
    columns, rest, left = box.columns([1, 1], _COLUMN_GAP_MM), iter(told), []
    for column, column_heights in zip(columns, heights, strict=True):
        y = column.y
        for height in column_heights:
            number, step = next(rest)
            if y + height > box.bottom + 0.01:
                left.append((number, step))
                continue
            draw_step(pen, Box(column.x, y, column.w, height), number, step, size)
            y += height
    return left


def draw_step(pen: Pen, box: Box, number: int, step: str, size_pt: float) -> None:
    """One step: box to tick, number, words."""
    pen.rectangle(Box(box.x + 0.2, box.y + 0.1, TICK_MM, TICK_MM), 0.7)
    count, words = box.cut_left(_NUMBER_MM)
    label = Box(count.x + TICK_MM + 1.0, count.y, _NUMBER_MM - TICK_MM - 1.4, count.h)
    pen.text(label, f"{number}", size_pt, bold=True, align="right")
    pen.text(Box(words.x + 0.2, words.y, words.w - 0.2, words.h), step, size_pt, floor_pt=5)
