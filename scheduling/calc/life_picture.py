"""The life of a hose as a picture: a hose whose cover is gone up to today, and its limits."""

import datetime as dt
from dataclasses import dataclass, replace
from math import ceil

from fleet.calc.scene import Line, Poly, Rect, Scene, Shape, Strokes, Text, text_width

SHELL = 26
HOSE = 34
BRAID_STEP = 9
FOOT = 9


@dataclass(frozen=True)
class LifeLimit:
    """One limit: what it says, the day it falls on, and the days it may fall between."""

    words: str
    on: dt.date
    early_on: dt.date | None = None
    late_on: dt.date | None = None
    binds: bool = False


def life_scene(
    *,
    began_on: dt.date,
    began_words: str,
    today: dt.date,
    limits: list[LifeLimit],
    width: float = 960,
    size: float = 15,
) -> Scene:
    """Draw a life so far against its limits.

    Parameters: the day the life began and what began then; today; limits in the order they
    are to be numbered and listed; width in points; type size in points. The time axis runs
    from the beginning to the last of today and every limit. Limits: a limit before the beginning is
    drawn at the beginning. Returns a scene whose description says all that it shows.

    >>> scene = life_scene(began_on=dt.date(2020, 1, 1), began_words="built",
    ...     today=dt.date(2023, 1, 1), limits=[LifeLimit("6 years", dt.date(2026, 1, 1))])
    >>> scene.description
    'built 1 Jan 2020; today 1 Jan 2023; 6 years: 1 Jan 2026.'
    """
    last = max([today, *(limit.late_on or limit.on for limit in limits)])
    axis = _Axis(began_on, max(last, began_on + dt.timedelta(days=30)), today, width)
    top = size * 2.2
    feet_top = top + HOSE + size * 2
    feet = _feet(axis, limits)
    list_top = feet_top + (max(feet, default=-1) + 1) * (2 * FOOT + 3) + size
    listed, height = _listed(axis, limits, list_top, size)
    shapes: list[Shape] = [
        *_hose(axis, top, min(today, axis.end)),
        *_years(axis, top + HOSE, size, limits),
        *_limits(axis, (top, feet_top), list(zip(limits, feet, strict=True)), size),
        *_today(axis, top, today, size),
        *listed,
    ]
    said = [f"{began_words} {_day(began_on)}", f"today {_day(today)}"]
    said += [f"{limit.words}: {_day(limit.on)}" for limit in limits]
    return Scene(
        width, height, "Life so far against its limits", "; ".join(said) + ".", tuple(shapes)
    )


@dataclass(frozen=True)
class _Axis:
    start: dt.date
    end: dt.date
    today: dt.date
    width: float

    def x(self, day: dt.date) -> float:
        inner = self.width - 2 * SHELL
        part = (day - self.start).days / (self.end - self.start).days
        return SHELL + inner * min(max(part, 0), 1)


def _hose(axis: _Axis, top: float, today: dt.date) -> list[Shape]:
    now = axis.x(today)
    right = axis.width - SHELL
    middle = top + HOSE / 2
    return [
        Rect(SHELL, top + 3, now - SHELL, HOSE - 6, "bare"),
        _braid(SHELL, now, top + 3, HOSE - 6),
        Rect(now, top, right - now, HOSE, "cover"),
        Line(now + 6, middle, max(right, now + 6), middle, "ink-line", 2.5, "26 7"),
        *_shell(0, top),
        *_shell(right, top),
    ]


def _braid(left: float, right: float, top: float, height: float) -> Strokes:
    """Wires crossing both ways, cut at the ends so that no clip is needed."""
    strokes: list[tuple[float, float, float, float]] = []
    for number in range(ceil((right - left + height) / BRAID_STEP)):
        start = left - height + number * BRAID_STEP
        low, high = max(start, left), min(start + height, right)
        if high - low > 0.5:
            down, up = top - start, top + height + start  # one along is one down, or one up
            strokes += (low, down + low, high, down + high), (low, up - low, high, up - high)
    return Strokes(tuple(strokes), "wire", 1.6)


def _shell(left: float, top: float) -> list[Shape]:
    flats = [
        Rect(left + 5 + 8 * i, top - 4, 2, HOSE + 8, "steel-dark") for i in range(int(SHELL / 8))
    ]
    return [Rect(left, top - 4, SHELL, HOSE + 8, "steel", 2), *flats]


