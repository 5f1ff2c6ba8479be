"""The drawing's proportions: one scale for hose and ends, shortened only where it must be."""

import pytest

from assemblies.pdf.hose_drawing import THICKEST_MM, THINNEST_MM, lay_out
from fleet.pdf.pen import Box
from tests.unit.assemblies.sheet_samples import oriented

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
