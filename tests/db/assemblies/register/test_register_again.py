"""The same file twice changes nothing: random registers, in any order of trouble."""

import io
import random
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from assemblies.models import Assembly, Position, Stay
from fleet.models import HourReading, Machine, TrailEntry
from scheduling.models import Inspection
from tests import factories as make

from .yard import outcomes, take_in_file

pytestmark = pytest.mark.django_db
FOLDER = Path(__file__).parents[4] / "fixtures" / "imports"
HEAD = ["Machine", "Position", "Tag", "Size", "Length mm", "Fitted", "Store", "Note"]


def workbook(rows: Sequence[Sequence[Any]], merged: Sequence[str] = ()) -> bytes:
    book = openpyxl.Workbook()
    for row in rows:
        book.active.append(list(row))
    for block in merged:
        book.active.merge_cells(block)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def standing() -> list[Any]:
    """Everything an import may have touched."""
    models = (Assembly, Position, Stay, Machine, HourReading, Inspection)
    return [list(model.objects.order_by("pk").values()) for model in models]


def a_row(luck: random.Random) -> list[Any]:
    machine = luck.choice(["EX-07", "ex-07", "WL-03", "Кран-1"])
    place, tag = luck.choice(["Boom", "boom ", "Arm"]), luck.choice(["", "", "n/a", *"ABCDE"])
    size = luck.choice(["1/2", "DN12", "", "rubbish"])
    fitted = luck.choice(["", "May 2022", "2021-05-01", "2Q21"])
    length = luck.choice([None, 900, 1200])
    if luck.random() < 0.2:
        return [None, None, tag, size, length, None, luck.choice(["Bin 1", "Bin 2"]), None]
    return [machine, place, tag, size, length, fitted, None, luck.choice([None, "=1+1", "ä"])]


@pytest.mark.parametrize("seed", range(40))
def test_a_random_register_twice_changes_nothing(seed: int) -> None:
    luck = random.Random(seed)
    site = make.site()
    rows = [a_row(luck) for _ in range(luck.randint(1, 25))]
    rows += [["EX-99", "Sure", "SURE", "1/2", 800, None, None, None]]
    content = workbook([HEAD, *rows])
    answers = {"machine.blanks": "blank"}
    first = take_in_file(site, content, "a.xlsx", answers, take_good_rows=True)
    stood, told = standing(), TrailEntry.objects.count()
    again = take_in_file(site, content, "a.xlsx", answers, take_good_rows=True)
    assert outcomes(again) == outcomes(first).replace("n", "s").replace("c", "s")
    assert standing() == stood
    assert TrailEntry.objects.count() == told


@pytest.mark.parametrize("seed", range(15))
def test_mending_a_refused_row_changes_no_other(seed: int) -> None:
    luck = random.Random(1000 + seed)
    site = make.site()
    rows = [a_row(luck) for _ in range(15)]
    rows = [row for row in rows if row[0]]
    broken = [[*row[:3], "rubbish" if luck.random() < 0.3 else "1/2", *row[4:]] for row in rows]
    broken += [["EX-99", "Sure", "SURE", "1/2", 800, None, None, None]]
    first = outcomes(take_in_file(site, workbook([HEAD, *broken]), "a.xlsx", take_good_rows=True))
    mended = [[*row[:3], "1/2", *row[4:]] for row in broken]
    again = outcomes(take_in_file(site, workbook([HEAD, *mended]), "a.xlsx", take_good_rows=True))
    for before, after in zip(first, again, strict=True):
        assert after == ("s" if before == "n" else after)
        assert (before, after) not in {("r", "c"), ("r", "s")}


def test_merged_machines_twice_change_nothing() -> None:
    rows: list[list[Any]] = [HEAD, ["EX-07", "a", "", "1/2"], [None, "b"], [None, "b"], ["X", "c"]]
    content = workbook(rows, ["A2:A4"])
    site = make.site()
    assert outcomes(take_in_file(site, content, "a.xlsx")) == "nnnn"
    assert outcomes(take_in_file(site, content, "a.xlsx")) == "ssss"


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
    "good_register.xlsx": {},
    "good_register.csv": {},
}


@pytest.mark.parametrize("name", ANSWERS)
def test_the_registers_to_try_twice_change_nothing(name: str) -> None:
    site = make.site()
    first = take_in_file(site, FOLDER / name, name, ANSWERS[name], take_good_rows=True)
    stood = standing()
    again = take_in_file(site, FOLDER / name, name, ANSWERS[name], take_good_rows=True)
    assert (again.counts()["new"], again.counts()["changed"]) == (0, 0)
    assert again.counts()["refused"] == first.counts()["refused"]
    assert standing() == stood


def test_the_good_register_is_the_same_in_both_forms() -> None:
    site = make.site()
    take_in_file(site, FOLDER / "good_register.xlsx", "good_register.xlsx")
    again = take_in_file(site, FOLDER / "good_register.csv", "good_register.csv")
    assert again.counts() == {"new": 0, "changed": 0, "same": 40, "refused": 0, "left_out": 0}
