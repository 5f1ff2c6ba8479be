"""Groups in a picture: each one's rate with its limits, and the rate of all of them."""

from collections.abc import Sequence
from dataclasses import dataclass

from fleet.calc.plot import above, ticks
from fleet.calc.scene import Line, Poly, Rect, Scene, Shape, Text, text_width

ROW_H, SIZE, WIDTH = 34.0, 14.0, 640.0
TOP, FOOT, RIGHT = 36.0, 76.0, 28.0
MOST_WORDS = 24


@dataclass(frozen=True)
class GroupRate:
    """One group: its words, rate, limits, and the rate drawn toward all, where there is one."""

    words: str
    value: float
    low: float
    high: float
    drawn: float | None = None


@dataclass(frozen=True)
class _Room:
    """The room of the rows: where it begins at the left and ends at the foot, its greatest rate."""

    left: float
    foot: float
    top: float

    def x(self, value: float) -> float:
        return self.left + (WIDTH - self.left - RIGHT) * min(value, self.top) / self.top


def groups_scene(groups: Sequence[GroupRate], *, fleet: float, unit: str, title: str) -> Scene:
    """A line a group from limit to limit with its rate on it, the rate of all broken through.

    Where few groups have far wider limits than the rest, theirs run off with an arrow.

    >>> one = GroupRate("Loaders", 1.0, 0.5, 2.0, 0.9)
    >>> groups_scene([one], fleet=0.8, unit="in 1,000 h", title="Rates").description[:40]
    'In 1,000 h, with limits of 95 %. Loaders'
    """
    left = 20 + max((text_width(_short(one.words), SIZE) for one in groups), default=60.0)
    highs = sorted(one.high for one in groups)
    usual = highs[: max(1, len(highs) * 3 // 4)]
    room = _Room(left, TOP + ROW_H * len(groups), above(max([fleet, *usual, *_values(groups)])))
    shapes = _scale(room, unit)
    at = room.x(fleet)
    shapes.append(Line(at, TOP - 6, at, room.foot, "limit", 1.5, "6 3"))
    shapes.append(Text(at, TOP - 12, "all", "text", SIZE, "middle"))
    for n, one in enumerate(groups):
        shapes += _row(room, one, TOP + ROW_H * (n + 0.5))
    shapes += _key(room, any(one.drawn is not None for one in groups))
    said = "; ".join(_words(one) for one in groups) or "Nothing"
    lead = f"{unit[:1].upper()}{unit[1:]}, with limits of 95 %."
    told = f"{lead} {said}. All of them {fleet:.2f}."
    return Scene(WIDTH, room.foot + FOOT, title, told, tuple(shapes))


def _values(groups: Sequence[GroupRate]) -> list[float]:
    return [one.value for one in groups]


def _scale(room: _Room, unit: str) -> list[Shape]:
    shapes: list[Shape] = []
    for value in ticks(0, room.top, 5):
        x = room.x(value)
        shapes.append(Line(x, TOP, x, room.foot, "grid"))
        shapes.append(Text(x, room.foot + 18, f"{value:g}", "text-soft", SIZE, "middle"))
    shapes.append(Line(room.left, TOP, room.left, room.foot, "axis", 1.5))
    middle = (room.left + WIDTH - RIGHT) / 2
    shapes.append(Text(middle, room.foot + 38, unit, "text-soft", SIZE, "middle"))
    return shapes


def _row(room: _Room, one: GroupRate, y: float) -> list[Shape]:
    low, high, at = room.x(one.low), room.x(one.high), room.x(one.value)
    name = Text(room.left - 8, y + 0.36 * SIZE, _short(one.words), "text", SIZE, "end")
    shapes: list[Shape] = [name, Line(low, y, high, y, "curve", 2.5)]
    shapes.append(Line(low, y - 5, low, y + 5, "curve", 2.5))
    if one.high > room.top:
        shapes += [Line(high - 7, y + d, high, y, "curve", 2.5) for d in (-6, 6)]
    else:
        shapes.append(Line(high, y - 5, high, y + 5, "curve", 2.5))
    if one.drawn is not None:
        shapes.append(Rect(room.x(one.drawn) - 3.5, y - 8, 7, 16, "bar-soft"))
    corners = ((at, y - 6), (at + 6, y), (at, y + 6), (at - 6, y))
    return [*shapes, Poly(corners, "point", 1, closed=True)]


def _key(room: _Room, drawn: bool) -> list[Shape]:
    y = room.foot + 60
    corners = ((12.0, y - 11), (18.0, y - 5), (12.0, y + 1), (6.0, y - 5))
    shapes: list[Shape] = [Poly(corners, "point", 1, closed=True)]
    shapes.append(Text(26, y, "as it was, with limits", "text", SIZE))
    if drawn:
        x = 46 + text_width("as it was, with limits", SIZE)
        shapes.append(Rect(x, y - 13, 7, 16, "bar-soft"))
        shapes.append(Text(x + 16, y, "drawn toward all", "text", SIZE))
    return shapes


def _short(words: str) -> str:
    return words if len(words) <= MOST_WORDS else words[: MOST_WORDS - 1] + "…"


def _words(one: GroupRate) -> str:
    return f"{one.words} {one.value:.2f} ({one.low:.2f} to {one.high:.2f})"
