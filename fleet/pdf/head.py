"""What stands at the head of papers: codes to scan, days, and what must be read first."""

from collections.abc import Sequence
from datetime import date

from fleet.pdf import qr
from fleet.pdf.bands import Band
from fleet.pdf.fields import Overleaf, put, text_band
from fleet.pdf.pen import Box, Pen

QR_MM = 18.0
_ALERT_PT = 8.5


def day_words(day: date | None) -> str:
    """A day as the papers write it, the same in every country."""
    return day.isoformat() if day else "not set"


def draw_code(pen: Pen, box: Box, words: str, link: str) -> None:
    """A code with a word below it, in a box that is at least as high as it is wide."""
    square, under = box.cut_top(box.w)
    qr.draw(pen, square, link)
    pen.text(Box(under.x, under.y - 0.6, under.w, 2.6), words, 5.5, align="centre")


def alert_bands(pen: Pen, width: float, alerts: Sequence[str], overleaf: Overleaf) -> list[Band]:
    """What must stand on a paper in large letters; nothing where there is nothing."""
    if not alerts:
        return []
    text = "\n".join(f"▲ {alert}" for alert in alerts)
    band = text_band(pen, width - 2.0, text, "", overleaf, size_pt=_ALERT_PT, most=40.0)

    def draw(box: Box) -> None:
        pen.rectangle(box.inset(0, 0.3), 1.6)
        inner = box.inset(1.4, 1.0)
        put(pen, inner, text, "Stands on this sheet", overleaf, size_pt=_ALERT_PT, bold=True)

    whole = band.whole * 1.1 + 2
    return [Band(min(whole, band.least + 2), whole, band.wanted * 1.15 + 2, draw)]
