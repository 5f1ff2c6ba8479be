"""A run of crimps as a picture: the mean OD of each end above, the spread of its readings below."""

from collections.abc import Sequence
from dataclasses import dataclass

from assemblies.calc.capability import ChartLimits
from assemblies.calc.crimp_runs import Aim, CrimpPoint
from fleet.calc.scene import Line, Link, Poly, Rect, Scene, Shape, Text, text_width

LEFT, RIGHT = 60.0, 12.0
ENOUGH_LABELS = 5
KINDS = 5
REACH = 12.0
_CORNERS: tuple[tuple[tuple[float, float], ...], ...] = (
    ((-1, -1), (1, -1), (1, 1), (-1, 1)),
    ((0, -1.3), (1.2, 0.9), (-1.2, 0.9)),
    ((0, -1.4), (1.4, 0), (0, 1.4), (-1.4, 0)),
    ((-0.5, -1.3), (0.5, -1.3), (1.3, 0), (0.5, 1.3), (-0.5, 1.3), (-1.3, 0)),
    ((-1.2, -0.9), (1.2, -0.9), (0, 1.3)),
)


_NAMES = ("square", "triangle", "diamond", "hexagon", "triangle on its point")


def mark_words(kind: int) -> str:
    """What a crimper's mark looks like, by its number from 0 on; the fifth is for all further ones.

    >>> mark_words(0), mark_words(9)
    ('square', 'triangle on its point')
    """
    return _NAMES[min(kind, KINDS - 1)]


@dataclass(frozen=True, slots=True)
class RunMark:
    """One end on the picture: its point, which crimper's mark it bears, where it leads."""

    point: CrimpPoint
    kind: int
    words: str
    address: str = ""


@dataclass(frozen=True, slots=True)
class _Panel:
    """One chart: the sizes it shows, in mm, between two heights."""

    low: float
    high: float
    top: float
    bottom: float
    width: float

    def y(self, size_mm: float) -> float:
        part = (self.high - size_mm) / (self.high - self.low)
        return self.top + part * (self.bottom - self.top)


def run_scene(
    marks: Sequence[RunMark],
    *,
    aim: Aim | None,
    limits: ChartLimits | None,
    ranges: Sequence[ChartLimits | None] = (),
    width: float = 960,
    height: float = 430,
    size: float = 14,
) -> Scene:
    """Draw a run: the ends in order; the recipe's aim; the limits of the means and of each range,
    where there are any; width, height and type size in points. The band is the recipe's
    tolerance, the full line its OD; broken lines are limits. Each mark's shape is its crimper's;
    one that lies outside tolerance or limits is filled. The description says it in short.

    >>> run_scene([], aim=None, limits=None).description
    'No end has been read yet.'
    """
    title = "The mean OD of each end, and the spread of its readings"
    if not marks:
        words = Text(width / 2, height / 2, "No end read yet", "text-soft", size, "middle")
        return Scene(width, height, title, "No end has been read yet.", (words,))
    split = size + (height - 3 * size) * 0.68
    tops = [limit.upper for limit in ranges if limit is not None]
    highest = max([*(mark.point.range_mm for mark in marks), *tops, 0.05]) * 1.15
    means = _Panel(*_sizes(marks, aim, limits), size * 2.2, split, width)
    spread = _Panel(0.0, highest, split + size * 2.6, height - size * 1.8, width)
    shapes: list[Shape] = [
        *_band(means, aim),
        *_scale(means, size),
        *_scale(spread, size),
        *_lines(means, aim, limits),
        Text(LEFT - 6, size * 1.1, "mean OD, mm", "text-soft", size),
        Text(LEFT - 6, split + size * 1.7, "spread round the crimp, mm", "text-soft", size),
        *_spreads(spread, marks, ranges),
        *_run(means, marks, aim, limits),
        *_numbers(marks, width, height - size * 0.4, size),
    ]
    return Scene(width, height, title, _said(marks, aim, limits), tuple(shapes))


def _sizes(
    marks: Sequence[RunMark], aim: Aim | None, limits: ChartLimits | None
) -> tuple[float, float]:
    sizes = [mark.point.mean_mm for mark in marks]
    sizes += [aim.lower_mm, aim.upper_mm] if aim else []
    sizes += [limits.lower, limits.upper] if limits else []
    margin = max((max(sizes) - min(sizes)) * 0.1, 0.02)
    return min(sizes) - margin, max(sizes) + margin


def _x(number: int, marks: int, width: float) -> float:
    room = (width - LEFT - RIGHT) / marks
    return LEFT + room * (number - 0.5)


def _band(panel: _Panel, aim: Aim | None) -> list[Shape]:
    if aim is None:
        return []
    top, bottom = panel.y(aim.upper_mm), panel.y(aim.lower_mm)
    return [Rect(LEFT, top, panel.width - LEFT - RIGHT, bottom - top, "tolerance")]


