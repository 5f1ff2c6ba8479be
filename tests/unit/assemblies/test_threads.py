"""Threads of old ends: never one answer where two fit, and what tells each pair apart."""

import random
from decimal import Decimal

import pytest

from assemblies.calc.threads import (
    ThreadMeasures,
    end_keyed,
    identify_flange,
    identify_thread,
    minor_mm,
    pitch_of,
)
from assemblies.standards import tables
from assemblies.standards.rows import ThreadRow

ROWS = {(row.end, row.size): row for row in tables.threads()}
BSP_NPT = [(("BSP 60° cone", size), ("NPT", size), "55° flanks") for size in ("1/2", "3/4")]
PAIRS = [
    *(
        (("24° cone L", light), ("24° cone S", heavy), "Measure the tube")
        for light, heavy in [
            ("8", "6"), ("10", "8"), ("12", "10"), ("15", "14"), ("22", "20"), ("28", "25"),
            ("42", "38"),
        ]
    ),
    *((("37° cone", dash), ("45° cone", dash), "seat gauge") for dash in ("-4", "-5", "-8", "-10")),
    *(
        (("BSP 60° cone", size), ("BSP 30° cone", size), "seat gauge")
        for size in ("1/4", "3/8", "1/2", "3/4", "1")
    ),
    *BSP_NPT,
    (("37° cone", "-14"), ("flat-face", "-12"), "flat face"),
    (("37° cone", "-6"), ("flat-face", "-4"), "flat face"),
]  # fmt: skip
PAIR_IDS = [f"{a[0]} {a[1]} or {b[0]} {b[1]}" for a, b, _ in PAIRS]


def male(row: ThreadRow, worn: str = "", **facts: object) -> ThreadMeasures:
    """A male thread as it is measured: a tapered one about the middle of its taper."""
    usual = "0.4" if row.is_tapered else "0.1"
    given = {"diameter_mm": row.major_mm - Decimal(worn or usual), "is_male": True, **facts}
    return ThreadMeasures(**given)  # type: ignore[arg-type]  # as the tests name them


def ends(measured: ThreadMeasures) -> list[tuple[str, str]]:
    return [(one.end, one.size) for one in identify_thread(measured).candidates]


@pytest.mark.parametrize(("first", "second", "words"), PAIRS, ids=PAIR_IDS)
def test_a_confusable_pair_is_never_one_answer(
    first: tuple[str, str], second: tuple[str, str], words: str
) -> None:
    for key in (first, second):
        found = identify_thread(male(ROWS[key], pitch_mm=ROWS[key].pitch_mm))
        fitting = [(one.end, one.size) for one in found.candidates]
        assert {first, second} <= set(fitting)
        assert any(words in sentence for sentence in found.tells), found.tells


@pytest.mark.parametrize(("first", "second", "words"), PAIRS, ids=PAIR_IDS)
def test_the_nuts_of_a_confusable_pair_are_never_one_answer(
    first: tuple[str, str], second: tuple[str, str], words: str
) -> None:
    row = ROWS[first]
    bore = minor_mm(row) + Decimal("0.2")
    found = identify_thread(ThreadMeasures(bore, is_male=False, pitch_mm=row.pitch_mm))
    assert {first, second} <= {(one.end, one.size) for one in found.candidates}
    assert any(words in sentence for sentence in found.tells)


@pytest.mark.parametrize(
    ("first", "second"), [(first, second) for first, second, _ in PAIRS], ids=PAIR_IDS
)
def test_what_tells_a_pair_apart_puts_the_right_one_first(
    first: tuple[str, str], second: tuple[str, str]
) -> None:
    for key in (first, second):
        row = ROWS[key]
        flank = 55 if row.end.startswith("BSP") else 60
        found = identify_thread(
            male(
                row,
                pitch_mm=row.pitch_mm,
                seat=row.seat,
                tube_mm=row.tube_mm,
                is_tapered=row.is_tapered,
                flank_deg=flank,
            )
        )
        assert (found.candidates[0].end, found.candidates[0].size) == key
        assert found.candidates[0].doubts == ()
        assert all(one.doubts for one in found.candidates[1:])


