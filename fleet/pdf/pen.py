"""The pen that draws one page: millimetres from the top left corner, text kept to its box."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

from fleet.pdf.fonts import pieces, width_pt
from fleet.pdf.ink import Ink
from fleet.pdf.text import LEADING, Fitted, Signs, fit, readable, shorten

PT = 72 / 25.4  # points in a millimetre
ASCENT = 0.93  # of the shipped faces, accents on capitals among them
FLOOR_PT = 5.5
Align = Literal["left", "centre", "right"]
Point = tuple[float, float]


@dataclass(frozen=True)
class Box:
    """A rectangle on the page: left, top, width, height, all in mm from the top left corner."""

    x: float
    y: float
    w: float
    h: float

    @property
    def right(self) -> float:
        return self.x + self.w

    @property
    def bottom(self) -> float:
        return self.y + self.h

    def inset(self, dx: float, dy: float | None = None) -> "Box":
        """The box with a margin taken off on every side."""
        dy = dx if dy is None else dy
        return Box(self.x + dx, self.y + dy, max(0.0, self.w - 2 * dx), max(0.0, self.h - 2 * dy))

    def columns(self, shares: Sequence[float], gap: float = 0.0) -> list["Box"]:
        """Split from left to right by shares of the width, with a gap between."""
        free = self.w - gap * (len(shares) - 1)
        boxes, x = [], self.x
        for share in shares:
            width = free * share / sum(shares)
            boxes.append(Box(x, self.y, width, self.h))
            x += width + gap
        return boxes

    def rows(self, shares: Sequence[float], gap: float = 0.0) -> list["Box"]:
        """Split from top to bottom by shares of the height, with a gap between."""
        turned = Box(self.y, self.x, self.h, self.w).columns(shares, gap)
        return [Box(box.y, box.x, box.h, box.w) for box in turned]

    def cut_top(self, height: float) -> tuple["Box", "Box"]:
        """The strip of this height at the top, and the rest."""
        return replace(self, h=height), Box(self.x, self.y + height, self.w, self.h - height)

    def cut_left(self, width: float) -> tuple["Box", "Box"]:
        """The strip of this width at the left, and the rest."""
        return replace(self, w=width), Box(self.x + width, self.y, self.w - width, self.h)


@dataclass(frozen=True)
class Placed:
    """One text as it was placed: for the tests that look for what is clipped or covered."""

    page: int
    box: Box
    text: str
    whole: bool


class Pen:
    """Draws one page. Lines and text; no colours but black on white and light grey."""

    def __init__(
        self, canvas: Any, ink: Ink, height_mm: float, page: int, log: list[Placed] | None
    ) -> None:
        self.page = page
        self.signs = Signs()
        self._canvas = canvas
        self._ink = ink
        self._height_pt = height_mm * PT
        self._log = log
        self._written = ["BT 0 g"]
        self._font = ("", 0.0)

    # -- text ----------------------------------------------------------------------------------

    def text(
        self,
        box: Box,
        text: str,
        size_pt: float = 8,
        *,
        floor_pt: float = FLOOR_PT,
        bold: bool = False,
        align: Align = "left",
        middle: bool = False,
        marker: str = " …",
    ) -> Fitted:
        """Set a text in a box: wrapped, shrunk to the floor size, never past the box."""
        ready = readable(shorten(text), self.signs)
        fitted = fit(
            ready,
            size_pt,
            min(floor_pt, size_pt),
            box.w * PT,
            box.h * PT,
            bold=bold,
            marker=marker,
        )
        self.set_lines(box, fitted, bold=bold, align=align, middle=middle, source=text)
        return fitted

    def set_lines(
        self,
        box: Box,
        fitted: Fitted,
        *,
        bold: bool = False,
        align: Align = "left",
        middle: bool = False,
        source: str = "",
    ) -> None:
        """Set lines that were fitted before, at the top or in the middle of the box."""
        size = fitted.size_pt
        down = (box.h * PT - fitted.height_pt) / 2 if middle else 0.0
        y = self._height_pt - box.y * PT - down - ASCENT * size
        for line in fitted.lines:
            if line:
                x = self._start(box, line, size, bold, align)
                self._written.append(f"1 0 0 1 {x:.2f} {y:.2f} Tm")
                self._set_line(line, size, bold)
            y -= size * LEADING
        if self._log is not None and source.strip():
            self._log.append(Placed(self.page, box, source, fitted.whole))

    def _start(self, box: Box, line: str, size: float, bold: bool, align: Align) -> float:
        if align == "left":
            return box.x * PT
        spare = box.w * PT - width_pt(line, size, bold=bold)
        return box.x * PT + (spare if align == "right" else spare / 2)

    def _set_line(self, line: str, size: float, bold: bool) -> None:
        for face, run in pieces(line, bold=bold):
            for font, string in self._ink.encode(face, run):
                if self._font != (font, size):
                    self._written.append(f"{font} {size:.2f} Tf")
                    self._font = (font, size)
                self._written.append(f"({string}) Tj")

    def later(self, name: str, x: float, baseline_y: float) -> None:
        """Leave a place for a text that is known only when the paper ends (its page count)."""
        self._canvas.saveState()
        self._canvas.translate(x * PT, self._y(baseline_y))
        self._canvas.doForm(name)
        self._canvas.restoreState()

    # -- lines ---------------------------------------------------------------------------------

    def line(self, start: Point, end: Point, width_pt: float = 0.5, dash: str = "") -> None:
        """A straight line; `dash` as the PDF operator takes it, for one `[2 1] 0`."""
        self.path([start, end], width_pt=width_pt, dash=dash)

    def path(
        self,
        points: Iterable[Point],
        *,
        width_pt: float = 0.5,
        dash: str = "",
        close: bool = False,
        grey: float | None = None,
    ) -> None:
        """A line through points, closed and filled where asked; width 0 fills without a line."""
        moves = [f"{x * PT:.2f} {self._y(y):.2f} l" for x, y in points]
        moves[0] = moves[0][:-1] + "m"
        self._stroke(" ".join(moves) + (" h" if close else ""), width_pt, dash, grey)

    def rectangle(
        self, box: Box, width_pt: float = 0.5, grey: float | None = None, dash: str = ""
    ) -> None:
        """The outline of a box, filled with a grey (0 black, 1 white) where one is given."""
        at = f"{box.x * PT:.2f} {self._y(box.bottom):.2f} {box.w * PT:.2f} {box.h * PT:.2f} re"
        self._stroke(at, width_pt, dash, grey)

    def circle(
        self, centre: Point, radius: float, width_pt: float = 0.5, grey: float | None = None
    ) -> None:
        """A circle from four curves."""
        (x, y), k = centre, 0.5523 * radius
        r = radius
        bends = [
            ((x + r, y - k), (x + k, y - r), (x, y - r)),
            ((x - k, y - r), (x - r, y - k), (x - r, y)),
            ((x - r, y + k), (x - k, y + r), (x, y + r)),
            ((x + k, y + r), (x + r, y + k), (x + r, y)),
        ]
        moves = [f"{(x + r) * PT:.2f} {self._y(y):.2f} m"]
        for bend in bends:
            at = " ".join(f"{px * PT:.2f} {self._y(py):.2f}" for px, py in bend)
            moves.append(f"{at} c")
        self._stroke(" ".join(moves) + " h", width_pt, "", grey)

    def tube(self, points: Sequence[Point], thick_mm: float, grey: float = 1.0) -> None:
        """A bent tube through points: a thick round line, and a lighter one inside it."""
        moves = " ".join(
            f"{x * PT:.2f} {self._y(y):.2f} {'m' if first else 'l'}"
            for first, (x, y) in zip([True] + [False] * len(points), points, strict=False)
        )
        outer, inner = thick_mm * PT, thick_mm * PT - 1.4
        self._canvas.addLiteral(
            f"q 1 j 0 G {outer:.2f} w {moves} S {grey:.2f} G {inner:.2f} w {moves} S Q"
        )

    def squares(self, box: Box, runs: Iterable[tuple[int, int, int]], count: int) -> None:
        """Fill runs of small squares (row, first column, length) of a grid of `count` by `count`.

        Drawn whole numbers under one scale, so that neighbours meet without a hair between.
        """
        step = box.w * PT / count
        drawn = " ".join(f"{column} {-row - 1} {length} 1 re" for row, column, length in runs)
        self._canvas.addLiteral(
            f"q 0 g {step:.4f} 0 0 {step:.4f} {box.x * PT:.2f} {self._y(box.y):.2f} cm {drawn} f Q"
        )

    def bookmark(self, key: str, title: str, level: int = 0) -> None:
        """Name this page for links, and put it into the outline of the paper."""
        self._canvas.bookmarkPage(key)
        self._canvas.addOutlineEntry(readable(title), key, level)

    def link(self, box: Box, key: str) -> None:
        """Make a box lead to a named page of the same paper."""
        corners = (box.x * PT, self._y(box.bottom), box.right * PT, self._y(box.y))
        self._canvas.linkRect("", key, corners, thickness=0)

    def lift(self) -> None:
        """End the page: the text goes on top of the lines."""
        self._canvas.addLiteral(" ".join([*self._written, "ET"]))

    def _stroke(self, moves: str, width_pt: float, dash: str, grey: float | None) -> None:
        paint = "S" if grey is None else ("B" if width_pt else "f")
        state = f"{width_pt:.2f} w " if width_pt else ""
        if dash:
            state += f"{dash} d "
        if grey is not None:
            state += f"{grey:.2f} g "
        self._canvas.addLiteral(f"q {state}{moves} {paint} Q")

    def _y(self, y_mm: float) -> float:
        return self._height_pt - y_mm * PT
