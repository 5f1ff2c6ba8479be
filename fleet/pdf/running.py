"""Running pages: bands, texts and steps one below the other, on as many pages as they take."""

from collections.abc import Callable, Iterable

from fleet.pdf.bands import Band
from fleet.pdf.fields import Overleaf
from fleet.pdf.frame import Paper, PaperStamp
from fleet.pdf.pen import PT, Box, Pen
from fleet.pdf.steps import draw_step, step_height
from fleet.pdf.text import LEADING, readable, shorten, wrap

_SIZE_PT = 9.0
_LABEL_PT = 8.0
_LINE_MM = _SIZE_PT * LEADING / PT
_HEADING_MM = _LABEL_PT * LEADING / PT
_GAP_MM = 2.0
# A band that a page would hold goes to the next page whole; one that no page holds is drawn where
# it stands, and what it can't show goes overleaf.

Head = Callable[[Pen, Box], Box]
"""Draws the head of a further page into its body; what is left below the head is returned."""


class RunningPages:
    """Content from page to page of a paper; each page begins with the same head."""

    def __init__(self, paper: Paper, stamp: PaperStamp, head: Head) -> None:
        self.paper, self.stamp, self.head = paper, stamp, head
        self.pen: Pen
        self.rest: Box
        self.turn()
        self.longest = self.rest.h

    def turn(self) -> None:
        """Begin the next page."""
        self.pen = self.paper.new_page(self.stamp)
        self.rest = self.head(self.pen, self.paper.page.body)

    def room(self, height: float) -> None:
        """See to it that this height (mm) is left, where a page has as much."""
        if self.rest.h < height and self.rest.h < self.longest:
            self.turn()

    def add_band(self, make: Callable[[Pen], Band]) -> None:
        """A band at the height that it wants; `make` is asked again on a new page."""
        band = make(self.pen)
        if band.whole > self.rest.h and self.rest.h < self.longest:
            self.turn()
            band = make(self.pen)
        strip, self.rest = self.rest.cut_top(min(band.wanted, self.rest.h))
        band.draw(strip)

    def add_overleaf(self, overleaf: Overleaf) -> None:
        """What did not fit its box elsewhere, whole."""
        self.add_steps(overleaf.steps)
        for label, text in overleaf.entries:
            self.add_text(label, text)

    def add_text(self, label: str, text: str) -> None:
        """A heading and its text."""
        lines = wrap(readable(shorten(text), self.pen.signs), _SIZE_PT, self.rest.w * PT)
        whole = _HEADING_MM + len(lines) * _LINE_MM
        # An entry stays together where a page holds it, else its heading has two lines below it.
        least = whole if whole < self.longest else _HEADING_MM + 2 * _LINE_MM
        if self.rest.h < least:
            self.turn()
            readable(text, self.pen.signs)
        top, self.rest = self.rest.cut_top(_HEADING_MM)
        self.pen.text(top, label or "Continued", _LABEL_PT, bold=True)
        for line in lines:
            if self.rest.h < _LINE_MM:
                self.turn()
                readable(text, self.pen.signs)
            strip, self.rest = self.rest.cut_top(_LINE_MM)
            self.pen.text(strip, line, _SIZE_PT)
        _, self.rest = self.rest.cut_top(min(_GAP_MM, self.rest.h))

    def add_steps(self, steps: Iterable[tuple[int, str]]) -> None:
        """Steps with their boxes to tick, each on one page."""
        for number, step in steps:
            height = step_height(step, self.rest.w, _SIZE_PT) + 0.8
            self.room(height)
            strip, self.rest = self.rest.cut_top(height)
            draw_step(self.pen, strip, number, step, _SIZE_PT)
