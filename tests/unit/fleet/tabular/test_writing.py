"""What is written comes back as it was, and is never a formula."""

import datetime as dt
import io
from decimal import Decimal

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.tabular import WrittenValue, guarded, open_table, without_guard, write_csv, write_xlsx

RISKY = [
    "=cmd|' /C calc'!A0",
    "+1 long",
    "-1/2",
    "@SUM(A1)",
    "\tx",
    "\rx",
    "＝1",
    "＋1",
    "－1",
    "＠a",
]
HARMLESS = ["-8", "+3.5", "-1,250.5", "1/2", "EX-07", "'quoted'", "a=b", ""]


@pytest.mark.parametrize("text", RISKY)
def test_a_text_that_would_run_is_guarded_and_comes_back(text: str) -> None:
    assert guarded(text) == "'" + text
    assert without_guard(guarded(text)) == text


@pytest.mark.parametrize("text", HARMLESS)
def test_a_harmless_text_is_left_alone(text: str) -> None:
    assert guarded(text) == text
    assert without_guard(text) == text


@given(st.text())
def test_any_text_comes_back_from_its_guard(text: str) -> None:
    assert without_guard(guarded(text)) == text


LINES = st.text(
    st.characters(exclude_categories=["Cs", "Cc", "Cn"], include_characters="\n"), max_size=20
)
TEXTS = st.lists(LINES.filter(lambda t: t.strip()), min_size=2, max_size=4)


@given(TEXTS)
@settings(max_examples=60, deadline=None)
def test_texts_come_back_from_csv(texts: list[str]) -> None:
    content = write_csv([["a"] * len(texts), ["b"] * len(texts), texts])
    rows = list(open_table(content, name="a.csv").rows())
    if not any(cell.kind == "error" for cell in rows[-1].cells):
        assert [cell.text for cell in rows[-1].cells] == texts


@given(TEXTS)
@settings(max_examples=60, deadline=None)
def test_texts_come_back_from_a_workbook(texts: list[str]) -> None:
    cells = next(open_table(write_xlsx([texts]), name="a.xlsx").rows()).cells
    assert [cell.text for cell in cells] == texts


@pytest.mark.parametrize("text", [*RISKY[:4], "=1+1"])
def test_a_workbook_keeps_texts_as_texts(text: str) -> None:
    content = write_xlsx([[text]])
    cell = openpyxl.load_workbook(io.BytesIO(content)).active["A1"]
    assert (cell.data_type, cell.value) == ("s", text)
    assert [c.text for c in next(open_table(content, name="a.xlsx").rows()).cells] == [text]


def test_a_text_that_looks_like_an_escape_comes_back() -> None:
    cells = next(open_table(write_xlsx([["_x000D_"]]), name="a.xlsx").rows()).cells
    assert cells[0].text == "_x000D_"


def test_control_characters_are_shown_and_never_break_the_file() -> None:
    for content, name in (
        (write_xlsx([["a\x00\x07b"]]), "a.xlsx"),
        (write_csv([["a\x00\x07b"]]), "a.csv"),
    ):
        assert next(open_table(content, name=name).rows()).cells[0].text == "a␀␇b"


def test_numbers_and_days_stay_what_they_are() -> None:
    row: list[WrittenValue] = [12, Decimal("12.50"), dt.date(2022, 5, 14), None]
    cells = next(open_table(write_xlsx([row]), name="a.xlsx").rows()).cells
    assert [cell.kind for cell in cells] == ["number", "number", "day"]
    assert write_csv([row]).decode("utf-8-sig") == "12,12.50,2022-05-14,\r\n"
