"""The picture of a counter: what was read, how fast it runs, and between which bounds."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from math import floor, log10

from fleet.calc.scene import Line, Poly, Rect, Scene, Shape, Text, text_width

AHEAD_DAYS = 60
DOT = 2.6
EPOCH = dt.date(1970, 1, 1)


@dataclass(frozen=True, slots=True)
class CounterPicture:
    """What is drawn: readings that count and those left out, as days since 1970 with hours; the
    rate in hours a day with its bounds, from the last reading on, and back to `since`."""

    counter: str
    points: Sequence[tuple[int, float]]
    left_out: Sequence[tuple[int, float]]
    low: float
    rate: float
    high: float
    since: int
    today: int
    basis: str


@dataclass(frozen=True, slots=True)
class _Plot:
    """Where days and hours stand in the picture."""

    left: float
    top: float
    right: float
    bottom: float
    days: tuple[float, float]
    hours: tuple[float, float]

    def x(self, day: float) -> float:
        first, last = self.days
        return self.left + (day - first) / (last - first) * (self.right - self.left)

    def y(self, hours: float) -> float:
        low, high = self.hours
        return self.bottom - (hours - low) / (high - low) * (self.bottom - self.top)


def usage_scene(what: CounterPicture, *, width: float, size: float) -> Scene:
    """Draw a counter's readings with the slope through the last one and its bounds.

    Parameters: the counter; the picture's width and type size in points. At least one reading
    that counts is needed. Errors: ValueError without one.

    >>> facts = CounterPicture("engine", [(0, 0.0), (10, 80.0)], [], 6, 8, 9, 0, 12, "measured")
    >>> usage_scene(facts, width=300, size=12).title
    'Engine hours read'
    """
    if not what.points:
        raise ValueError("There is no reading to draw.")
    height = min(width * 0.62, 300.0)
    plot = _plot(what, width, height, size)
    shapes = (
        *_grid(plot, size),
        *_fan(what, plot),
        *_slope(what, plot),
        *_dots(what, plot),
        *_now(what, plot, size),
    )
    title = f"{what.counter.capitalize()} hours read"
    return Scene(width, height, title, _words(what), shapes)


def _plot(what: CounterPicture, width: float, height: float, size: float) -> _Plot:
    last_on, last = what.points[-1]
    end = max(what.today, last_on) + AHEAD_DAYS
    drawn = [*what.points, *what.left_out]
    days = (min([what.since, *(day for day, _ in drawn)]), float(end))
    likely = (last, last + (end - last_on) * what.high, _back(what, what.points[0][0]))
    hours = [h for _, h in what.points] + list(likely)
    out = [h for _, h in what.left_out]
    low, high = min(hours), max(hours)
    room = max((high - low) * 0.5, 10.0)  # a wild figure left out must not flatten the rest
    low = min([low, *(h for h in out if h > low - room)])
    high = max([high, *(h for h in out if h < high + room)])
    low, high = (low - 5, high + 5) if high - low < 10 else (low, high)
    left = text_width(f"{high:,.0f} h", size * 0.9) + 8
    return _Plot(left, size, width - size * 0.6, height - size * 2.1, days, (max(low, 0.0), high))


def _back(what: CounterPicture, day: float) -> float:
    last_on, last = what.points[-1]
    return max(last - (last_on - day) * what.rate, 0.0)


def _grid(plot: _Plot, size: float) -> list[Shape]:
    shapes: list[Shape] = []
    step = _round_step((plot.hours[1] - plot.hours[0]) / 4)
    value = -(-plot.hours[0] // step) * step
    while value <= plot.hours[1]:
        y = plot.y(value)
        shapes.append(Line(plot.left, y, plot.right, y, "grid", 1))
        words = f"{value:,.0f} h".replace(",", "\u202f")
        shapes.append(Text(plot.left - 6, y + size * 0.3, words, "text-soft", size * 0.9, "end"))
        value += step
    return [*shapes, *_months(plot, size)]


def _round_step(wanted: float) -> float:
    """The next of 1, 2, 5, 10, 20 … at or above what is wanted."""
    base = 10.0 ** floor(log10(max(wanted, 1.0)))
    return next(n * base for n in (1, 2, 5, 10) if n * base >= wanted)


def _months(plot: _Plot, size: float) -> list[Shape]:
    """First days of months, as many as have room for their names."""
    first, last = (EPOCH + dt.timedelta(days=int(day)) for day in plot.days)
    room = text_width("Sep 2026", size * 0.9) * 1.5
    months = (last.year - first.year) * 12 + last.month - first.month
    fits = max((plot.right - plot.left) / room, 1)
    step = next((n for n in (1, 2, 3, 6, 12) if months / n <= fits), 24)
    shapes: list[Shape] = [Line(plot.left, plot.bottom, plot.right, plot.bottom, "axis", 1)]
    for number in range(first.year * 12 + first.month, last.year * 12 + last.month):
        if number % step:
            continue
        day = dt.date(number // 12, number % 12 + 1, 1)
        x = plot.x((day - EPOCH).days)
        words, wide = f"{day:%b %Y}", text_width("Sep 2026", size * 0.9) / 2
        shapes.append(Line(x, plot.bottom, x, plot.bottom + 5, "axis", 1))
        if plot.left - 8 < x - wide and x + wide < plot.right + size:
            shapes.append(
                Text(x, plot.bottom + size * 1.5, words, "text-soft", size * 0.9, "middle")
            )
    return shapes


def _fan(what: CounterPicture, plot: _Plot) -> list[Shape]:
    """Where the counter may be from the last reading on: between the low rate and the high."""
    last_on, last = what.points[-1]
    end = plot.days[1]
    run = end - last_on
    corners = ((last_on, last), (end, last + run * what.high), (end, last + run * what.low))
    return [Poly(tuple((plot.x(d), plot.y(h)) for d, h in corners), "fan", 1, True)]


def _slope(what: CounterPicture, plot: _Plot) -> list[Shape]:
    """The likely rate: through the last reading, back over the readings it rests on, and ahead."""
    last_on, last = what.points[-1]
    began, end = max(what.since, plot.days[0]), plot.days[1]
    back = max(last - (last_on - began) * what.rate, plot.hours[0])
    if what.rate > 0:
        began = max(began, last_on - (last - back) / what.rate)
    ahead = last + (end - last_on) * what.rate
    behind = Line(plot.x(began), plot.y(back), plot.x(last_on), plot.y(last), "slope", 2)
    return [
        behind,
        Line(plot.x(last_on), plot.y(last), plot.x(end), plot.y(ahead), "slope", 2, "6 4"),
    ]


def _dots(what: CounterPicture, plot: _Plot) -> list[Shape]:
    dots: list[Shape] = [
        Rect(plot.x(d) - DOT, plot.y(h) - DOT, 2 * DOT, 2 * DOT, "dot", DOT) for d, h in what.points
    ]
    arm = DOT * 1.4
    for d, h in what.left_out:
        x, y = plot.x(d), plot.y(min(max(h, plot.hours[0]), plot.hours[1]))
        dots.append(Line(x - arm, y - arm, x + arm, y + arm, "out", 1.8))
        dots.append(Line(x - arm, y + arm, x + arm, y - arm, "out", 1.8))
    return dots


def _now(what: CounterPicture, plot: _Plot, size: float) -> list[Shape]:
    x = plot.x(what.today)
    return [
        Line(x, plot.top, x, plot.bottom, "now", 1.5),
        Text(x - 4, plot.top + size * 0.4, "today", "text-now", size * 0.9, "end"),
    ]


def _words(what: CounterPicture) -> str:
    last_on, last = what.points[-1]
    day = EPOCH + dt.timedelta(days=last_on)
    out = f" {len(what.left_out)} readings are left out." if what.left_out else ""
    return (
        f"{len(what.points)} readings, the last {last:,.1f} h on {day.day} {day:%b %Y}. It runs "
        f"{what.rate:.1f} h a day, between {what.low:.1f} and {what.high:.1f}: {what.basis}.{out}"
    )
