"""The header, beneath whatever stands above it."""

from typing import Any

import pytest

from assemblies.calc.register.fields import Field
from fleet.tabular import TableRefused

from .sheets import csv_table, found, left_out, read, xlsx_table


def test_stands_beneath_titles_and_blank_rows() -> None:
    table = csv_table(
        "Hose register,,", "printed 2024,,", ",,", "Tag,Machine,Position", "H1,EX-07,Boom"
    )
    assert found(table).header.first_row == 4


def test_a_title_of_names_and_values_is_no_header() -> None:
    table = xlsx_table(
        [
            ["Machine:", "EX-07", "Location:", "pit"],
            ["Tag", "Machine", "Position", "Size"],
            list("abcd"),
        ]
    )
    assert found(table).header.first_row == 2


def test_of_two_rows_with_merged_names_is_joined() -> None:
    rows: list[list[Any]] = [
        ["Machine", "Position", "Fitted", "", "End 1", "", "Length"],
        ["", "", "date", "hours", "type", "thread", "mm"],
        ["EX-07", "Boom", "2022", 8100, "cone", "M22", 1200],
    ]
    table = xlsx_table(rows, merged=["A1:A2", "B1:B2", "C1:D1", "E1:F1"])
    understood = found(table)
    assert (understood.header.first_row, understood.header.last_row) == (1, 2)
    assert [c.field for c in understood.columns] == [
        *(Field.MACHINE, Field.PLACE, Field.FITTED, Field.FITTED_HOURS),
        *(Field.END_A, Field.END_A, Field.LENGTH),
    ]
    assert understood.columns[-1].unit == "mm"


def test_the_first_hose_is_no_part_of_it() -> None:
    table = csv_table("Tag,Machine,Position,Type", "H-1,EX-07,Boom,2SN", "H-2,EX-07,Arm,2SN")
    assert found(table).header.last_row == 1


def test_repeated_on_each_page_is_left_out() -> None:
    table = csv_table(
        "Tag,Machine,Position", "H1,EX-07,Boom", "Tag,Machine,Position", "H2,EX-07,Arm"
    )
    assert [(r.row_number, r.reason) for r in left_out(read(table))] == [(3, "the header again")]


def test_missing_is_said() -> None:
    with pytest.raises(TableRefused, match="No header is recognised in the first 60 rows"):
        found(csv_table("a,b", "1,2"))


def test_can_be_named_by_hand_with_its_columns() -> None:
    table = csv_table("Nummer 1,Ding,Stelle 7", "H1,EX-07,Boom")
    columns = {"tag": ["Nummer 1"], "machine": ["b"], "place": ["Stelle 7"]}
    understood = found(table, header_row=1, columns=columns)
    assert [c.field for c in understood.columns] == [Field.TAG, Field.MACHINE, Field.PLACE]


def test_a_column_that_is_not_there_is_said() -> None:
    with pytest.raises(TableRefused, match=r"no column “Mark”\. There are: “Tag”, “Machine”"):
        found(csv_table("Tag,Machine", "1,2"), columns={"tag": ["Mark"]})
    with pytest.raises(TableRefused, match="“colour” is no field"):
        found(csv_table("Tag,Machine", "1,2"), columns={"colour": ["Tag"]})
