"""Reads the papers back: what stands where, what covers what, and what a code says.

Uses a PDF reader and a code reader that had no part in drawing them.
"""

import io
import subprocess
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pdfplumber
import zxingcpp
from PIL import Image

from fleet.pdf.pen import PT, Box

# Parts of a letter above and below its baseline, in sizes: capitals, and the tails of g and p.
_UP, _DOWN = 0.72, 0.2


@dataclass(frozen=True)
class Sign:
    """One printed sign: its face, size and place in points from the top left corner."""

    text: str
    size: float
    left: float
    right: float
    baseline: float

    @property
    def top(self) -> float:
        return self.baseline - _UP * self.size

    @property
    def bottom(self) -> float:
        return self.baseline + _DOWN * self.size

    @property
    def middle(self) -> tuple[float, float]:
        return (self.left + self.right) / 2, self.baseline - 0.25 * self.size


@dataclass(frozen=True)
class PageRead:
    """One page as it was read."""

    width: float
    height: float
    signs: tuple[Sign, ...]
    strokes: tuple[tuple[float, float, float, float], ...]

    def text_in(self, box: Box) -> str:
        """The text whose signs have their middle in a box (mm), without any white space."""
        held = [sign for sign in self.signs if is_inside(sign, box)]
        held.sort(key=lambda sign: (round(sign.baseline, 1), sign.left))
        return squeeze("".join(sign.text for sign in held))

    @property
    def text(self) -> str:
        return self.text_in(Box(0, 0, self.width / PT, self.height / PT))


def read_pages(pdf: bytes) -> list[PageRead]:
    """Read every page of a PDF."""
    with pdfplumber.open(io.BytesIO(pdf)) as book:
        return [_read_page(page) for page in book.pages]


def squeeze(text: str) -> str:
    """A text without white space: lines break where they must, and that is not its content."""
    return "".join(text.split())


def is_inside(sign: Sign, box: Box) -> bool:
    x, y = sign.middle
    return box.x <= x / PT <= box.right and box.y <= y / PT <= box.bottom


def overlaps(page: PageRead) -> list[tuple[str, str]]:
    """Pairs of signs that cover one another by more than a tenth of the smaller one."""
    signs = [sign for sign in page.signs if sign.text.strip() and sign.right > sign.left]
    left, right, top, bottom = (
        np.array([getattr(sign, side) for sign in signs])
        for side in ("left", "right", "top", "bottom")
    )
    area = (right - left) * (bottom - top)
    found = []
    for n, sign in enumerate(signs):
        wide = np.minimum(right[n], right[n + 1 :]) - np.maximum(left[n], left[n + 1 :])
        high = np.minimum(bottom[n], bottom[n + 1 :]) - np.maximum(top[n], top[n + 1 :])
        shared = np.clip(wide, 0, None) * np.clip(high, 0, None)
        smaller = np.minimum(area[n], area[n + 1 :])
        found += [(sign.text, signs[n + 1 + k].text) for k in np.flatnonzero(shared > smaller / 10)]
    return found


def struck_out(page: PageRead) -> list[tuple[str, tuple[float, float, float, float]]]:
    """Signs that a drawn line passes through."""
    signs = [sign for sign in page.signs if sign.text.strip() and sign.right > sign.left]
    inner = 0.12
    x0 = np.array([sign.left + inner * (sign.right - sign.left) for sign in signs])
    x1 = np.array([sign.right - inner * (sign.right - sign.left) for sign in signs])
    y0 = np.array([sign.baseline - 0.6 * sign.size for sign in signs])
    y1 = np.array([sign.baseline - 0.05 * sign.size for sign in signs])
    return [
        (signs[k].text, stroke)
        for stroke in page.strokes
        for k in np.flatnonzero(_crosses(stroke, x0, x1, y0, y1))
    ]


def off_page(page: PageRead, margin_mm: float) -> list[str]:
    """Signs that stand in the margin or off the page."""
    edge = margin_mm * PT
    return [
        sign.text
        for sign in page.signs
        if sign.left < edge - 0.1
        or sign.right > page.width - edge + 0.1
        or sign.top < edge - 0.1
        or sign.bottom > page.height - edge + 0.1
    ]


def pictures(pdf: bytes, dpi: int = 150, *, first: int = 1, last: int = 1) -> list[Image.Image]:
    """Pages as pictures, made by another program."""
    with tempfile.TemporaryDirectory() as folder:
        source = Path(folder) / "paper.pdf"
        source.write_bytes(pdf)
        pages = ["-f", str(first), "-l", str(last)]
        command = ["pdftoppm", "-r", str(dpi), *pages, "-png", str(source), f"{folder}/page"]
        subprocess.run(command, check=True, capture_output=True)
        return [
            Image.open(io.BytesIO(path.read_bytes())) for path in sorted(Path(folder).glob("page*"))
        ]


def codes(picture: Image.Image) -> list[str]:
    """The texts of all QR codes in a picture."""
    found = zxingcpp.read_barcodes(picture)
    return sorted(code.text for code in found if code.format == zxingcpp.BarcodeFormat.QRCode)


def _read_page(page: Any) -> PageRead:
    height = float(page.height)
    signs = tuple(_read_sign(char, height) for char in page.chars)
    return PageRead(float(page.width), height, signs, tuple(_strokes(page)))


def _read_sign(char: dict[str, Any], height: float) -> Sign:
    baseline = height - char["matrix"][5]
    return Sign(char["text"], char["size"], char["x0"], char["x1"], baseline)


def _strokes(page: Any) -> Iterator[tuple[float, float, float, float]]:
    for line in page.lines:
        yield line["x0"], line["top"], line["x1"], line["bottom"]
    for rect in page.rects:
        if not rect.get("stroke"):
            continue
        x0, x1, y0, y1 = rect["x0"], rect["x1"], rect["top"], rect["bottom"]
        yield from ((x0, y0, x1, y0), (x0, y1, x1, y1), (x0, y0, x0, y1), (x1, y0, x1, y1))
    for curve in page.curves:
        for (x0, y0), (x1, y1) in pairwise(curve["pts"]):
            yield x0, y0, x1, y1


def _crosses(
    stroke: tuple[float, float, float, float],
    x0: "np.ndarray[Any, Any]",
    x1: "np.ndarray[Any, Any]",
    y0: "np.ndarray[Any, Any]",
    y1: "np.ndarray[Any, Any]",
) -> "np.ndarray[Any, Any]":
    """Whether a segment enters each of many boxes (Liang and Barsky's clipping)."""
    sx, sy, ex, ey = stroke
    enter, leave = np.zeros_like(x0), np.ones_like(x0)
    possible = np.ones_like(x0, dtype=bool)
    for delta, low, high in ((ex - sx, x0 - sx, x1 - sx), (ey - sy, y0 - sy, y1 - sy)):
        if abs(delta) < 1e-9:
            possible &= (low < 0) & (high > 0)
            continue
        a, b = low / delta, high / delta
        enter = np.maximum(enter, np.minimum(a, b))
        leave = np.minimum(leave, np.maximum(a, b))
    return possible & (enter < leave)
