"""Charts say in words what they draw, keep inside their room, and stand the same on paper."""

import itertools
from collections.abc import Iterator

import pytest

from fleet.calc.plot import above, ticks
from fleet.calc.scene import Line, Link, Poly, Rect, Shape, Text, box_of
from fleet.pdf.frame import A4, Paper, PaperStamp
from fleet.pdf.pen import Box, Placed
from fleet.pdf.picture import draw_scene
from scheduling.calc.charts.bars import (
    Bar,
    Limits,
    Month,
    limits_scene,
    months_scene,
    pareto_scene,
)
from scheduling.calc.charts.groups import GroupRate, groups_scene
from scheduling.calc.charts.lives import cost_scene, survival_scene
from scheduling.calc.charts.recurrence import recurrence_scene
from scheduling.calc.life.mean_cumulative import mean_cumulative
from scheduling.calc.life.records import lives
from scheduling.calc.life.replacement import Costs, best_age
from scheduling.calc.life.survival import survival
from scheduling.calc.life.weibull import Weibull

LIFE, COSTS = Weibull(2.5, 6200.0), Costs(400, 3000)
FOUND = survival(lives([800, 2500, 4100, 5000, 6000], [1, 1, 0, 1, 0]))
NAMES = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"]
SCENES = {
    "survival": survival_scene(FOUND, LIFE, until=6000, unit="h", title="Lives"),
    "cost": cost_scene(LIFE, COSTS, best_age(LIFE, COSTS), unit="h", title="Cost"),
    "run to failure": cost_scene(
        Weibull(0.9, 6200.0), COSTS, best_age(Weibull(0.9, 6200.0), COSTS), unit="h", title="Cost"
    ),
    "pareto": pareto_scene(
        [Bar("abrasion", 24), Bar("wrong insertion or crimp at the bench", 3), Bar("age", 3)],
        unit="failures",
        title="Causes",
    ),
    "months": months_scene(
        [Month(f"{name} 26", (12.0 * n, 3.0)) for n, name in enumerate(NAMES)],
        ["unplanned", "planned"],
        unit="hours down",
        title="Down",
    ),
    "no months": months_scene([], ["unplanned", "planned"], unit="hours down", title="Down"),
    "limits": limits_scene(
        [Limits(name, 0.4, 0.1, 1.6) for name in NAMES], unit="per 1000 h", title="Rate"
    ),
    "groups": groups_scene(
        [
            GroupRate("wheeled loaders of the upper bench, all of them", 2.1, 1.2, 3.6, 1.8),
            GroupRate("dumpers", 0.0, 0.0, 48.0, 0.7),
            GroupRate("drills", 0.6, 0.2, 1.4),
        ],
        fleet=0.8,
        unit="failures in 1,000 h",
        title="Rates",
    ),
    "recurrence": recurrence_scene(
        mean_cumulative([[500.0, 900.0], [700.0], []], [1000.0, 1200.0, 800.0]),
        [500.0, 900.0],
        until=1200,
        own_until=1000,
        title="Failures",
    ),
    "open above": limits_scene(
        [Limits("Mar", 0.0, 0.0, float("inf"))], unit="per 1000 h", title="Rate"
    ),
}


def _flat(shapes: tuple[Shape, ...]) -> Iterator[Shape]:
    for shape in shapes:
        if isinstance(shape, Link):
            yield from _flat(shape.shapes)
        else:
            yield shape


def _points(shape: Shape) -> list[tuple[float, float]]:
    match shape:
        case Rect():
            return [(shape.x, shape.y), (shape.x + shape.width, shape.y + shape.height)]
        case Line():
            return [(shape.x1, shape.y1), (shape.x2, shape.y2)]
        case Poly():
            return list(shape.points)
        case Text():
            left, top, right, bottom = box_of(shape)
            return [(left, top), (right, bottom)]
    return []


@pytest.mark.parametrize("name", SCENES)
def test_nothing_lies_outside_the_picture(name: str) -> None:
    scene = SCENES[name]
    for shape in _flat(scene.shapes):
        for x, y in _points(shape):
            assert -1 <= x <= scene.width + 1, shape
            assert -1 <= y <= scene.height + 1, shape


@pytest.mark.parametrize("name", SCENES)
def test_no_text_covers_another(name: str) -> None:
    texts = [shape for shape in _flat(SCENES[name].shapes) if isinstance(shape, Text)]
    for one, two in itertools.combinations(texts, 2):
        a, b = box_of(one), box_of(two)
        apart = a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]
        assert apart, (one.text, two.text)


@pytest.mark.parametrize("name", SCENES)
def test_every_text_of_a_chart_stands_whole_on_paper(name: str) -> None:
    log: list[Placed] = []
    paper = Paper(PaperStamp("Chart", "1", "0" * 64), A4, log=log)
    draw_scene(paper.new_page(), Box(10, 10, 180, 100), SCENES[name])
    assert paper.to_bytes().startswith(b"%PDF")
    wanted = [shape.text for shape in _flat(SCENES[name].shapes) if isinstance(shape, Text)]
    drawn = [one.text for one in log]
    assert all(text in drawn for text in wanted if text)
    assert all(one.whole for one in log)


def test_a_chart_says_its_figures_in_words() -> None:
    assert "abrasion 24 failures" in SCENES["pareto"].description
    assert "Feb 26: unplanned 12, planned 3" in SCENES["months"].description
    assert "still run" in SCENES["survival"].description
    assert "fails as readily" in SCENES["run to failure"].description


def test_bars_begin_at_zero() -> None:
    foot = max(s.y + s.height for s in SCENES["months"].shapes if isinstance(s, Rect) and s.y > 60)
    axis = [s for s in SCENES["months"].shapes if isinstance(s, Line) and s.role == "axis"]
    assert axis[0].y1 == pytest.approx(foot)


@pytest.mark.parametrize("value", [0, 0.003, 0.8, 1, 7, 99, 970, 123_456])
def test_a_scale_s_upper_end_holds_the_value_and_is_round(value: float) -> None:
    top = above(value)
    assert top > value
    assert len(ticks(0, top, 5)) <= 6


def test_refuses_a_scale_that_runs_backwards() -> None:
    with pytest.raises(ValueError, match="greater one"):
        ticks(5, 5, 4)
