"""The messy registers of fixtures/imports: what each of their traps comes to."""

from collections import Counter
from pathlib import Path

import pytest

from fleet.tabular import EncodingAsked, TableRefused, open_table

from .sheets import entries, left_out, read, refused

FOLDER = Path(__file__).parents[4] / "fixtures" / "imports"
ANSWERS = {
    "messy_register.xlsx": {
        "size.dates": "fractions",
        "machine.blanks": "blank",
        "pressure.unit": "bar",
    },
    "messy_register.csv": {
        "size.notation": "dn",
        "machine.blanks": "above",
        "fitted.order": "dmy",
        "length.unit": "mm",
        "length.decimal": "thousands",
        "fitted_hours.decimal": "thousands",
    },
}


@pytest.mark.parametrize("name", ANSWERS)
def test_asks_these_questions_and_no_others(name: str) -> None:
    table = open_table(FOLDER / name, name=name)
    given: dict[str, str] = {}
    while questions := read(table, given).questions:  # an answer may raise a further question
        given |= {question.key: ANSWERS[name][question.key] for question in questions}
    assert given == ANSWERS[name]


def test_messy_workbook() -> None:
    table = open_table(FOLDER / "messy_register.xlsx", name="messy_register.xlsx")
    register = read(table, ANSWERS["messy_register.xlsx"])
    assert [row.refusals[0].cell for row in refused(register)] == [
        "N24",
        "A33",
        "G34",
        "O35",
        "A38",
    ]
    assert Counter(row.reason.split(",")[0].split(":")[0] for row in left_out(register)) == {
        "a blank row": 3,
        "a total": 2,
        "a heading or a remark": 1,
        "the header again": 1,
    }
    assert len(entries(register)) == 21
    assert {e.machine for e in entries(register)} == {"EX-07", "WL-03", "DT-21", "ДР-02"}


def test_messy_csv() -> None:
    table = open_table(FOLDER / "messy_register.csv", name="messy_register.csv")
    register = read(table, ANSWERS["messy_register.csv"])
    assert [row.refusals[0].cell for row in refused(register)] == ["K14", "A20"]
    assert [e.note for e in entries(register) if e.note.startswith("=")] == ['=HYPERLINK("x")']
    assert {e.machine for e in entries(register)} == {"GR-05", "WT-09", "Хоппер-1"}


def test_western_letters_are_asked_about() -> None:
    with pytest.raises(EncodingAsked):
        open_table(FOLDER / "messy_western.csv", name="messy_western.csv")
    table = open_table(FOLDER / "messy_western.csv", name="messy_western.csv", encoding="cp1252")
    assert entries(read(table))[0].place == "Höhenverstellung"


@pytest.mark.parametrize("name", ["good_register.xlsx", "good_register.csv"])
def test_good_register_is_read_whole_and_unasked(name: str) -> None:
    register = read(open_table(FOLDER / name, name=name))
    assert (len(entries(register)), len(register.rows), register.questions) == (40, 40, ())


def test_both_good_registers_say_the_same() -> None:
    one, other = (
        entries(read(open_table(FOLDER / f"good_register.{end}", name=f"a.{end}")))
        for end in ("xlsx", "csv")
    )
    assert one == other


@pytest.mark.parametrize("path", sorted((FOLDER / "refused").iterdir()), ids=lambda path: path.name)
def test_hostile_files_are_refused(path: Path) -> None:
    with pytest.raises(TableRefused):
        open_table(path, name=path.name)
