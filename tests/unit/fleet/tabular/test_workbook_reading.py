"""Workbooks read as a person sees them; openpyxl reads the same ones beside it."""

import datetime as dt
import io
import random
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import openpyxl
import pytest

from fleet.tabular import Cell, TableFile, TableRefused, open_table

from .workbooks import MAIN, one_cell, pack, parts, sheet_xml, workbook


def saved(book: openpyxl.Workbook) -> TableFile:
    out = io.BytesIO()
    book.save(out)
    return open_table(out.getvalue(), name="register.xlsx")


def one(value: Any, number_format: str = "General") -> Cell:
    book = openpyxl.Workbook()
    book.active["A1"] = value
    book.active["A1"].number_format = number_format
    return next(saved(book).rows()).cells[0]


@pytest.mark.parametrize(
    ("value", "number_format", "text", "kind"),
    [
        ("EX-07", "General", "EX-07", "text"),
        (8, "General", "8", "number"),
        (8, "00", "08", "number"),
        (7, '"EX-"00', "EX-07", "number"),
        (0.5, "# ?/?", "1/2", "number"),
        (1.25, "# ??/??", "1 1/4", "number"),
        (350, '0 "bar"', "350 bar", "number"),
        (5000, '#,##0" psi"', "5000 psi", "number"),
        (0.1 + 0.2, "General", "0.3", "number"),
        (12450.5, "0.0", "12450.5", "number"),
        (dt.date(2022, 5, 14), "mmm-yy", "2022-05-14", "day"),
        (
            dt.datetime.fromisoformat("2022-05-14 06:30"),
            "dd/mm/yyyy hh:mm",
            "2022-05-14 06:30:00",
            "moment",
        ),
        (dt.timedelta(hours=12450, minutes=30), "[h]:mm", "12450.5", "number"),
        (True, "General", "TRUE", "boolean"),
        ("#REF!", "General", "#REF!", "error"),
        ("=A2*2", "General", "", "formula_without_value"),
        ("Стрела, цилиндр", "General", "Стрела, цилиндр", "text"),
    ],
)
def test_shows_a_cell_as_the_program_shows_it(
    value: Any, number_format: str, text: str, kind: str
) -> None:
    cell = one(value, number_format)
    assert (cell.text, cell.kind) == (text, kind)


def test_keeps_the_exact_value_and_the_format_beside_the_text() -> None:
    assert one(8, "00") == Cell("08", "number", Decimal(8), "00")
    assert one(dt.date(2024, 2, 29), "yyyy-mm-dd").value == dt.date(2024, 2, 29)


def test_counts_days_from_1904_where_the_workbook_does() -> None:
    book = openpyxl.Workbook()
    book.epoch = openpyxl.utils.datetime.CALENDAR_MAC_1904
    book.active["A1"] = dt.date(2022, 5, 14)
    assert next(saved(book).rows()).cells[0].value == dt.date(2022, 5, 14)


def test_a_formula_with_an_empty_answer_is_blank() -> None:
    row = '<row r="1"><c r="A1" t="str"><f>""</f><v></v></c><c r="B1"><v>1</v></c></row>'
    assert [c.kind for c in next(read(row)).cells] == ["blank", "number"]


def read(rows: str) -> Any:
    return open_table(workbook(sheet_xml(rows)), name="a.xlsx").rows()


def test_reads_cells_without_names_and_prefixed_tags() -> None:
    rows = '<row><c t="inlineStr"><is><t>a</t></is></c><c/><c><v>2</v></c></row>'
    assert [c.text for c in next(read(rows)).cells] == ["a", "", "2"]
    prefixed = (
        f'<x:worksheet xmlns:x="{MAIN}"><x:sheetData><x:row r="1"><x:c r="A1"><x:v>5</x:v></x:c>'
        "</x:row></x:sheetData></x:worksheet>"
    )
    assert next(open_table(workbook(prefixed), name="a.xlsx").rows()).cells[0].text == "5"


def test_joins_the_pieces_of_a_text_and_leaves_its_reading_aid_out() -> None:
    texts = (
        f'<sst xmlns="{MAIN}"><si><r><t>half </t></r><r><t>inch</t></r><rPh sb="0" eb="1">'
        "<t>aid</t></rPh></si><si><t>a_x000D_b_x005F_x000D_</t></si></sst>"
    )
    rows = '<row r="1"><c r="A1" t="s"><v>0</v></c><c r="B1" t="s"><v>1</v></c></row>'
    content = pack(parts(sheet_xml(rows)) | {"xl/sharedStrings.xml": texts})
    cells = next(open_table(content, name="a.xlsx").rows()).cells
    assert [cell.text for cell in cells] == ["half inch", "a\rb_x000D_"]


