"""A study in pictures: how many still run at an age, and what changing at an age costs."""

from math import inf

import numpy as np

from fleet.calc.plot import Axis, Frame, above
from fleet.calc.scene import Line, Poly, Rect, Scene, Shape, Text
from scheduling.calc.life.replacement import BestAge, Costs, cost_rate
from scheduling.calc.life.survival import Survival
from scheduling.calc.life.weibull import Weibull

STEPS = 80


def survival_scene(
    found: Survival, fitted: Weibull | None, *, until: float, unit: str, title: str
) -> Scene:
    """The share still running against age: steps with limits, and the fitted curve broken.

    `until` is the greatest age shown, in `unit` ("h" or "days").

    >>> from scheduling.calc.life.records import lives
    >>> from scheduling.calc.life.survival import survival
    >>> found = survival(lives([100, 200, 300], [1, 1, 0]))
    >>> survival_scene(found, None, until=300, unit="h", title="Lives").title
    'Lives'
    """
    frame = Frame(Axis(0, until, f"Age, {unit}"), Axis(0, 1, "Share still running", 1))
    shapes = frame.grid()
    shapes.insert(0, _limits_area(frame, found, until))
    shapes.append(Poly(_steps(frame, found.ages, found.survival, until), "curve", 2.5))
    if fitted is not None:
        ages = np.linspace(0, until, STEPS + 1)
        points = tuple((frame.x(a), frame.y(fitted.reliability(a))) for a in ages if a >= 0)
        shapes.append(Poly(points, "curve-fit", 2))
    shapes += _key(frame, fitted is not None)
    return frame.scene(title, _survival_words(found, unit), shapes)


def _steps(
    frame: Frame, ages: "np.ndarray[tuple[int], np.dtype[np.float64]]", shares: object, until: float
) -> tuple[tuple[float, float], ...]:
    points = [(frame.x(0), frame.y(1.0))]
    level = 1.0
    for age, share in zip(ages, np.asarray(shares), strict=True):
        points += [(frame.x(age), frame.y(level)), (frame.x(age), frame.y(float(share)))]
        level = float(share)
    return (*points, (frame.x(until), frame.y(level)))


def _limits_area(frame: Frame, found: Survival, until: float) -> Shape:
    known = found.survival > 0  # where none is left, nothing can be said of the share
    up = _steps(frame, found.ages[known], found.high[known], until)
    down = _steps(frame, found.ages[known], found.low[known], until)
    return Poly((*up, *reversed(down)), "area", 0, closed=True)


def _key(frame: Frame, fitted: bool) -> list[Shape]:
    """What each line is, in the free corner under a curve that falls."""
    x, y = frame.left + 12, frame.height - frame.foot - 14
    lines: list[Shape] = []
    rows = [("curve", "observed, with limits")] + ([("curve-fit", "Weibull")] if fitted else [])
    for role, words in reversed(rows):
        lines.append(Line(x, y - 4, x + 28, y - 4, role, 2.5))
        lines.append(Text(x + 36, y, words, "text", frame.size))
        y -= 1.5 * frame.size
    return lines


def _survival_words(found: Survival, unit: str) -> str:
    last = len(found.ages) - 1
    said = (
        f"At {found.ages[last]:,.0f} {unit} {found.survival[last]:.0%} still run "
        f"({found.low[last]:.0%} to {found.high[last]:.0%})."
    )
    if found.from_age:
        said += f" The curve begins at {found.from_age:,.0f} {unit}, where enough were watched."
    return said


def cost_scene(life: Weibull, costs: Costs, best: BestAge, *, unit: str, title: str) -> Scene:
    """The cost rate against the age of change, the best age and running to failure marked.

    >>> from scheduling.calc.life.replacement import best_age
    >>> life, costs = Weibull(2.5, 1000.0), Costs(1, 5)
    >>> "493" in cost_scene(life, costs, best_age(life, costs), unit="h", title="Cost").description
    True
    """
    until = above(max(2.2 * life.scale, 1.6 * (best.age or 0)))
    ages = np.linspace(until / STEPS, until, STEPS)
    never = cost_rate(life, costs, inf)
    rates = np.array([cost_rate(life, costs, float(age)) for age in ages]) / never
    top = 2.0
    frame = Frame(
        Axis(0, until, f"Changed at, {unit}"), Axis(0, top, "Cost, running to failure = 1", 1)
    )
    shapes = frame.grid()
    seen = tuple((frame.x(a), frame.y(r)) for a, r in zip(ages, rates, strict=True) if r <= top)
    level = frame.y(1.0)
    shapes.append(Line(frame.left, level, frame.width - frame.right, level, "limit", 1.5, "6 3"))
    shapes.append(Poly(seen, "curve", 2.5))
    if best.age is not None:
        shapes += _best_mark(frame, best)
    return frame.scene(title, _cost_words(best, unit), shapes)


def _best_mark(frame: Frame, best: BestAge) -> list[Shape]:
    assert best.age is not None
    x, y = frame.x(best.age), frame.y(best.rate / best.rate_to_failure)
    words = f"{best.age:,.0f}".replace(",", " ")
    return [
        Line(x, y, x, frame.height - frame.foot, "limit", 1.5, "3 3"),
        Rect(x - 5, y - 5, 10, 10, "point"),
        Text(x + 10, y + 22, words, "text-strong", frame.size),
    ]


def _cost_words(best: BestAge, unit: str) -> str:
    if best.age is None:
        return best.why
    return (
        f"Least at {best.age:,.0f} {unit}: {best.saving:.0%} below running to failure. {best.why}"
    )