def test_every_pair_of_the_confusable_table_is_tested() -> None:
    threads = {row.thread for row in tables.confusable_threads()}
    tested = {ROWS[first].thread for first, _, _ in PAIRS}
    assert threads - tested == {"BSP", "BSP / NPT", "flange"}, "these by size, or as flanges"
    assert BSP_NPT


@pytest.mark.parametrize("size", ["1/2", "3/4", "1", "1 1/4", "1 1/2", "2"])
def test_a_flange_head_between_two_codes_is_both_and_names_both_always(size: str) -> None:
    low, high = (row for row in tables.flange_heads() if row.size == size)
    for row, other in ((low, high), (high, low)):
        found = identify_flange(row.head_mm)
        assert found.candidates[0].key == f"{row.end}|{size}"
        assert any(f"{other.head_mm}" in sentence for sentence in found.tells)
        parted = identify_flange(row.head_mm, row.spacing_mm)
        assert f"{other.end}|{size}" not in [one.key for one in parted.candidates]


def test_every_row_is_found_by_its_own_measures_worn_or_not() -> None:
    draw = random.Random(3)
    for key, row in ROWS.items():
        for _ in range(20):
            worn = Decimal(draw.randint(-5, 45)) / 100
            wrong = Decimal(draw.randint(-3, 3)) / 100
            assert key in ends(male(row, str(worn), pitch_mm=row.pitch_mm + wrong))
            bore = minor_mm(row) + Decimal(draw.randint(-5, 55)) / 100
            female = ThreadMeasures(bore, is_male=False, pitch_mm=row.pitch_mm + wrong)
            assert key in ends(female)


def test_without_a_pitch_all_that_have_the_diameter_fit_and_the_pitch_is_asked_for() -> None:
    found = identify_thread(ThreadMeasures(Decimal("20.9"), is_male=True))
    assert {("BSP 60° cone", "1/2"), ("NPT", "1/2")} <= {
        (one.end, one.size) for one in found.candidates
    }
    assert found.tells[0].startswith("Measure the pitch")


def test_a_seat_that_nothing_has_is_doubted_and_not_obeyed() -> None:
    found = identify_thread(ThreadMeasures(Decimal("29.9"), True, Decimal(2), seat="flat"))
    assert [one.size for one in found.candidates] == ["22", "20"]
    assert (
        "the seat was said to be a flat face, here it is a 24° cone" in found.candidates[0].doubts
    )


def test_a_taper_is_told_from_a_parallel_thread() -> None:
    measured = ThreadMeasures(Decimal("20.7"), True, pitch_of(Decimal(14)), is_tapered=True)
    found = identify_thread(measured)
    assert found.candidates[0].end in ("BSP taper", "NPT")
    assert any("narrows" in sentence or "55° flanks" in sentence for sentence in found.tells)


@pytest.mark.parametrize(
    ("diameter", "male_thread", "words"),
    [("3", True, "an outside diameter of 3 mm"), ("200", False, "a bore of 200 mm")],
)
def test_what_no_table_has_is_said_so(diameter: str, male_thread: bool, words: str) -> None:
    found = identify_thread(ThreadMeasures(Decimal(diameter), male_thread, Decimal("1.5")))
    assert found.candidates == ()
    assert words in found.problem
    assert "1.5 mm" in found.problem


def test_a_head_that_no_flange_has_is_said_so() -> None:
    assert "20 mm" in identify_flange(Decimal(20)).problem
    assert "bolts 90 mm" in identify_flange(Decimal("38.1"), Decimal(90)).problem


def test_a_key_names_an_end_or_nothing() -> None:
    for key in ROWS:
        assert end_keyed("|".join(key)) == key
    assert end_keyed("flange code 62|2") == ("flange code 62", "2")
    assert end_keyed("") is end_keyed("x|y") is None
