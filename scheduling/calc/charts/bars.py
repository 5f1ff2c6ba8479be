"""Losses in pictures: bars by cause with their running share, and bars month by month."""

from collections.abc import Sequence
from dataclasses import dataclass

from fleet.calc.plot import Axis, Frame, above
from fleet.calc.scene import Line, Poly, Rect, Scene, Shape, Text, text_width

BAR_H, GAP = 26.0, 10.0
MOST_WORDS = 26


@dataclass(frozen=True)
class Bar:
    """One bar: its words, its value in the chart's unit."""

    words: str
    value: float


def pareto_scene(bars: Sequence[Bar], *, unit: str, title: str, places: int = 0) -> Scene:
    """Bars lying, the longest first, each with its figure and the share that all so far make.

    >>> pareto_scene([Bar("abrasion", 3), Bar("age", 1)], unit="failures", title="Causes").width
    640
    """
    ordered = sorted(bars, key=lambda bar: (-bar.value, bar.words))
    total = sum(bar.value for bar in ordered)
    size, width = 14.0, 640
    left = 12 + max((text_width(_short(bar.words), size) for bar in ordered), default=60)
    right = 130.0
    top = max((bar.value for bar in ordered), default=1) or 1
    shapes: list[Shape] = []
    so_far = 0.0
    for n, bar in enumerate(ordered):
        y = 10 + n * (BAR_H + GAP)
        so_far += bar.value
        long = (width - left - right) * bar.value / top
        base = y + BAR_H * 0.68
        shapes.append(Text(left - 8, base, _short(bar.words), "text", size, "end"))
        shapes.append(Rect(left, y, max(long, 0.5), BAR_H, "bar"))
        share = f"{bar.value:,.{places}f}, {so_far / total:.0%} so far" if total else "0"
        shapes.append(Text(left + long + 7, base, share, "text", size))
    shapes.append(Line(left, 6, left, 10 + len(ordered) * (BAR_H + GAP) - GAP + 4, "axis", 1.5))
    height = 20 + len(ordered) * (BAR_H + GAP)
    said = "; ".join(f"{bar.words} {bar.value:,.{places}f} {unit}" for bar in ordered)
    return Scene(width, height, title, f"{said or 'Nothing'}.", tuple(shapes))


def _short(words: str) -> str:
    return words if len(words) <= MOST_WORDS else words[: MOST_WORDS - 1] + "…"


@dataclass(frozen=True)
class Month:
    """One month: its words ("Mar 26"), and the values stacked from the foot up."""

    words: str
    values: tuple[float, ...]


def months_scene(months: Sequence[Month], names: Sequence[str], *, unit: str, title: str) -> Scene:
    """Standing bars, one a month, each part in its own grey and named in the key.

    >>> months_scene([Month("Mar 26", (3, 1))], ["unplanned", "planned"], unit="h", title="D").title
    'D'
    """
    top = above(max((sum(month.values) for month in months), default=0))
    frame = Frame(Axis(0, max(1, len(months)), ""), Axis(0, top, unit), top=56)
    shapes = frame.grid(across=False)
    room = (frame.width - frame.left - frame.right) / max(1, len(months))
    every = max(1, round(70 / room + 0.49))
    for n, month in enumerate(months):
        foot = 0.0
        for value, role in zip(month.values, ("bar", "bar-soft"), strict=False):
            y, base = frame.y(foot + value), frame.y(foot)
            if value > 0:
                shapes.append(Rect(frame.x(n) + 0.15 * room, y, 0.7 * room, base - y, role))
            foot += value
        if n % every == 0:
            at = frame.x(n) + room / 2
            down = frame.height - frame.foot + 6 + frame.size
            shapes.append(Text(at, down, month.words, "text-soft", frame.size, "middle"))
    shapes += _key(frame, names)
    return frame.scene(title, _months_words(months, names, unit), shapes)


def _key(frame: Frame, names: Sequence[str]) -> list[Shape]:
    x = frame.left + 90.0
    shapes: list[Shape] = []
    for name, role in zip(names, ("bar", "bar-soft"), strict=False):
        shapes.append(Rect(x, 4, 14, 14, role))
        shapes.append(Text(x + 20, 16, name, "text", frame.size))
        x += 34 + text_width(name, frame.size)
    return shapes


def _months_words(months: Sequence[Month], names: Sequence[str], unit: str) -> str:
    parts = [
        f"{month.words}: "
        + ", ".join(f"{n} {v:,.0f}" for n, v in zip(names, month.values, strict=False))
        for month in months
    ]
    return f"In {unit}. " + "; ".join(parts) + "."


@dataclass(frozen=True)
class Limits:
    """One figure with its limits, for a month or a group."""

    words: str
    value: float
    low: float
    high: float


def limits_scene(figures: Sequence[Limits], *, unit: str, title: str, places: int = 2) -> Scene:
    """Points with their limits, in order, on one scale from 0.

    >>> limits_scene([Limits("Mar", 1.0, 0.5, 2.0)], unit="per 1000 h", title="Rate").title
    'Rate'
    """
    known = [one.high for one in figures if one.high != float("inf")]
    top = above(max([*known, *(one.value for one in figures)], default=0))
    step = top / 5
    frame = Frame(Axis(0, max(1, len(figures)), ""), Axis(0, top, unit, 0 if step >= 1 else places))
    shapes = frame.grid(across=False)
    room = (frame.width - frame.left - frame.right) / max(1, len(figures))
    every = max(1, round(70 / room + 0.49))
    for n, one in enumerate(figures):
        at = frame.x(n) + room / 2
        high, low = frame.y(min(one.high, top)), frame.y(min(one.low, top))
        shapes.append(Line(at, high, at, low, "curve", 2.5))
        shapes += [Line(at - 5, y, at + 5, y, "curve", 2.5) for y in (high, low)]
        y = frame.y(one.value)
        shapes.append(Poly(((at, y - 6), (at + 6, y), (at, y + 6), (at - 6, y)), "point", 1, True))
        if n % every == 0:
            down = frame.height - frame.foot + 6 + frame.size
            shapes.append(Text(at, down, one.words, "text-soft", frame.size, "middle"))
    said = "; ".join(
        f"{one.words} {one.value:.{places}f} ({one.low:.{places}f} to {one.high:.{places}f})"
        for one in figures
    )
    return frame.scene(title, f"In {unit}, with limits of 95 %. {said or 'Nothing'}.", shapes)
