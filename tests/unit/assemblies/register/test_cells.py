"""Cells: read, refused in words, or asked about once for their column."""

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest

from .sheets import csv_table, entries, one_cell, only, read, refused, xlsx_table


@pytest.mark.parametrize(
    ("value", "dn"),
    [
        ("1/2", 12),
        ('3/4"', 19),
        ("-8", 12),
        ("DN12", 12),
        ("1.1/4", 31),
        ("12.7 mm", 12),
        ("½", 12),
    ],
)
def test_sizes_as_people_write_them(value: str, dn: int) -> None:
    size = only(entries(one_cell("Size", value))).size
    assert (size.size.dn, size.typed) == (dn, value)


def test_bare_sizes_are_asked_about_with_what_each_answer_would_make() -> None:
    register = one_cell("Size", 8)
    question = only(register.questions)
    assert question.key == "size.notation"
    assert [option.value for option in question.options] == ["dash", "dn", "mm"]
    assert "DN12 (-8, 1/2" in question.options[0].label
    assert only(entries(one_cell("Size", 8, {"size.notation": "dash"}))).size.size.dn == 12
    assert only(entries(one_cell("Size", 8, {"size.notation": "dn"}))).size.size.dn == 8


def test_a_header_that_names_the_notation_is_the_answer() -> None:
    assert only(entries(one_cell("Dash size", 8))).size.size.dn == 12
    assert only(entries(one_cell("DN", 8))).size.size.dn == 8


@pytest.mark.parametrize("value", [dt.date(2024, 2, 1), dt.date(2024, 1, 2), "01-Feb", "Jan-02"])
def test_a_size_that_became_a_date_is_asked_about(value: Any) -> None:
    assert only(one_cell("Size", value).questions).key == "size.dates"
    taken = one_cell("Size", value, {"size.dates": "fractions"})
    assert only(entries(taken)).size.size.inch == "1/2"
    kept_out = one_cell("Size", value, {"size.dates": "refuse"})
    assert "type it as text" in only(refused(kept_out)).refusals[0].reason


def test_a_fraction_format_shows_the_size() -> None:
    assert only(entries(one_cell("Size", 0.75, {}, "# ?/?"))).size.size.dn == 19


def test_type_and_size_in_one_column_are_parted() -> None:
    assert only(entries(one_cell("Hose type", "2SN DN12"))).size.size.dn == 12
    entry = only(entries(one_cell("Size", '1/2" 2SN')))
    assert (entry.size.size.dn, entry.hose_type) == (12, "2SN")


@pytest.mark.parametrize(
    ("header", "value", "bar"),
    [
        ("WP", "350 bar", "350.00"),
        ("WP", "5,000 psi", "344.74"),
        ("WP", "35 MPa", "350.00"),
        ("WP bar", 350, "350.00"),
        ("WP (MPa)", "27,5", "275.00"),
        ("WP bar", "5000 psi", "344.74"),
        ("WP", "350 bar / 5000 psi", "350.00"),
        ("WP", "5000 psi (350 bar)", "350.00"),
    ],
)
def test_pressures_come_to_bar(header: str, value: Any, bar: str) -> None:
    pressure = only(entries(one_cell(header, value))).pressure
    assert pressure.value == Decimal(bar)
    assert pressure.typed == str(value)


def test_a_pressure_without_a_unit_is_asked_about() -> None:
    question = only(one_cell("WP", 350).questions)
    assert question.key == "pressure.unit"
    assert "psi (350 → 24.13 bar)" in [option.label for option in question.options]
    assert only(entries(one_cell("WP", 350, {"pressure.unit": "psi"}))).pressure.value == Decimal(
        "24.13"
    )


def test_a_format_that_shows_the_unit_is_the_answer() -> None:
    assert only(entries(one_cell("WP", 350, {}, '0" bar"'))).pressure.value == 350


def test_a_sign_before_three_figures_is_asked_about() -> None:
    register = one_cell("Length mm", "1.180")
    assert only(register.questions).key == "length.decimal"
    said = one_cell("Length mm", "1.180", {"length.decimal": "thousands"})
    assert only(entries(said)).length.value == 1180
    assert only(entries(one_cell("Length mm", 1180.125))).length.value == Decimal("1180.12")
    assert only(entries(one_cell("Length m", 1.125))).length.value == 1125


@pytest.mark.parametrize(
    ("value", "hours"),
    [("12,450", "12450"), ("12450 h", "12450"), (12450.5, "12450.5"), ("812:30", "812.5")],
)
def test_hours_as_people_write_them(value: Any, hours: str) -> None:
    assert only(entries(one_cell("Hours at fitting", value))).fitted_hours.value == Decimal(hours)


