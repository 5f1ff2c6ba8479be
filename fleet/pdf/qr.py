"""QR codes, drawn as squares on the paper: short upper-case texts, so that the squares are big."""

import re
from functools import lru_cache

import segno

from fleet.pdf.pen import Box, Pen

QUIET = 4  # squares of white that ISO/IEC 18004 asks for round the code
_SIGNS = re.compile(r"[0-9A-Z $%*+\-./:]+")

Runs = tuple[tuple[int, int, int], ...]


def link_text(link: str) -> str:
    """Write a link in the 45 signs of the alphanumeric mode, which needs far fewer squares.

    The part before the path may stand in capitals by its own rules; the path is taken as meant
    in capitals, so the page behind it must answer to capitals.

    >>> link_text("https://hoses.example/t/4kx7w2q9")
    'HTTPS://HOSES.EXAMPLE/T/4KX7W2Q9'
    """
    upper = link.upper()
    if not _SIGNS.fullmatch(upper):
        strange = sorted({sign for sign in upper if not _SIGNS.fullmatch(sign)})
        raise ValueError(
            f"'{link}' cannot be a short QR code: it has {' '.join(strange) or 'no signs'}."
        )
    return upper


def usable_link(link: str) -> str:
    """The link, where it can be a short code; a register under a stranger address has none.

    >>> usable_link("https://hoses.example/F/7/12"), usable_link("https://hose_shop.example/F/7/12")
    ('https://hoses.example/F/7/12', '')
    """
    try:
        link_text(link)
    except ValueError:
        return ""
    return link


@lru_cache(maxsize=64)
def squares(text: str, *, error: str = "M") -> tuple[int, Runs]:
    """Work out a code: squares along one side (white margin not counted), and its black runs."""
    code = segno.make_qr(text, error=error, boost_error=False)
    rows = tuple(bytes(row) for row in code.matrix)
    runs: list[tuple[int, int, int]] = []
    for number, row in enumerate(rows):
        column = row.find(1)
        while column >= 0:
            end = row.find(0, column)
            end = len(row) if end < 0 else end
            runs.append((number, column, end - column))
            column = row.find(1, end)
    return len(rows), tuple(runs)


def side_in_squares(text: str) -> int:
    """Squares along one side of the code with its white margin."""
    return squares(link_text(text))[0] + 2 * QUIET


def draw(pen: Pen, box: Box, text: str) -> None:
    """Draw a code with its white margin as large as the box allows, in the middle of it."""
    count, runs = squares(link_text(text))
    step = min(box.w, box.h) / (count + 2 * QUIET)
    side = step * count
    inner = Box(box.x + (box.w - side) / 2, box.y + (box.h - side) / 2, side, side)
    pen.squares(inner, runs, count)