def _scale(panel: _Panel, size: float) -> list[Shape]:
    span = panel.high - panel.low
    steps = (0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 50, 500)
    step = next(s for s in steps if span / s <= ENOUGH_LABELS)
    shapes: list[Shape] = []
    for count in range(int(panel.low / step), int(panel.high / step) + 1):
        at = count * step
        if not panel.low <= at <= panel.high:
            continue
        y = panel.y(at)
        shapes.append(Line(LEFT, y, panel.width - RIGHT, y, "grid", 1))
        shapes.append(Text(LEFT - 6, y + size * 0.35, f"{at:.2f}", "text-soft", size, "end"))
    return shapes


def _lines(panel: _Panel, aim: Aim | None, limits: ChartLimits | None) -> list[Shape]:
    right = panel.width - RIGHT
    shapes: list[Shape] = []
    if aim is not None:
        y = panel.y(aim.od_mm)
        shapes.append(Line(LEFT, y, right, y, "limit", 1.5))
    if limits is not None:
        drawn = ((limits.lower, "9 6"), (limits.centre, "2 4"), (limits.upper, "9 6"))
        shapes += [
            Line(LEFT, panel.y(at), right, panel.y(at), "now", 1.5, dash) for at, dash in drawn
        ]
    return shapes


def _spreads(
    panel: _Panel, marks: Sequence[RunMark], ranges: Sequence[ChartLimits | None]
) -> list[Shape]:
    shapes: list[Shape] = []
    room = (panel.width - LEFT - RIGHT) / len(marks)
    for number, mark in enumerate(marks, 1):
        x, top = _x(number, len(marks), panel.width), panel.y(mark.point.range_mm)
        bar = min(room * 0.5, 8.0)
        shapes.append(Rect(x - bar / 2, top, bar, max(panel.bottom - top, 1), "steel"))
        limit = ranges[number - 1] if number <= len(ranges) else None
        if limit is not None:
            y = panel.y(limit.upper)
            shapes.append(Line(x - room / 2, y, x + room / 2, y, "now", 1.5, "9 6"))
    return shapes


def _run(
    panel: _Panel, marks: Sequence[RunMark], aim: Aim | None, limits: ChartLimits | None
) -> list[Shape]:
    places = [
        (_x(number, len(marks), panel.width), panel.y(mark.point.mean_mm))
        for number, mark in enumerate(marks, 1)
    ]
    shapes: list[Shape] = [Poly(tuple(places), "axis", 1.5)] if len(places) > 1 else []
    scale = max(2.5, min(6.0, 0.4 * (panel.width - LEFT - RIGHT) / len(marks)))
    for (x, y), mark in zip(places, marks, strict=True):
        role = "mark-out" if _outside(mark.point.mean_mm, aim, limits) else "mark"
        corners = _CORNERS[min(mark.kind, KINDS - 1)]
        points = tuple((x + dx * scale, y + dy * scale) for dx, dy in corners)
        drawn = Poly(points, role, 2, closed=True)
        room = Rect(x - REACH, y - REACH, 2 * REACH, 2 * REACH, "reach")
        shapes.append(Link(mark.address, mark.words, (room, drawn)) if mark.address else drawn)
    return shapes


def _outside(mean_mm: float, aim: Aim | None, limits: ChartLimits | None) -> bool:
    wide = aim is not None and not aim.lower_mm - 1e-9 <= mean_mm <= aim.upper_mm + 1e-9
    return wide or (limits is not None and not limits.lower <= mean_mm <= limits.upper)


def _numbers(marks: Sequence[RunMark], width: float, foot: float, size: float) -> list[Shape]:
    """The ends' numbers, thinned so that they keep apart."""
    room = (width - LEFT - RIGHT) / len(marks)
    wide = text_width(str(len(marks)), size) * 1.5
    step = next(n for n in (1, 2, 5, 10, 20, 50, 100, 500) if n * room >= wide)
    shown = [number for number in range(1, len(marks) + 1) if number == 1 or number % step == 0]
    if len(shown) > 1 and (shown[1] - shown[0]) * room < wide:
        del shown[1]
    return [
        Text(_x(number, len(marks), width), foot, str(number), "text-soft", size, "middle")
        for number in shown
    ]


def _said(marks: Sequence[RunMark], aim: Aim | None, limits: ChartLimits | None) -> str:
    means = [mark.point.mean_mm for mark in marks]
    said = [
        f"{len(marks)} ends, from {means[0]:.2f} to {means[-1]:.2f} mm, "
        f"the least {min(means):.2f}, the most {max(means):.2f} mm"
    ]
    if aim is not None:
        said.append(f"the recipe asks {aim.od_mm:.2f} mm, {aim.lower_mm:.2f} to {aim.upper_mm:.2f}")
    if limits is not None:
        said.append(f"the run’s limits are {limits.lower:.2f} and {limits.upper:.2f} mm")
    count = sum(_outside(mean, aim, limits) for mean in means)
    said.append(f"{count} outside" if count else "none outside")
    return "; ".join(said) + "."
