"""The detail of one end: hose in the shell, insertion mark, skive, cover left, crimp zone.

Lengths along the shell are to one scale (the insertion depth fills the shell); the rest is a
picture. End A is drawn with its fitting at the left, end B at the right.
"""

from dataclasses import dataclass

from assemblies.calc.sheet import CrimpFigures, EndLine, SkiveKind
from assemblies.calc.sheet_words import figure, millimetres, short_figure, tolerance
from assemblies.pdf.dimension import draw_dimension, draw_extension
from fleet.pdf.fonts import width_pt
from fleet.pdf.pen import PT, Box, Pen

_FITTING_MM = 26.0
_SHELL_MM = 36.0
_HOSE_MM = 4.6  # half of each height
_WIRE_MM = 3.5
_TAIL_MM = 2.3
_BORE_MM = 1.5
_SHELL_OUT_MM = 6.0
_TEXT_PT = 6.5


@dataclass(frozen=True)
class _Place:
    """Turns a length from the fitting's side into a place on the paper, mirrored or not."""

    box: Box
    mirrored: bool
    axis: float

    def x(self, length: float) -> float:
        return self.box.right - length if self.mirrored else self.box.x + length

    def bar(self, start: float, end: float, top: float, bottom: float) -> Box:
        left, right = sorted((self.x(start), self.x(end)))
        return Box(left, self.axis + top, right - left, bottom - top)

    def both(self, start: float, end: float, inner: float, outer: float) -> tuple[Box, Box]:
        """The same bar above and below the axis."""
        return self.bar(start, end, -outer, -inner), self.bar(start, end, inner, outer)


def draw_end_detail(pen: Pen, box: Box, end: EndLine, *, mirrored: bool) -> None:
    """Draw the section of one end with its marks; without a recipe, the section alone."""
    place = _Place(box, mirrored, box.y + 4.7 + _SHELL_OUT_MM)
    mouth = _FITTING_MM + _SHELL_MM
    _draw_fitting(pen, place)
    _draw_hose(pen, place, mouth, end.crimp)
    for bar in place.both(_FITTING_MM - 1.5, mouth, _HOSE_MM, _SHELL_OUT_MM):
        pen.rectangle(bar, 0.7, 0.8)
    if end.crimp is None:
        return
    _draw_marks(pen, place, mouth, end.crimp)
    _draw_crimp(pen, place, end.crimp)


def _draw_fitting(pen: Pen, place: _Place) -> None:
    """The tail in the hose, the neck, and a hexagon for whatever meets the port."""
    for bar in place.both(12.0, _FITTING_MM + 0.86 * _SHELL_MM, _BORE_MM, _TAIL_MM):
        pen.rectangle(bar, 0.5, 0.92)
    pen.rectangle(place.bar(_FITTING_MM - 3.5, _FITTING_MM - 1.5, -4.4, 4.4), 0.5, 0.92)
    pen.rectangle(place.bar(3.0, 13.0, -5.2, 5.2), 0.6, 0.97)
    for y in (-2.4, 2.4):
        pen.line((place.x(3.0), place.axis + y), (place.x(13.0), place.axis + y), 0.3)


def _draw_hose(pen: Pen, place: _Place, mouth: float, crimp: CrimpFigures | None) -> None:
    far = place.box.w - 3.0
    skived = _skived(crimp)
    for bar in place.both(_FITTING_MM, far, _TAIL_MM, _WIRE_MM):
        pen.rectangle(bar, 0.4, 1.0)
    for bar in place.both(_FITTING_MM + skived, far, _WIRE_MM, _HOSE_MM):
        pen.rectangle(bar, 0.4, 0.6)
    step = 1.8
    for side in (-1, 1):
        x = _FITTING_MM + 0.4
        while x + 1.1 < far:
            start = (place.x(x), place.axis + side * (_TAIL_MM + 0.1))
            pen.line(start, (place.x(x + 1.1), place.axis + side * (_WIRE_MM - 0.1)), 0.25)
            x += step
    pen.line((place.x(mouth), place.axis - _TAIL_MM), (place.x(mouth), place.axis + _TAIL_MM), 0.2)


