"""Rows: hoses, rows that are none, and what stands above a row."""

import datetime as dt
from typing import Any

import pytest

from assemblies.calc.register.row_reading import PLACE_NOT_STATED

from .sheets import csv_table, entries, left_out, only, read, refused, xlsx_table

HEAD = "Machine,Position,Tag,Size,Note"


@pytest.mark.parametrize(
    ("line", "reason"),
    [
        (",,,,", "a blank row"),
        ("Total hoses,,12,,", "a total, not a hose"),
        ("Summe,12,,,", "a total, not a hose"),
        (",,,,Updated by the night shift", "a heading or a remark: nothing else stands in it"),
        ("WHEEL LOADERS,,,,", "a heading or a remark: nothing else stands in it"),
    ],
)
def test_what_is_no_hose_is_left_out_with_its_reason(line: str, reason: str) -> None:
    register = read(csv_table(HEAD, "EX-07,Boom,H1,1/2,", line, "EX-07,Arm,H2,1/2,"))
    assert (only(left_out(register)).row_number, only(left_out(register)).reason) == (3, reason)
    assert len(entries(register)) == 2


def test_every_row_below_the_header_is_accounted_for() -> None:
    lines = ["EX-07,Boom,H1,1/2,", ",,,,", "Total,1,,,", "EX-07,Arm,H2,nonsense,"]
    assert [row.row_number for row in read(csv_table(HEAD, *lines)).rows] == [2, 3, 4, 5]


def test_a_machine_merged_over_its_hoses_is_theirs() -> None:
    rows: list[list[Any]] = [
        ["Machine", "Position", "Size"],
        ["EX-07", "a", "1/2"],
        [None, "b", "1/2"],
        [None, "c", "1/2"],
    ]
    register = read(xlsx_table(rows, merged=["A2:A4"]))
    assert [e.machine for e in entries(register)] == ["EX-07"] * 3
    assert register.questions == ()


def test_blank_machines_below_a_filled_one_are_asked_about() -> None:
    table = csv_table(HEAD, "EX-07,a,H1,1/2,", ",b,H2,1/2,", "WL-01,c,H3,1/2,", ",d,H4,1/2,")
    assert [q.key for q in read(table).questions] == ["machine.blanks"]
    above = read(table, {"machine.blanks": "above"})
    assert [e.machine for e in entries(above)] == ["EX-07", "EX-07", "WL-01", "WL-01"]
    blank = read(table, {"machine.blanks": "blank"})
    assert [r.row_number for r in refused(blank)] == [3, 5]
    assert "neither a machine nor a place in the store" in refused(blank)[0].refusals[0].reason


def test_hours_of_one_machine_are_not_carried_to_the_next() -> None:
    table = csv_table(
        "Machine,Position,Hours,Hours read on",
        *("A,a,100,2024-01-01", ",b,,", "B,c,,", ",d,,"),
    )
    found = entries(read(table, {"machine.blanks": "above"}))
    assert [e.hours_now is not None for e in found] == [True, True, False, False]


def test_headings_that_name_machines_are_asked_about() -> None:
    table = csv_table("Position,Tag,Size,x", "EX-07,,,", "Boom,H1,1/2,", ",,,WL-01", "Arm,H2,1/2,")
    register = read(table)
    assert "machine.headings" in [q.key for q in register.questions]
    said = read(table, {"machine.headings": "machine"})
    assert entries(said)[-1].machine == "WL-01"


def test_ditto_marks_repeat_the_cell_above() -> None:
    table = csv_table(HEAD, "EX-07,Boom,H1,1/2,", 'EX-07,"""",H2,ditto,')
    assert [(e.place, e.size.typed) for e in entries(read(table)) if e.size] == [
        ("Boom", "1/2")
    ] * 2


def test_people_who_know_nothing_write_something() -> None:
    register = read(csv_table(HEAD, "EX-07,Boom,n/a,?,", "EX-07,Boom,no tag,-,"))
    assert [(e.tag, e.size) for e in entries(register)] == [("", None), ("", None)]
    assert register.read_as_blank == {"Tag": {"n/a": 1, "no tag": 1}, "Size": {"?": 1, "-": 1}}


def test_a_place_that_is_not_stated_has_a_name_of_its_own() -> None:
    assert only(entries(read(csv_table(HEAD, "EX-07,,H1,1/2,")))).place == PLACE_NOT_STATED


def test_a_row_shifted_by_a_comma_too_many_is_refused() -> None:
    refusal = only(refused(read(csv_table(HEAD, "EX-07,Boom, left,H1,1/2,note")))).refusals[0]
    assert (refusal.cell, "6 cells and the header 5" in refusal.reason) == ("F2", True)


@pytest.mark.parametrize(
    ("made", "built", "fitted", "cell"),
    [("2Q21", "2020", "", "D2"), ("", "2022-05", "2021", "E2"), ("4Q23", "", "2Q21", "E2")],
)
def test_dates_out_of_order_are_refused(made: str, built: str, fitted: str, cell: str) -> None:
    table = csv_table("Machine,Position,Hose made,Built,Fitted", f"A,x,{made},{built},{fitted}")
    assert only(only(refused(read(table))).refusals).cell == cell


def test_dates_that_may_be_in_order_are_taken() -> None:
    table = csv_table("Machine,Position,Hose made,Built,Fitted", "A,x,2Q21,May 2021,2021")
    assert len(entries(read(table))) == 1


def test_a_hose_is_on_a_machine_or_in_the_store() -> None:
    table = csv_table("Machine,Position,Store,Tag", "A,x,Bin 3,H1", ",,Bin 3,H2")
    register = read(table)
    assert "leave the one empty" in only(refused(register)).refusals[0].reason
    assert only(entries(register)).store == "Bin 3"


def test_hours_at_fitting_are_not_above_the_hours_now() -> None:
    table = csv_table(
        "Machine,Position,Hours at fitting,Hours now,Hours read on", "A,x,9000,8000,2024-01-01"
    )
    assert "if the meter was changed" in only(refused(read(table))).refusals[0].reason


def test_hours_without_their_day_are_asked_about() -> None:
    table = csv_table("Machine,Position,Hours now", "A,x,9000")
    question = only(read(table).questions)
    assert (question.key, question.answered_by_day) == ("hours_now.day", True)
    said = only(entries(read(table, {"hours_now.day": "2024-03-01"})))
    assert said.hours_on == dt.date(2024, 3, 1)
    assert only(entries(read(table, {"hours_now.day": "leave_out"}))).hours_now is None


def test_a_refused_row_tells_where_it_would_have_been() -> None:
    row = only(refused(read(csv_table(HEAD, "EX-07,Boom,H1,rubbish,"))))
    assert (row.tag, row.machine, row.place) == ("H1", "EX-07", "Boom")
