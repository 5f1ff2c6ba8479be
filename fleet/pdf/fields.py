"""Fields: a small label over a value in a ruled box, in rows; what does not fit goes overleaf."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from fleet.pdf.bands import Band
from fleet.pdf.pen import FLOOR_PT, PT, Box, Pen
from fleet.pdf.text import LEADING, readable, shorten, wrap

LABEL_PT = 5.2
LABEL_MM = 2.5
PAD_MM = 0.8
OVERLEAF = " … next page"


@dataclass(frozen=True)
class Field:
    """One ruled box with its label and value; without a value it is for the pen."""

    label: str
    value: str = ""
    share: float = 1.0
    size_pt: float = 7.5
    bold: bool = False


@dataclass
class Overleaf:
    """What did not fit its box: printed whole on a later page, under its label or its number.

    `marker` ends what stands in the box, and says where the whole text is.
    """

    marker: str = OVERLEAF
    entries: list[tuple[str, str]] = field(default_factory=list)
    steps: list[tuple[int, str]] = field(default_factory=list)

    def add(self, label: str, text: str) -> None:
        """Keep one text for a later page."""
        self.entries.append((label, text))


def draw_field(pen: Pen, box: Box, entry: Field, overleaf: Overleaf) -> None:
    """Draw one field in its box."""
    pen.rectangle(box, 0.35)
    inner = box.inset(PAD_MM, 0.3)
    label, rest = inner.cut_top(LABEL_MM)
    if entry.label:
        pen.text(label, entry.label, LABEL_PT, floor_pt=4)
    if entry.value:
        value = rest if entry.label else inner
        put(pen, value, entry.value, entry.label, overleaf, size_pt=entry.size_pt, bold=entry.bold)


def put(
    pen: Pen,
    box: Box,
    text: str,
    label: str,
    overleaf: Overleaf,
    *,
    size_pt: float = 7.5,
    bold: bool = False,
    middle: bool = False,
) -> None:
    """Set a text in a box; where it does not fit whole, it is printed whole overleaf."""
    fitted = pen.text(box, text, size_pt, bold=bold, middle=middle, marker=overleaf.marker)
    if not fitted.whole:
        overleaf.add(label, text)


def field_row(
    pen: Pen,
    width: float,
    entries: Sequence[Field],
    overleaf: Overleaf,
    *,
    least: float = 6.5,
    most: float = 15.0,
) -> Band:
    """A row of fields as a band, as high as its longest value wants."""
    shares = [entry.share for entry in entries]
    boxes = Box(0, 0, width, least).columns(shares)
    pairs = list(zip(entries, boxes, strict=True))
    wanted = whole = max(height_wanted(entry, box.w) for entry, box in pairs)
    if wanted > least:
        whole = max(height_at_floor(entry, box.w) for entry, box in pairs)

    def draw(row: Box) -> None:
        for entry, box in zip(entries, row.columns(shares), strict=True):
            draw_field(pen, box, entry, overleaf)

    whole = min(most, max(least, whole))
    return Band(least, whole, min(most, max(whole, wanted)), draw)


def height_wanted(entry: Field, width: float) -> float:
    """The height in mm at which a field's value stands whole at its own size."""
    lines = text_lines(entry.value, width - 2 * PAD_MM, entry.size_pt, bold=entry.bold)
    label = LABEL_MM if entry.label else 0.0
    return label + 0.7 + lines * entry.size_pt * LEADING / PT


def height_at_floor(entry: Field, width: float) -> float:
    """The height in mm at which a field's value stands whole at its smallest size."""
    return height_wanted(replace(entry, size_pt=min(FLOOR_PT, entry.size_pt)), width)


def text_lines(text: str, width_mm: float, size_pt: float, *, bold: bool = False) -> int:
    """How many lines a text takes in a width."""
    return len(wrap(readable(shorten(text)), size_pt, width_mm * PT, bold=bold))


def text_band(
    pen: Pen,
    width: float,
    text: str,
    label: str,
    overleaf: Overleaf,
    *,
    size_pt: float = 7.5,
    most: float = 30.0,
) -> Band:
    """A ruled box of running text as a band."""
    entry = Field(label, text, size_pt=size_pt)
    wanted = min(most, height_wanted(entry, width))
    whole = min(wanted, height_at_floor(entry, width))
    least = min(whole, LABEL_MM + 5.0)
    return Band(least, whole, wanted, lambda box: draw_field(pen, box, entry, overleaf))