def _skived(crimp: CrimpFigures | None) -> float:
    """The skived length on the paper."""
    if crimp is None or crimp.external_skive.length_mm is None or not crimp.insertion_depth_mm:
        return 0.0
    return _SHELL_MM * float(crimp.external_skive.length_mm / crimp.insertion_depth_mm)


def _draw_marks(pen: Pen, place: _Place, mouth: float, crimp: CrimpFigures) -> None:
    top = place.axis + _SHELL_OUT_MM
    lane_1, lane_2 = top + 3.7, top + 7.0
    start, end = sorted((place.x(_FITTING_MM), place.x(mouth)))
    draw_extension(pen, start, top, lane_2 + 0.8)
    draw_extension(pen, end, top, lane_2 + 0.8)
    words = f"insertion mark {millimetres(crimp.insertion_depth_mm)}"
    draw_dimension(pen, (start, end), lane_1, words, beside=end + 1.5, size_pt=_TEXT_PT)
    if crimp.external_skive.kind is not SkiveKind.LENGTH:
        words = (
            "no outside skive"
            if crimp.external_skive.kind is SkiveKind.NONE
            else "outside skive NOT KNOWN"
        )
        pen.text(_centred(place, lane_2, words), words, _TEXT_PT, bold=True)
        return
    edge = _FITTING_MM + _skived(crimp)
    draw_extension(pen, place.x(edge), lane_1 + 0.6, lane_2 + 0.8)
    _draw_skive(pen, place, lane_2, edge, f"skive {millimetres(crimp.external_skive.length_mm)}")
    if crimp.cover_left_mm:
        words = f"cover left {short_figure(crimp.cover_left_mm)} mm"
        _beside(pen, place, lane_2, (edge, mouth), words, hose_side=True)


def _draw_skive(pen: Pen, place: _Place, y: float, edge: float, words: str) -> None:
    if width_pt(words, _TEXT_PT, bold=True) / PT <= edge - _FITTING_MM - 2:
        low, high = sorted((place.x(_FITTING_MM), place.x(edge)))
        draw_dimension(pen, (low, high), y, words, beside=0, size_pt=_TEXT_PT)
    else:
        _beside(pen, place, y, (_FITTING_MM, edge), words, hose_side=False)


def _beside(
    pen: Pen, place: _Place, y: float, span: tuple[float, float], words: str, *, hose_side: bool
) -> None:
    """A short dimension with its words beside it, towards the hose or towards the fitting."""
    wide = width_pt(words, _TEXT_PT, bold=True) / PT + 0.6
    start, end = span
    edge = end + 1.2 if hose_side else start - 1.2
    low = edge if hose_side else edge - wide
    left = min(place.x(low), place.x(low + wide))
    pen.line((place.x(start), y), (place.x(end), y), 0.4)
    for x in span:
        pen.line((place.x(x) - 0.5, y + 0.5), (place.x(x) + 0.5, y - 0.5), 0.6)
    pen.text(Box(left, y - 1.4, wide, 2.8), words, _TEXT_PT, bold=True)


def _centred(place: _Place, y: float, words: str) -> Box:
    wide = width_pt(words, _TEXT_PT, bold=True) / PT + 0.6
    middle = place.x(_FITTING_MM + _SHELL_MM / 2)
    return Box(middle - wide / 2, y - 2.6, wide, 2.8)


def _draw_crimp(pen: Pen, place: _Place, crimp: CrimpFigures) -> None:
    """The crimp zone at mid-length, where the readings are taken, with its diameter."""
    middle = _FITTING_MM + _SHELL_MM / 2
    top = place.axis - _SHELL_OUT_MM
    zone = sorted((place.x(middle - 0.2 * _SHELL_MM), place.x(middle + 0.2 * _SHELL_MM)))
    for y in (top - 0.5, place.axis + _SHELL_OUT_MM + 0.5):
        pen.line((zone[0], y), (zone[1], y), 1.4)
    od = f"Ø {figure(crimp.crimp_od_mm)}"
    within = tolerance(crimp.crimp_od_plus_mm, crimp.crimp_od_minus_mm)
    words = f"crimp {od} {within} mm here"
    wide = width_pt(words, 7.5, bold=True) / PT + 0.6
    pen.text(Box(place.x(middle) - wide / 2, top - 4.4, wide, 3.3), words, 7.5, bold=True)
