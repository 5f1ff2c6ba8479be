"""The drawing's proportions: one scale for hose and ends, shortened only where it must be."""

from dataclasses import replace

import pytest

from assemblies.pdf.hose_drawing import (
    THICKEST_MM,
    THINNEST_MM,
    draw_assembly,
    height_mm,
    lay_out,
)
from fleet.pdf.frame import A4, Paper, PaperStamp
from fleet.pdf.pen import PT, Box
from tests.paper_reading import read_pages
from tests.unit.assemblies.sheet_samples import eight_sleeves, oriented

ROOM = Box(20, 30, 130, 36)


@pytest.mark.parametrize(("length", "outside"), [("900", "30.1"), ("260", "68"), ("600", "20")])
def test_draws_hose_and_ends_to_one_scale(length: str, outside: str) -> None:
    content = oriented("90", length, outside)
    view = lay_out(content, ROOM)
    assert not view.broken
    assert content.length.cut_length_mm is not None
    cut = float(content.length.cut_length_mm)
    assert view.thick / (view.cut_b - view.cut_a) == pytest.approx(float(outside) / cut)
    assert (view.cut_a - view.seat_a) / view.thick == pytest.approx(45.5 / float(outside))
    assert (view.seat_b - view.cut_b) / view.thick == pytest.approx(62 / float(outside))


def test_shortens_a_hose_that_would_be_a_thread_and_keeps_its_ends_in_scale() -> None:
    view = lay_out(oriented("90", "24000", "13.4"), ROOM)
    assert view.broken
    assert view.thick >= THINNEST_MM
    assert (view.cut_a - view.seat_a) / view.thick == pytest.approx(45.5 / 13.4)


@pytest.mark.parametrize("length", ["170", "260", "600", "1200", "3000", "24000"])
@pytest.mark.parametrize("outside", ["9", "13.4", "30.1", "68"])
def test_stays_in_its_room(length: str, outside: str) -> None:
    view = lay_out(oriented("90", length, outside), ROOM)
    assert ROOM.x <= view.seat_a < view.cut_a < view.cut_b < view.seat_b <= ROOM.right
    assert view.thick <= THICKEST_MM + 1e-9


@pytest.mark.parametrize("angle", ["0", "45", "90", "180", "270"])
@pytest.mark.parametrize(("length", "outside"), [("1200", "30.1"), ("260", "68"), ("24000", "9")])
@pytest.mark.parametrize("sleeves", [0, 1, 4, 8])
def test_draws_nothing_outside_the_height_it_asks_for(
    angle: str, length: str, outside: str, sleeves: int
) -> None:
    content = oriented(angle, length, outside)
    content = replace(content, sleeves=eight_sleeves().sleeves[:sleeves])
    box = Box(10, 20, 150, height_mm(content, 150))
    paper = Paper(PaperStamp("drawing", "", ""), A4, foot=False)
    draw_assembly(paper.new_page(), box, content)
    (page,) = read_pages(paper.to_bytes())
    heights = [y / PT for stroke in page.strokes for y in stroke[1::2]]
    heights += [y / PT for sign in page.signs for y in (sign.top, sign.bottom)]
    assert min(heights) >= box.y - 0.2
    assert max(heights) <= box.bottom + 0.2
