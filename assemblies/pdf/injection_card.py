"""The back of the fitting-up sheet: what to do, and what to tell the surgeon, in large letters."""

from collections.abc import Sequence
from dataclasses import replace

from assemblies.calc.fitting_sheet import FittingContent
from assemblies.calc.fitting_words import duty_words, oil_words, pressure_words
from assemblies.calc.injection_card import CARD_TITLE
from fleet.pdf.bands import Band, draw_down, fixed, space
from fleet.pdf.fields import Field, Overleaf, field_row, put, text_lines
from fleet.pdf.pen import PT, Box, Pen
from fleet.pdf.text import LEADING

_LARGE_PT, _SMALL_PT = 12.5, 9.0
_LEAD_MM = 9.0
_BETWEEN_MM = 1.6
_BOX_MM = (15.0, 24.0)
_MOST_MM = 24.0
_LABEL_MM = 4.4
_VALUE_PT = 13.0


def draw_injection_card(pen: Pen, body: Box, content: FittingContent, overleaf: Overleaf) -> None:
    """Draw the card over a page's body; what does not fit goes overleaf."""
    bands = [
        fixed(20.0, 24.0, lambda box: _draw_title(pen, box)),
        *_points(pen, body.w, "What to do now", content.first_aid, overleaf),
        *_points(pen, body.w, "What to tell the surgeon", content.for_the_surgeon, overleaf),
        space(2.0),
        *(_row(pen, body.w, row, overleaf) for row in _rows(content)),
    ]
    draw_down(bands, body)


def _draw_title(pen: Pen, box: Box) -> None:
    frame = Box(box.x, box.y, box.w, box.h - 2.0)
    pen.rectangle(frame, 2.4)
    words = CARD_TITLE.replace(": ", ":\n")
    pen.text(frame.inset(3.0, 1.5), words, 22, bold=True, align="centre", middle=True)


def _points(
    pen: Pen, width: float, name: str, points: Sequence[str], overleaf: Overleaf
) -> list[Band]:
    heading = fixed(7.0, 8.5, lambda box: _draw_heading(pen, box, name))
    return [heading, *(_point(pen, width, point, name, overleaf) for point in points)]


def _draw_heading(pen: Pen, box: Box, name: str) -> None:
    pen.text(box.inset(0, 0.4), name, 14, bold=True)


def _point(pen: Pen, width: float, point: str, name: str, overleaf: Overleaf) -> Band:
    least, wanted = (
        text_lines(point, width - _LEAD_MM, size) * size * LEADING / PT + _BETWEEN_MM
        for size in (_SMALL_PT, _LARGE_PT)
    )

    def draw(box: Box) -> None:
        lead, words = box.cut_left(_LEAD_MM)
        pen.text(Box(lead.x + 3.0, lead.y, 5.0, lead.h), "■", 10)
        put(pen, words, point, name, overleaf, size_pt=_LARGE_PT)

    return fixed(least, max(least, wanted), draw)


def _row(pen: Pen, width: float, entries: Sequence[Field], overleaf: Overleaf) -> Band:
    """Boxes with labels that are read without glasses; empty ones are for the pen."""
    shares = [entry.share for entry in entries]
    values = [replace(entry, label="") for entry in entries]
    row = field_row(pen, width, values, overleaf, most=_MOST_MM)

    def draw(box: Box) -> None:
        for entry, cell in zip(entries, box.columns(shares), strict=True):
            pen.rectangle(cell, 0.6)
            label, value = cell.inset(1.0, 0.6).cut_top(_LABEL_MM)
            pen.text(label, entry.label, 8.5)
            if entry.value:
                put(pen, value, entry.value, entry.label, overleaf, size_pt=_VALUE_PT, bold=True)

    least = max(_BOX_MM[0], row.whole + _LABEL_MM)
    return fixed(least, max(least, _BOX_MM[1]), draw)


def _rows(content: FittingContent) -> list[list[Field]]:
    place = content.place
    pressure = duty_words(place) or pressure_words(content.new) or pressure_words(content.old)
    return [
        [
            Field(
                "FLUID: name and maker, as on its data sheet",
                place.fluid,
                2.0,
                _VALUE_PT,
                bold=True,
            ),
            Field("PRESSURE", pressure, 1.4, _VALUE_PT, bold=True),
            Field("Temperature of the oil", oil_words(place), 0.9, _VALUE_PT, bold=True),
        ],
        [
            Field("TIME of the injury: day, hour", share=1.2),
            Field("Where on the body", share=1.4),
            Field("Data sheet goes along? yes / no", share=1.0),
        ],
        [
            Field("Name of the injured person", share=1.4),
            Field("Goes along: name, telephone", share=1.4),
        ],
        [
            Field("Emergency number here", share=0.9),
            Field("Hospital told: name, telephone, time", share=1.6),
            Field("Machine, site", f"{place.machine}, {place.site}", 1.2, _VALUE_PT, bold=True),
        ],
    ]
