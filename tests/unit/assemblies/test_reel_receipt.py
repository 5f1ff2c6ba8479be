"""What a reel's marks say when it comes in, and how old it is when it is built in."""

from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assemblies.calc.day_ranges import AmbiguousDate, DateError
from assemblies.calc.reel_age import ReelLimit, months_after, reel_age, span_words, whole_months
from assemblies.calc.reel_receipt import check_wire, layline_differs, read_made, reading_key
from assemblies.standards import tables
from assemblies.standards.rows import HoseDiameters

CAME_IN = date(2025, 9, 1)
LINE = "Harrow/EN 853/2SN/DN 12/2Q25"


def test_the_code_and_the_layline_agree() -> None:
    assert str(read_made("2Q25", LINE, latest_on=CAME_IN).made) == "quarter 2 of 2025"


def test_a_layline_settles_a_code_that_reads_two_ways() -> None:
    read = read_made("07/10", "Harrow/2SN/DN 12/2007-10", latest_on=CAME_IN)
    assert str(read.made) == "Oct 2007"


def test_a_code_of_two_readings_beside_another_day_is_asked_about() -> None:
    read = read_made("05/06", "Harrow/2SN/DN 12/2005-06-01", latest_on=CAME_IN)
    assert read.made is None
    assert {str(one) for one in read.readings} == {"May 2006", "Jun 2005", "1 Jun 2005"}


def test_a_size_before_a_year_is_no_month_of_it() -> None:
    assert str(read_made("", "Harrow/2SN/DN 12/2019", latest_on=CAME_IN).made) == "2019"


def test_a_code_that_differs_from_the_layline_is_asked_about() -> None:
    read = read_made("3Q24", LINE, latest_on=CAME_IN)
    assert read.made is None
    assert "The code and the layline differ: quarter 3 of 2024 or quarter 2 of 2025" in read.asked
    chosen = read.chosen("2025-04-01..2025-06-30")
    assert str(chosen) == "quarter 2 of 2025"
    assert read.chosen("2001-01-01..2001-01-01") is None


def test_two_dates_on_a_layline_are_asked_about() -> None:
    read = read_made("", "Harrow/2SN/DN 12/2Q25/3Q25", latest_on=CAME_IN)
    assert (read.made, len(read.readings)) == (None, 2)
    assert "could be quarter 2 of 2025" in read.asked


@pytest.mark.parametrize("layline", ["", "Harrow/EN 853/2SN/DN 12", "nothing to read"])
def test_marks_that_say_nothing_ask_nothing(layline: str) -> None:
    read = read_made("", layline, latest_on=CAME_IN)
    assert (read.made, read.readings, read.asked) == (None, (), "")


@pytest.mark.parametrize("typed", ["soon", "4Q25", "31/02/2024"])
def test_refuses_a_code_that_is_no_day_before_it_came_in(typed: str) -> None:
    with pytest.raises(DateError) as refused:
        read_made(typed, "", latest_on=CAME_IN)
    assert not isinstance(refused.value, AmbiguousDate)


def test_refuses_a_layline_made_after_it_came_in() -> None:
    with pytest.raises(DateError, match="check the day the reel came in"):
        read_made("", "Harrow/2SN/DN 12/4Q25", latest_on=CAME_IN)


@given(st.text(max_size=40), st.text(max_size=80))
def test_whatever_is_typed_ends_in_a_reading_a_question_or_a_refusal(
    typed: str, layline: str
) -> None:
    try:
        read = read_made(typed, layline, latest_on=CAME_IN)
    except DateError:
        return
    assert bool(read.asked) == (read.made is None and bool(read.readings))
    assert all(one.earliest <= CAME_IN for one in read.readings)
    keys = [reading_key(one) for one in read.readings]
    assert len(keys) == len(set(keys))


@pytest.mark.parametrize(
    ("layline", "hose_type", "dn", "said"),
    [
        (LINE, "2SN", 12, 0),
        ("Harrow/SAE 100R2AT/1/2/2Q25", "2SN", 12, 0),
        ("Harrow/EN 857/2SC/DN 12", "2SN", 12, 1),
        ("Harrow/EN 853/2SN/DN 10", "2SN", 12, 1),
        ("Harrow/EN 857/2SC/DN 10", "2SN", 12, 2),
        ("Harrow/three-braid", "", 25, 0),
        ("", "2SN", 12, 0),
    ],
)
def test_a_layline_of_another_hose_is_told(
    layline: str, hose_type: str, dn: int, said: int
) -> None:
    assert len(layline_differs(layline, hose_type, dn)) == said


