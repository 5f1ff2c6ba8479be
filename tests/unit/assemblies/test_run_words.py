"""A run of crimps in words and as a picture."""

import itertools

import pytest

from assemblies.calc.capability import ChartLimits
from assemblies.calc.crimp_runs import RECENT_ENDS, Aim, CrimpPoint, study_run
from assemblies.calc.run_picture import KINDS, RunMark, mark_words, run_scene
from assemblies.calc.run_words import capability_sentence, drift_sentence, waiting_sentence
from fleet.calc.scene import Link, Poly, Rect, Text, box_of
from fleet.calc.svg import svg_of

AIM = Aim(24.6, 24.5, 24.7)


def points(*means: float, readings: int = 3, spread: float = 0.04) -> list[CrimpPoint]:
    steps = [spread * (n / max(readings - 1, 1) - 0.5) for n in range(readings)]
    return [CrimpPoint(n, tuple(m + s for s in steps)) for n, m in enumerate(means)]


def waves(builds: int, height: float = 0.01) -> list[float]:
    return [24.6 + height * (1, -1, 0, 2, -2)[n % 5] for n in range(builds)]


@pytest.mark.parametrize(
    ("means", "said"),
    [
        ([], "No end has been read yet."),
        ([24.62], "One end so far: 24.62 mm; the last one is 0.02 mm above"),
        ([24.60, 24.601, 24.6], "Over 3 ends the OD holds its place; the last one is on the"),
        (
            [24.60, 24.58, 24.56],
            "Over 3 ends the OD fell by 0.04 mm; the last one is 0.04 mm below",
        ),
    ],
)
def test_a_run_is_told_from_its_first_end(means: list[float], said: str) -> None:
    assert drift_sentence(study_run(points(*means), AIM), AIM).startswith(said)


def test_one_wild_end_does_not_make_a_drift() -> None:
    means = waves(11)
    means[5] = 25.4
    assert "holds its place" in drift_sentence(study_run(points(*means), AIM), AIM)


def test_twenty_four_builds_wait_and_twenty_five_do_not() -> None:
    assert waiting_sentence(study_run(points(*waves(24)), AIM)).startswith("24 of 25 builds")
    study = study_run(points(*waves(25)), AIM)
    assert waiting_sentence(study) == ""
    assert capability_sentence(study).startswith("Cpk ")


@pytest.mark.parametrize(
    ("height", "verdict"),
    [(0.002, "above 1"), (0.04, "below 1"), (0.0125, "on both sides of 1")],
)
def test_the_verdict_goes_by_the_limits_of_cpk(height: float, verdict: str) -> None:
    assert verdict in capability_sentence(study_run(points(*waves(30, height)), AIM))


def test_a_run_that_trips_is_not_judged() -> None:
    study = study_run(points(*waves(30), *(24.60 + n / 50 for n in range(1, 7))), AIM)
    assert study.trips
    assert "not steady" in capability_sentence(study)


def test_a_run_without_spread_has_no_capability() -> None:
    study = study_run(points(*[24.6] * 30), AIM)
    assert (study.capability, study.trips) == (None, ())
    assert capability_sentence(study) == "Every end reads the same: there is no spread."


def test_ends_with_different_numbers_of_readings_share_one_chart() -> None:
    mixed = points(*waves(25))
    mixed[3] = CrimpPoint(3, (24.60,))
    mixed[4] = CrimpPoint(4, (24.58, 24.60, 24.61, 24.62))
    study = study_run(mixed, AIM)
    uppers = [None if limit is None else round(limit.upper, 3) for limit in study.range_limits]
    assert uppers[3] is None, "one reading has no spread"
    assert uppers[4] != uppers[5]
    assert study.usual_readings == 3


def test_only_what_reaches_the_last_ends_is_recent() -> None:
    far = points(24.9, *waves(25 + RECENT_ENDS))
    study = study_run(far, AIM)
    assert [trip.rule for trip in study.trips] == ["outside"]
    assert study.recent == ()


def test_outside_tolerance_counts_a_mean_on_the_limit_as_inside() -> None:
    assert study_run(points(24.5, 24.7, 24.71), AIM).outside_tolerance == (2,)


def marks(count: int, address: str = "") -> list[RunMark]:
    found = points(*waves(count))
    return [RunMark(point, n % 7, f"end {n}", address) for n, point in enumerate(found)]


@pytest.mark.parametrize("count", [1, 2, 40, 120])
@pytest.mark.parametrize("width", [360.0, 960.0])
def test_nothing_of_the_picture_lies_outside_it(count: int, width: float) -> None:
    limits = ChartLimits(24.6, 24.53, 24.67)
    scene = run_scene(marks(count), aim=AIM, limits=limits, width=width)
    for shape in scene.shapes:
        if isinstance(shape, Text):
            left, top, right, bottom = box_of(shape)
            assert left >= -20, shape
            assert right <= width + 1, shape
            assert (top >= 0, bottom <= scene.height) == (True, True), shape
        if isinstance(shape, Rect):
            assert shape.y >= -1
            assert shape.y + shape.height <= scene.height


def test_numbers_under_the_picture_keep_apart() -> None:
    scene = run_scene(marks(120), aim=AIM, limits=None, width=360)
    numbers = [one for one in scene.shapes if isinstance(one, Text) and one.anchor == "middle"]
    boxes = sorted(box_of(one) for one in numbers)
    assert all(a[2] <= b[0] for a, b in itertools.pairwise(boxes))


def test_an_end_outside_is_filled_and_said() -> None:
    found = [RunMark(point, 0, "") for point in points(24.6, 24.75)]
    scene = run_scene(found, aim=AIM, limits=None)
    roles = [one.role for one in scene.shapes if isinstance(one, Poly) and one.closed]
    assert roles == ["mark", "mark-out"]
    assert scene.description.endswith("1 outside.")


def test_a_picture_with_links_is_a_group_of_them() -> None:
    linked = run_scene(marks(2, "/hoses/1/"), aim=None, limits=None)
    assert sum(isinstance(one, Link) for one in linked.shapes) == 2
    drawn = svg_of(linked, prefix="run")
    assert 'role="group"' in drawn
    assert drawn.count('<a href="/hoses/1/" aria-label="end ') == 2
    assert 'role="img"' in svg_of(run_scene(marks(2), aim=None, limits=None), prefix="run")


def test_a_link_s_words_and_address_are_escaped() -> None:
    found = [RunMark(points(24.6)[0], 0, '<b>"', '/x?"><script>')]
    drawn = svg_of(run_scene(found, aim=None, limits=None), prefix="run")
    assert "<script>" not in drawn
    assert "<b>" not in drawn


def test_every_crimper_s_mark_has_a_name() -> None:
    assert len({mark_words(kind) for kind in range(KINDS)}) == KINDS
