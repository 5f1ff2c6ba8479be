"""Threads of connection ends against relations that the standards themselves state."""

import math
from decimal import Decimal
from fractions import Fraction

import pytest

from assemblies.calc.threads import minor_mm, pitch_of
from assemblies.standards import tables
from assemblies.standards.rows import ThreadRow

ROWS = tables.threads()
HALF = Decimal("0.0005")


def of(*ends: str) -> list[ThreadRow]:
    return [row for row in ROWS if row.end in ends]


def inches(text: str) -> Fraction:
    return sum((Fraction(part) for part in text.split()), Fraction(0))


# Exact: 1 in = 25.4 mm; the pitch of n threads an inch is 25.4/n mm (ISO 228-1, ASME B1.1).
@pytest.mark.parametrize("row", [row for row in ROWS if row.threads_per_inch], ids=str)
def test_pitch_is_25_4_over_the_threads_an_inch(row: ThreadRow) -> None:
    assert row.threads_per_inch is not None
    assert abs(row.pitch_mm - pitch_of(row.threads_per_inch)) <= HALF


# ASME B1.1, ISO 725: the major diameter of a UN thread is the nominal size in its name.
@pytest.mark.parametrize("row", of("37° cone", "45° cone", "flat-face"), ids=str)
def test_a_un_thread_has_the_diameter_and_pitch_of_its_name(row: ThreadRow) -> None:
    nominal, _, per_inch = row.thread.rpartition("-")
    assert abs(Fraction(row.major_mm) - inches(nominal) * Fraction("25.4")) <= Fraction(HALF)
    assert row.threads_per_inch == Decimal(per_inch)


# ISO 261: diameter and pitch are in the name; ISO 8434-1: the tube is the size.
@pytest.mark.parametrize("row", of("24° cone L", "24° cone S"), ids=str)
def test_a_metric_thread_has_the_diameter_and_pitch_of_its_name(row: ThreadRow) -> None:
    diameter, _, pitch = row.thread[1:].partition("x")
    assert (row.major_mm, row.pitch_mm) == (Decimal(diameter), Decimal(pitch))
    assert row.tube_mm == Decimal(row.size)
    assert row.tube_mm < minor_mm(row), "the tube goes through the nut"


# ISO 8434-1 as the table of end ratings has it: one thread for each tube in both tables.
def test_metric_threads_agree_with_the_table_of_ratings() -> None:
    rated = {(r.end, r.size): r.thread for r in tables.end_ratings() if r.thread}
    named = {(row.end, row.size): row.thread for row in ROWS}
    assert {key: named[key] for key in rated} == rated


# ISO 228-1, major diameters in inches as a public thread chart prints them (four places, mostly
# three of them figures).
INCH_MAJORS = {
    "1/8": "0.3830", "1/4": "0.5180", "3/8": "0.6560", "1/2": "0.8250", "5/8": "0.9020",
    "3/4": "1.0410", "1": "1.3090", "1 1/4": "1.6500", "1 1/2": "1.8820", "2": "2.3470",
}  # fmt: skip


@pytest.mark.parametrize("row", of("BSP 60° cone", "BSP 30° cone", "BSP taper"), ids=str)
def test_pipe_threads_have_the_majors_of_a_second_table(row: ThreadRow) -> None:
    assert abs(row.major_mm - Decimal(INCH_MAJORS[row.size]) * Decimal("25.4")) <= Decimal("0.002")


# ISO 228-1, minor diameters as a public encyclopaedia prints them; depth 0.640327 pitches.
@pytest.mark.parametrize(
    ("size", "minor"),
    [("1/8", 8.566), ("1/4", 11.445), ("3/8", 14.950), ("1/2", 18.631), ("3/4", 24.117)],
)
def test_the_bore_of_a_pipe_thread(size: str, minor: float) -> None:
    row = next(row for row in of("BSP 60° cone") if row.size == size)
    assert float(minor_mm(row)) == pytest.approx(minor, abs=0.002)


# ASME B1.20.1: the outside diameter is the pipe's, in inches; pitch diameter at the small end
# E0 = D − (0.05 D + 1.1)/n, at the hand-tight plane E1 = E0 + L1/16. Printed E1 of a public
# table: 0.37360 (1/8), 0.49163 (1/4), 0.77843 (1/2), 1.23863 (1) with these L1.
@pytest.mark.parametrize(
    ("size", "l1", "e1"),
    [
        ("1/8", 0.1615, 0.37360),
        ("1/4", 0.2278, 0.49163),
        ("1/2", 0.320, 0.77843),
        ("1", 0.400, 1.23863),
    ],
)
def test_a_taper_thread_gives_its_own_pitch_diameter(size: str, l1: float, e1: float) -> None:
    row = next(row for row in of("NPT") if row.size == size)
    assert row.threads_per_inch is not None
    outside, per_inch = float(row.major_mm) / 25.4, float(row.threads_per_inch)
    e0 = outside - (0.05 * outside + 1.1) / per_inch
    assert e0 + l1 / 16 == pytest.approx(e1, abs=2e-4)


# ISO 68-1: the triangle is H = √3/2 pitches high; the nut is 5/8 H deep on each side.
def test_the_depth_of_a_sixty_degree_nut() -> None:
    row = next(row for row in ROWS if row.thread == "M30x2")
    depth = 2 * 5 / 8 * math.sqrt(3) / 2 * 2
    assert float(row.major_mm - minor_mm(row)) == pytest.approx(depth, abs=5e-4)


# From memory, and so unverified; what can be asked of them: heads are whole sixteenths of an
# inch, and code 62 is larger than code 61 in head and in bolts, size by size.
def test_flange_heads_are_whole_sixteenths_and_code_62_is_larger() -> None:
    rows = {(row.end[-2:], row.size): row for row in tables.flange_heads()}
    for (code, size), row in rows.items():
        sixteenths = row.head_mm / Decimal("25.4") * 16
        assert abs(sixteenths - round(sixteenths)) <= Decimal("0.05")
        if code == "62":
            assert row.head_mm > rows["61", size].head_mm
            assert row.spacing_mm > rows["61", size].spacing_mm
        assert row.source.is_unverified


def test_no_end_and_size_stands_twice() -> None:
    assert len({(row.end, row.size) for row in ROWS}) == len(ROWS)
