"""The foot of the build sheet's first page: test boxes, cautions, sign-off."""

from collections.abc import Sequence

from assemblies.calc.sheet import SheetContent
from assemblies.calc.sheet_words import bars, millimetres
from fleet.pdf.bands import Band, fixed
from fleet.pdf.fields import Field, Overleaf, draw_field, put, text_lines
from fleet.pdf.pen import PT, Box, Pen
from fleet.pdf.text import LEADING

_CAUTION_PT = 6.6
_CAUTION_FLOOR_PT = 5.5


def proof_band(pen: Pen, content: SheetContent) -> Band:
    """Boxes for the pen: lengths, reel, proof test, flush."""
    entries = [
        Field("Reel · date made", share=1.4),
        Field("Bore cleaned with", share=1.1),
        Field(f"Cut ({millimetres(content.length.cut_length_mm)})", share=1.0),
        Field(f"Finished, {content.length.basis.value}", share=1.1),
        Field(f"Proof ({bars(content.test.pressure_bar)})", share=1.0),
        Field("Held, s", share=0.7),
        Field("Gauge no.", share=0.9),
        Field("Tight? yes / no", share=0.9),
        Field("Flushed, capped", share=1.0),
    ]

    def draw(box: Box) -> None:
        inner = Box(box.x, box.y + 0.8, box.w, box.h - 0.8)
        for entry, cell in zip(entries, inner.columns([e.share for e in entries]), strict=True):
            draw_field(pen, cell, entry, Overleaf())

    return fixed(9.8, 12.0, draw)


def caution_band(pen: Pen, width: float, cautions: Sequence[str], overleaf: Overleaf) -> Band:
    """The cautions, all of them, in a ruled box."""
    text = " ■ ".join(cautions)
    least, wanted = (
        text_lines(text, width - 2.0, size) * size * LEADING / PT + 2.1
        for size in (_CAUTION_FLOOR_PT, _CAUTION_PT)
    )

    def draw(box: Box) -> None:
        strip = Box(box.x, box.y + 0.8, box.w, box.h - 0.8)
        pen.rectangle(strip, 0.9)
        put(pen, strip.inset(1.0, 0.6), text, "Cautions", overleaf, size_pt=_CAUTION_PT)

    return fixed(least, max(least, wanted), draw)


def sign_band(pen: Pen) -> Band:
    """Who built, tested and checked it, and when."""
    labels = ("Built by, date", "Tested by, date", "Checked by, date", "Tag")

    def draw(box: Box) -> None:
        strip = Box(box.x, box.y + 0.8, box.w, box.h - 0.8)
        for label, cell in zip(labels, strip.columns([1.2, 1.2, 1.2, 1.4]), strict=True):
            draw_field(pen, cell, Field(label), Overleaf())

    return fixed(9.4, 11.5, draw)