def _today(axis: _Axis, top: float, today: dt.date, size: float) -> list[Shape]:
    x = axis.x(today)
    words = f"today {_day(today)}"
    half = text_width(words, size) / 2
    at = min(max(x, half), axis.width - half)
    mark = ((x - 6, top - 12), (x + 6, top - 12), (x, top - 4))
    return [
        Line(x, top - 6, x, top + HOSE + 6, "now", 3),
        Poly(mark, "now", 1, closed=True),
        Text(at, top - 18, words, "text-now", size, "middle"),
    ]


def _years(axis: _Axis, bottom: float, size: float, limits: list[LifeLimit]) -> list[Shape]:
    """New Year ticks, their labels thinned to keep apart from each other and from the limits."""
    years = range(axis.start.year + 1, axis.end.year + 1)
    wide = text_width("2026", size)
    room = (axis.width - 2 * SHELL) / max(len(years), 1)
    step = next((n for n in (1, 2, 5, 10, 20, 50) if n * room >= wide * 1.6), 100)
    taken = [axis.x(limit.on) for limit in limits]
    shapes: list[Shape] = []
    for year in years:
        x = axis.x(dt.date(year, 1, 1))
        free = all(abs(x - other) > wide * 0.7 for other in taken)
        shapes.append(Line(x, bottom, x, bottom + 5, "axis", 1))
        if year % step == 0 and free and wide / 2 < x < axis.width - wide / 2:
            shapes.append(
                Text(x, bottom + 8 + size * 0.8, str(year), "text-soft", size * 0.9, "middle")
            )
    return shapes


def _feet(axis: _Axis, limits: list[LifeLimit]) -> list[int]:
    """For each limit the level its number stands at, so that no two numbers touch."""
    levels: list[float] = []
    chosen = [0] * len(limits)
    for at in sorted(range(len(limits)), key=lambda i: limits[i].on):
        x = axis.x(limits[at].on)
        level = next((n for n, last in enumerate(levels) if x - last > 2 * FOOT + 3), len(levels))
        levels[level : level + 1] = [x]
        chosen[at] = level
    return chosen


def _limits(
    axis: _Axis, tops: tuple[float, float], placed: list[tuple[LifeLimit, int]], size: float
) -> list[Shape]:
    top, feet_top = tops
    lines: list[Shape] = []
    numbers: list[Shape] = []
    for count, (limit, level) in enumerate(placed, start=1):
        x = axis.x(limit.on)
        y = feet_top + level * (2 * FOOT + 3)
        if limit.early_on and limit.late_on and limit.early_on < limit.late_on:
            left, right = axis.x(limit.early_on), axis.x(limit.late_on)
            lines.append(Rect(left, top - 2, right - left, HOSE + 4, "band"))
        past = "-past" if limit.on < axis.today else ""
        lines.append(Line(x, top - 5, x, y, f"limit{past}", 4 if limit.binds else 1.6))
        numbers.append(Rect(x - FOOT, y, 2 * FOOT, 2 * FOOT, f"foot{past}", 2))
        number = Text(x, y + FOOT + size * 0.33, str(count), f"text-foot{past}", size * 0.9)
        numbers.append(replace(number, anchor="middle"))
    return [*lines, *numbers]


def _listed(
    axis: _Axis, limits: list[LifeLimit], top: float, size: float
) -> tuple[list[Shape], float]:
    """The numbered words below the picture, wrapped to its width; and where they end."""
    indent = 2 * FOOT + 6
    shapes: list[Shape] = []
    y = top
    for count, limit in enumerate(limits, start=1):
        past = "-past" if limit.on < axis.today else ""
        shapes.append(Rect(0, y, 2 * FOOT, 2 * FOOT, f"foot{past}", 2))
        number = Text(FOOT, y + FOOT + size * 0.33, str(count), f"text-foot{past}", size * 0.9)
        shapes.append(replace(number, anchor="middle"))
        words = f"{limit.words}: {_day(limit.on)}{', past' if past else ''}"
        for line in _wrapped(words, axis.width - indent, size):
            role = "text-past" if past else "text-limit" if limit.binds else "text"
            shapes.append(Text(indent, y + FOOT + size * 0.33, line, role, size))
            y += size * 1.4
        y += 6
    return shapes, y


def _wrapped(text: str, width: float, size: float) -> list[str]:
    lines: list[str] = []
    for word in text.split(" "):
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and text_width(longer, size) <= width:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines


def _day(day: dt.date) -> str:
    return f"{day.day} {day:%b %Y}"