@pytest.mark.parametrize(
    ("value", "earliest", "precision"),
    [
        (dt.date(2022, 5, 14), dt.date(2022, 5, 14), "day"),
        ("14 May 2022", dt.date(2022, 5, 14), "day"),
        ("May 2022", dt.date(2022, 5, 1), "month"),
        ("2Q21", dt.date(2021, 4, 1), "quarter"),
        ("2019", dt.date(2019, 1, 1), "year"),
        (2019, dt.date(2019, 1, 1), "year"),
        ("29.02.2020", dt.date(2020, 2, 29), "day"),
    ],
)
def test_dates_are_kept_as_far_as_they_are_known(
    value: Any, earliest: dt.date, precision: str
) -> None:
    fitted = only(entries(one_cell("Fitted", value))).fitted
    assert (fitted.earliest, fitted.precision) == (earliest, precision)


def test_a_real_date_shown_as_a_month_is_known_to_the_month() -> None:
    fitted = only(entries(one_cell("Fitted", dt.date(2022, 5, 1), {}, "mmm-yy"))).fitted
    assert (fitted.latest, fitted.precision) == (dt.date(2022, 5, 31), "month")


def test_the_order_of_day_and_month_is_asked_once_for_its_column() -> None:
    table = csv_table(
        "Machine,Position,Fitted", "A,x,03/04/2020", "A,y,05/06/2021", "A,z,25/06/2021"
    )
    question = only(read(table).questions)
    assert (question.key, question.cells) == ("fitted.order", 2)
    us = entries(read(table, {"fitted.order": "mdy"}))
    assert us[0].fitted is not None
    assert us[0].fitted.earliest == dt.date(2020, 3, 4)


def test_codes_are_asked_about_by_their_pattern() -> None:
    question = only(one_cell("Hose made", "07/10").questions)
    assert question.key == "made.code"
    assert [option.value for option in question.options] == ["year-month", "month-year", "refuse"]
    said = one_cell("Hose made", "07/10", {"made.code": "year-month"})
    assert only(entries(said)).made.earliest == dt.date(2007, 10, 1)


def test_real_dates_that_may_be_swapped_are_asked_about() -> None:
    rows: list[list[Any]] = [["Machine", "Position", "Fitted"]]
    rows += [["A", f"p{day}", dt.date(2021, 6, day)] for day in range(1, 13)]
    rows += [["A", "q", "25/06/2021"]]
    table = xlsx_table(rows)
    assert [q.key for q in read(table).questions] == ["fitted.swapped"]
    swapped = entries(read(table, {"fitted.swapped": "swap"}))
    assert swapped[0].fitted is not None
    assert swapped[0].fitted.earliest == dt.date(2021, 1, 6)


@pytest.mark.parametrize(
    ("header", "value", "reason"),
    [
        ("Size", "12 mm", "write DN12"),
        ("Size", "lots", "is no hose size"),
        ("Length mm", "0", "longer than nothing"),
        ("WP bar", "-5", "below nothing"),
        ("WP", "350 bar / 3000 psi", "none of"),
        ("Fitted", "30/02/2023", "February 2023 has 28 days"),
        ("Fitted", "2030-01-01", "is after 2024-03-20"),
        ("Hours at fitting", "many", "not a number of hours"),
        ("Model", "x" * 90, "at most 80 are kept"),
        ("Note", "#REF!", "shows an error"),
        ("Machine serial", "1.23457E+11", "shortened a long number"),
        ("Machine serial", dt.date(2022, 3, 12), "made a date of it"),
        ("Hours read on", "May 2022", "needs its day"),
    ],
)
def test_a_cell_that_cannot_be_read_refuses_its_row_and_names_it(
    header: str, value: Any, reason: str
) -> None:
    register = one_cell(header, value)
    refusal = only(only(refused(register)).refusals)
    assert (refusal.cell, refusal.header) == ("D2", header)
    assert reason in refusal.reason


def test_a_formula_without_an_answer_is_refused() -> None:
    refusal = only(only(refused(_formula())).refusals)
    assert "answer is not stored" in refusal.reason


def _formula() -> Any:
    return read(xlsx_table([["Machine", "Position", "Length mm"], ["EX-07", "Boom", "=600*2"]]))


def test_a_word_for_the_consequence_is_asked_about_once() -> None:
    table = csv_table("Machine,Position,Criticality", "A,x,High", "A,y,high", "A,z,safety")
    question = only(read(table).questions)
    assert (question.key, question.cells) == ("consequence.word:high", 2)
    said = entries(read(table, {"consequence.word:high": "stops"}))
    assert [entry.consequence for entry in said] == ["stops", "stops", "hurts"]


def test_an_unknown_circuit_is_kept_in_its_own_words() -> None:
    entry = only(entries(one_cell("Circuit", "Fan loop 2b")))
    assert (entry.circuit, entry.circuit_typed) == ("other", "Fan loop 2b")