def test_keeps_blank_rows_between_and_drops_those_after() -> None:
    rows = list(read(one_cell() + '<row r="2"/>' + one_cell("A4", 4) + '<row r="9"/>'))
    assert [(row.number, row.is_blank) for row in rows] == [
        (1, False),
        (2, True),
        (3, True),
        (4, False),
    ]


def test_empty_formatted_cells_far_away_are_nothing() -> None:
    rows = one_cell() + '<row r="900000"><c r="XFD900000" s="3"/></row>'
    assert len(list(read(rows))) == 1


def test_names_the_merged_block_over_each_covered_cell() -> None:
    book = openpyxl.Workbook()
    sheet = book.active
    sheet["A2"], sheet["B2"], sheet["B3"], sheet["B4"] = "EX-07", "a", "b", "c"
    sheet.merge_cells("A2:A4")
    rows = list(saved(book).rows())
    assert [row.covered[0].cell.text if 0 in row.covered else "" for row in rows] == [
        "",
        "",
        "EX-07",
        "EX-07",
    ]


def test_a_whole_column_merged_is_read_to_the_last_filled_row() -> None:
    after = '<mergeCells><mergeCell ref="A1:A1048576"/></mergeCells>'
    rows = one_cell() + one_cell("B2", 2)
    table = open_table(workbook(sheet_xml(rows, after)), name="a.xlsx")
    assert [row.covered.keys() for row in table.rows()] == [set(), {0}]


def test_says_which_sheets_there_are_and_which_are_hidden() -> None:
    book = openpyxl.Workbook()
    book.active.title = "Notes"
    book.create_sheet("Hoses")["A1"] = "x"
    book.create_sheet("Old").sheet_state = "hidden"
    table = saved(book)
    assert [(s.name, s.hidden) for s in table.sheets] == [
        ("Notes", False),
        ("Hoses", False),
        ("Old", True),
    ]
    assert next(table.rows("Hoses")).cells[0].text == "x"
    with pytest.raises(TableRefused, match="There are: Notes, Hoses, Old"):
        table.rows("Hose")


def test_one_sheet_too_large_leaves_the_others_to_be_read() -> None:
    book = openpyxl.Workbook()
    book.active["A1"] = "x"
    book.create_sheet("Raw")["A30000"] = 1
    table = saved(book)
    assert len(list(table.rows())) == 1
    assert "A30000" in table.sheets[1].refusal
    with pytest.raises(TableRefused):
        list(table.rows("Raw"))


def test_reads_what_openpyxl_reads() -> None:
    """300 random sheets, cell by cell, against another reader."""
    luck = random.Random(20_260_309)
    makers: list[Callable[[], Any]] = [
        lambda: luck.randint(-(10**6), 10**6),
        lambda: round(luck.uniform(-1e4, 1e4), 3),
        lambda: (
            dt.datetime.fromisoformat("1960-01-01") + dt.timedelta(days=luck.randint(0, 60_000))
        ),
        lambda: "".join(luck.choices("ab ü/Ж\n\"<&'=-", k=luck.randint(1, 12))),
        lambda: luck.random() < 0.5,
    ]
    for _ in range(300):
        book = openpyxl.Workbook()
        for place in luck.sample(range(360), luck.randint(1, 30)):
            cell = book.active.cell(place // 30 + 1, place % 30 + 1)
            cell.value = luck.choice(makers)()
            cell.data_type = "s" if isinstance(cell.value, str) else cell.data_type
        ours = {
            (row.number, at): cell
            for row in saved(book).rows()
            for at, cell in enumerate(row.cells)
            if cell.kind != "blank"
        }
        theirs = {
            (cell.row, cell.column - 1): cell.value
            for row in book.active.iter_rows()
            for cell in row
            if cell.value is not None and str(cell.value).strip()
        }
        assert {at: _plain(cell) for at, cell in ours.items()} == {
            at: _same(value) for at, value in theirs.items()
        }


def _plain(cell: Cell) -> Any:
    return float(cell.value) if isinstance(cell.value, Decimal) else cell.value


def _same(value: Any) -> Any:
    if isinstance(value, bool) or not isinstance(value, (int, float, dt.datetime)):
        return value
    return value.date() if isinstance(value, dt.datetime) else float(value)
