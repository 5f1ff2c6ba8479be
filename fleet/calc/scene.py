"""A picture as plain shapes: laid out once, drawn by any back end.

Lengths are in points of the picture's own grid, y grows downwards. A shape's *role* says what
it stands for (`cover`, `now`, `limit`…); the back end decides how a role looks.
"""

from dataclasses import dataclass
from typing import Literal

Anchor = Literal["start", "middle", "end"]

# Mean advance of a sign as a part of the type size, on the wide side for a text face.
MEAN_ADVANCE = 0.56


@dataclass(frozen=True)
class Rect:
    x: float
    y: float
    width: float
    height: float
    role: str
    corner: float = 0


@dataclass(frozen=True)
class Line:
    x1: float
    y1: float
    x2: float
    y2: float
    role: str
    width: float = 1
    dash: str = ""


@dataclass(frozen=True)
class Strokes:
    """Many straight strokes of one look, each from (x1, y1) to (x2, y2)."""

    strokes: tuple[tuple[float, float, float, float], ...]
    role: str
    width: float = 1


@dataclass(frozen=True)
class Poly:
    """A run of straight strokes, or a filled shape when closed."""

    points: tuple[tuple[float, float], ...]
    role: str
    width: float = 1
    closed: bool = False


@dataclass(frozen=True)
class Text:
    x: float
    y: float
    text: str
    role: str = "text"
    size: float = 14
    anchor: Anchor = "start"


@dataclass(frozen=True)
class Link:
    """Shapes that lead somewhere; `words` say where to."""

    address: str
    words: str
    shapes: tuple[Rect | Line | Strokes | Poly | Text, ...]


Shape = Rect | Line | Strokes | Poly | Text | Link


@dataclass(frozen=True)
class Scene:
    """Shapes in drawing order, with the words that stand for the picture."""

    width: float
    height: float
    title: str
    description: str
    shapes: tuple[Shape, ...]


def text_width(text: str, size: float) -> float:
    """Estimate how wide a text is drawn, on the wide side.

    Parameters: text; size in points. Formula: 0.56 x size x number of signs. Limits: a guess
    for layout, not a measurement. Source: none, chosen for the project's own text face.

    >>> text_width("abcd", 10)
    22.400000000000002
    """
    return MEAN_ADVANCE * size * len(text)


def box_of(text: Text) -> tuple[float, float, float, float]:
    """The box (left, top, right, bottom) that a text is taken to cover.

    Parameters: a text of a scene, points. Limits: as `text_width`.

    >>> box_of(Text(10, 20, "ab", size=10))
    (10, 11.0, 21.200000000000003, 23.0)
    """
    wide = text_width(text.text, text.size)
    left = {"start": text.x, "middle": text.x - wide / 2, "end": text.x - wide}[text.anchor]
    return (left, text.y - 0.9 * text.size, left + wide, text.y + 0.3 * text.size)
