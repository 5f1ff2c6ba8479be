"""End ratings against another print of the same figures; the assembly's rating worked by hand."""

from decimal import Decimal

import pytest

from assemblies.calc.ratings import assembly_rating, end_by_standard, hose_by_standard
from assemblies.standards import tables

# A public hydraulics handbook (in Vietnamese): ISO 8434-1, tube, thread, working pressure bar.
CONES = {
    "24° cone L": "6 M12x1.5 250, 8 M14x1.5 250, 10 M16x1.5 250, 12 M18x1.5 250, 15 M22x1.5 250, "
    "18 M26x1.5 160, 22 M30x2 160, 28 M36x2 100, 35 M45x2 100, 42 M52x2 100",
    "24° cone S": "6 M14x1.5 630, 8 M16x1.5 630, 10 M18x1.5 630, 12 M20x1.5 630, 16 M24x1.5 400, "
    "20 M30x2 400, 25 M36x2 400, 30 M42x2 250, 38 M52x2 250",
}
# The same handbook, SAE J518 / ISO 6162: size and bar.
FLANGES = {
    "flange code 61": "1/2 345, 3/4 345, 1 345, 1 1/4 276, 1 1/2 207, 2 207",
    "flange code 62": "1/2 414, 3/4 414, 1 414, 1 1/4 414, 1 1/2 414, 2 414",
}


@pytest.mark.parametrize("end", CONES)
def test_cone_ends_are_those_of_the_handbook(end: str) -> None:
    printed = [row.split() for row in CONES[end].split(", ")]
    ours = [r for r in tables.end_ratings() if r.end == end]
    found = [[r.size, r.thread, str(r.working_pressure_bar)] for r in ours]
    assert found == printed


@pytest.mark.parametrize("end", FLANGES)
def test_flanges_are_those_of_the_handbook(end: str) -> None:
    printed = [tuple(row.rsplit(" ", 1)) for row in FLANGES[end].split(", ")]
    ours = [(r.size, str(r.working_pressure_bar)) for r in tables.end_ratings() if r.end == end]
    assert ours == printed


# SAE J518 prints psi: 3000, 4000, 5000 and 6000; 1 psi = 0.06894757 bar (NIST SP 811).
def test_flange_prints_in_bar_are_the_psi_prints_to_the_nearest_bar() -> None:
    for row in tables.end_ratings():
        if row.end.startswith("flange"):
            psi = int(row.source.note.rsplit(" ", 1)[-1])
            assert row.working_pressure_bar == round(psi * Decimal("0.06894757"))


# Worked by hand: 2SN DN19 215 bar (EN 853), L22 160 bar (ISO 8434-1), code 61 3/4 345 bar
# (SAE J518); the lowest is 160, proof 2 × 160 = 320 (SAE J343), burst 4 × 160 = 640 (SAE J517).
def test_assembly_is_as_strong_as_its_weakest_part() -> None:
    parts = [
        hose_by_standard("2SN", 19),
        end_by_standard("24° cone L", "22"),
        end_by_standard("flange code 61", "3/4"),
    ]
    rating = assembly_rating(parts)
    assert rating.working_pressure_bar == 160
    assert rating.proof_bar == 320
    assert rating.burst_min_bar == 640
    assert [part.name for part in rating.binding] == ["24° cone L 22"]


# The thread tables of the same handbook: threads that stand in both cone series.
def test_confusable_cone_threads_are_those_that_stand_in_both_series() -> None:
    threads: dict[str, set[str]] = {}
    for row in tables.end_ratings():
        if row.thread:
            threads.setdefault(row.thread, set()).add(row.end[-1])
    both = {thread for thread, series in threads.items() if series == {"L", "S"}}
    listed = {
        r.thread
        for r in tables.confusable_threads()
        if r.first.startswith("24°") and not r.source.is_unverified
    }
    assert both == listed