@pytest.mark.parametrize("row", tables.hose_diameters(), ids=lambda row: f"{row.type} DN{row.dn}")
def test_the_wire_is_held_against_the_standards_own_row(row: HoseDiameters) -> None:
    of: dict[str, Any] = {"hose_type": row.type, "size_dn": row.dn, "maker_mm": None}
    low, high, step = row.reinforcement_min_mm, row.reinforcement_max_mm, Decimal("0.01")
    assert [check_wire(d, **of).state for d in (low, high)] == ["fine", "fine"]
    assert [check_wire(d, **of).state for d in (low - step, high + step)] == ["over", "over"]
    assert row.source.document in check_wire(low, **of).sentence


def test_a_hose_outside_the_tables_is_held_against_its_makers_figure() -> None:
    of: dict[str, Any] = {"hose_type": "", "size_dn": 25}
    assert check_wire(Decimal("37.1"), maker_mm=Decimal("36.5"), **of).state == "fine"
    assert check_wire(Decimal("37.4"), maker_mm=Decimal("36.5"), **of).state == "over"
    assert check_wire(Decimal("37.4"), maker_mm=None, **of).state == "unsure"


# Worked by hand: 40 quarters are 120 months; the limit's own last day is in time.
AGES = [
    (date(2021, 4, 1), 48, date(2025, 4, 1), ""),
    (date(2021, 4, 1), 48, date(2025, 4, 2), "Too old to build from since 2025-04-01"),
    (date(2016, 2, 29), 120, date(2026, 2, 28), ""),
    (date(2016, 2, 29), 120, date(2026, 3, 1), "Too old to build from since 2026-02-28"),
    (date(2024, 1, 31), 1, date(2024, 2, 29), ""),
    (date(2024, 1, 31), 1, date(2024, 3, 1), "Too old to build from since 2024-02-29"),
]


@pytest.mark.parametrize(("made", "months", "on", "said"), AGES)
def test_a_limit_ends_with_its_own_day(made: date, months: int, on: date, said: str) -> None:
    age = reel_age(made, made, on=on, limits=[ReelLimit(months, "DIN 20066")])
    assert age.too_old[: len(said)] == said
    assert bool(age.too_old) == bool(said)


def test_an_uncertain_day_counts_from_its_first_and_says_may_be() -> None:
    limit = [ReelLimit(48, "DIN 20066")]
    age = reel_age(date(2021, 4, 1), date(2021, 6, 30), on=date(2025, 5, 1), limits=limit)
    assert age.too_old.startswith("May be too old to build from since 2025-04-01")
    assert age.words == "3 years 10 months to 4 years 1 month old"


def test_the_strictest_limit_for_everything_counts_and_the_others_stand_beside() -> None:
    made = date(2021, 1, 1)
    limits = [
        ReelLimit(120, "ISO/TR 17165-2"),
        ReelLimit(48, "DIN 20066", "normal"),
        ReelLimit(24, "our own", "steering", "places where a failure hurts"),
        ReelLimit(60, "looser", "", "suction"),
    ]
    age = reel_age(made, made, on=date(2024, 1, 1), limits=limits)
    assert (age.until_on, age.too_old) == (date(2025, 1, 1), "")
    assert len(age.too_old_where) == 1
    assert "places where a failure hurts" in age.too_old_where[0]


def test_a_day_that_is_not_known_is_never_passed_over() -> None:
    age = reel_age(None, None, on=date(2026, 1, 1), limits=[ReelLimit(48, "DIN 20066")])
    assert "age not known" in age.words
    assert age.until_on is None


@given(st.dates(date(1980, 1, 1), date(2060, 1, 1)), st.integers(0, 400))
def test_whole_months_undo_months_after(day: date, months: int) -> None:
    later = months_after(day, months)
    assert whole_months(day, later) == months
    assert span_words(months)
