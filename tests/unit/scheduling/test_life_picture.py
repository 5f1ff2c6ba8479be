"""The life picture: what it says, and that nothing in it touches or leaves the frame."""

import datetime as dt
import random
from itertools import pairwise

import pytest

from fleet.calc.scene import Line, Rect, Scene, Text, box_of
from scheduling.calc.life_picture import FOOT, SHELL, LifeLimit, life_scene

TODAY = dt.date(2026, 11, 25)
BUILT = dt.date(2021, 5, 14)


def drawn(*limits: LifeLimit, width: float = 680, today: dt.date = TODAY) -> Scene:
    return life_scene(
        began_on=BUILT, began_words="built", today=today, limits=list(limits), width=width
    )


def some_limits(seed: int) -> list[LifeLimit]:
    dice = random.Random(seed)
    days = [BUILT + dt.timedelta(days=dice.randrange(-200, 5000)) for _ in range(dice.randrange(9))]
    return [LifeLimit(f"limit {n} from built, storage counted", day) for n, day in enumerate(days)]


def test_says_in_words_all_that_it_shows() -> None:
    scene = drawn(LifeLimit("6 years from built", dt.date(2027, 5, 14), binds=True))
    assert scene.description == (
        "built 14 May 2021; today 25 Nov 2026; 6 years from built: 14 May 2027."
    )


def test_puts_today_where_it_lies_between_begin_and_end() -> None:
    scene = drawn(LifeLimit("end", BUILT + 2 * (TODAY - BUILT)))
    now = next(s for s in scene.shapes if isinstance(s, Line) and s.role == "now")
    assert now.x1 == pytest.approx(340)


def test_shows_no_cover_left_once_the_last_limit_is_past() -> None:
    scene = drawn(LifeLimit("end", dt.date(2025, 1, 1)))
    cover = next(s for s in scene.shapes if isinstance(s, Rect) and s.role == "cover")
    assert cover.width == 0


def test_draws_a_life_that_began_today() -> None:
    assert drawn(today=BUILT).shapes


@pytest.mark.parametrize("width", [340, 680, 960])
@pytest.mark.parametrize("seed", range(40))
def test_keeps_everything_in_the_frame(seed: int, width: float) -> None:
    scene = drawn(*some_limits(seed), width=width)
    for text in (s for s in scene.shapes if isinstance(s, Text)):
        left, top, right, bottom = box_of(text)
        assert left >= -1
        assert right <= width + 1
        assert top >= 0
        assert bottom <= scene.height


@pytest.mark.parametrize("width", [340, 680])
@pytest.mark.parametrize("seed", range(40))
def test_no_two_numbers_touch(seed: int, width: float) -> None:
    scene = drawn(*some_limits(seed), width=width)
    feet = [s for s in scene.shapes if isinstance(s, Rect) and s.role.startswith("foot") and s.x]
    by_level = sorted((f.y, f.x) for f in feet if f.x >= SHELL - FOOT)
    for (y1, x1), (y2, x2) in pairwise(by_level):
        assert y1 != y2 or x2 - x1 >= 2 * FOOT


@pytest.mark.parametrize("seed", range(40))
def test_no_two_texts_overlap(seed: int) -> None:
    scene = drawn(*some_limits(seed), width=340)
    boxes = [box_of(s) for s in scene.shapes if isinstance(s, Text) and len(s.text) > 3]
    for at, one in enumerate(boxes):
        for other in boxes[at + 1 :]:
            apart = one[2] <= other[0] or other[2] <= one[0]
            assert apart or one[3] <= other[1] + 4 or other[3] <= one[1] + 4
