"""How often machines of a kind have failed by an age, and one of them beside them."""

from collections.abc import Sequence

import numpy as np

from fleet.calc.plot import Axis, Frame, above
from fleet.calc.scene import Line, Poly, Scene, Shape, Text
from scheduling.calc.life.mean_cumulative import MeanCumulative

Points = tuple[tuple[float, float], ...]


def recurrence_scene(
    found: MeanCumulative, own: Sequence[float], *, until: float, own_until: float, title: str
) -> Scene:
    """The mean number of failures of a machine against hours watched, with limits; `own` are the
    ages at which one machine failed, watched to `own_until`, drawn broken.

    >>> from scheduling.calc.life.mean_cumulative import mean_cumulative
    >>> found = mean_cumulative([[5.0], [6.0], []], [9.0, 9.0, 9.0])
    >>> recurrence_scene(found, [5.0], until=9, own_until=9, title="Failures").title
    'Failures'
    """
    low, high = found.limits()
    top = above(max(float(found.mean[-1]) * 2, len(own), 1.0))
    places = 0 if top >= 5 else 1
    frame = Frame(Axis(0, until, "Hours watched"), Axis(0, top, "Failures of a machine", places))
    shapes = frame.grid()
    up = _steps(frame, found.ages, np.minimum(high, top), until)
    down = _steps(frame, found.ages, low, until)
    shapes.insert(0, Poly((*up, *reversed(down)), "area", 0, closed=True))
    shapes.append(Poly(_steps(frame, found.ages, found.mean, until), "curve", 2.5))
    counts = np.arange(1, len(own) + 1)
    shapes.append(Poly(_steps(frame, sorted(own), counts, own_until), "curve-fit", 2))
    shapes += _key(frame)
    said = (
        f"By {found.ages[-1]:,.0f} h {found.mean[-1]:.2f} failures in the mean ({low[-1]:.2f} to "
        f"{high[-1]:.2f}), {found.at_risk[-1]:.0f} machines still watched. This machine: "
        f"{len(own)} by {own_until:,.0f} h."
    )
    return frame.scene(title, said, shapes)


def _steps(frame: Frame, ages: object, levels: object, until: float) -> Points:
    points = [(frame.x(0), frame.y(0))]
    level = 0.0
    for age, to in zip(np.asarray(ages), np.asarray(levels), strict=True):
        points += [(frame.x(float(age)), frame.y(level)), (frame.x(float(age)), frame.y(float(to)))]
        level = float(to)
    return (*points, (frame.x(until), frame.y(level)))


def _key(frame: Frame) -> list[Shape]:
    """What each line is, in the free corner above a curve that rises."""
    x, y = frame.left + 12, frame.top + 14
    lines: list[Shape] = []
    for role, words in (("curve", "mean of its class, with limits"), ("curve-fit", "this machine")):
        lines.append(Line(x, y - 4, x + 28, y - 4, role, 2.5))
        lines.append(Text(x + 36, y, words, "text", frame.size))
        y += 1.5 * frame.size
    return lines
