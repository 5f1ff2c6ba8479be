"""`manage.py import_register`: what it says, what it writes, how it exits."""

import json
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command

from assemblies.models import Assembly, ColumnMemory, RegisterFile
from fleet.models import Machine, TrailEntry
from fleet.tabular import open_table
from tests import factories as make

pytestmark = pytest.mark.django_db
FOLDER = Path(__file__).parents[4] / "fixtures" / "imports"


def run(path: Path, *options: str) -> tuple[dict[str, Any], int]:
    """The JSON answer and the exit code."""
    out, code = StringIO(), 0
    try:
        call_command("import_register", str(path), "--site", "BQ", "--json", *options, stdout=out)
    except SystemExit as left:
        code = int(left.code or 0)
    return json.loads(out.getvalue()), code


@pytest.fixture(autouse=True)
def quarry() -> None:
    make.site(code="BQ", name="Blackmere Quarry")


def test_writes_a_good_register_and_the_second_time_nothing() -> None:
    said, code = run(FOLDER / "good_register.xlsx")
    assert (said["counts"]["new"], said["written"], code) == (40, True, 0)
    again, code = run(FOLDER / "good_register.csv")
    assert (again["counts"]["new"], again["counts"]["changed"], code) == (0, 0, 0)
    assert Assembly.objects.count() == 40


def test_a_dry_run_writes_nothing() -> None:
    said, code = run(FOLDER / "good_register.xlsx", "--dry-run")
    assert (said["counts"]["new"], said["written"], code) == (40, False, 0)
    assert not Assembly.objects.exists()
    assert not RegisterFile.objects.exists()


def test_asks_what_reads_more_than_one_way_and_exits_with_two() -> None:
    said, code = run(FOLDER / "messy_register.csv")
    assert code == 2
    assert {question["key"] for question in said["questions"]} == {
        *("size.notation", "machine.blanks", "fitted.order", "length.unit"),
        "fitted_hours.decimal",
    }
    assert not Machine.objects.exists()


MESSY = (
    *("--answer", "size=dn", "--answer", "machine=above", "--answer", "fitted=dmy"),
    *("--answer", "length=mm", "--answer", "length=thousands"),
    *("--answer", "BH bei Einbau=thousands"),
)


def test_takes_answers_by_field_or_by_the_columns_own_name() -> None:
    said, code = run(FOLDER / "messy_register.csv", *MESSY, "--dry-run")
    assert (said["questions"], code) == ([], 0)
    assert said["answers"]["fitted_hours.decimal"] == "thousands"


def test_is_all_or_nothing_unless_the_good_rows_are_asked_for() -> None:
    said, code = run(FOLDER / "messy_register.csv", *MESSY)
    assert (said["refusal"]["code"], said["written"], code) == ("rows_refused", False, 1)
    assert not Assembly.objects.exists()
    said, code = run(FOLDER / "messy_register.csv", *MESSY, "--take-good-rows")
    assert (said["written"], code) == (True, 0)
    assert said["counts"]["new"] == Assembly.objects.count() == 10


def test_names_the_cell_the_finding_and_the_reason_of_each_refusal() -> None:
    said, _ = run(FOLDER / "messy_register.csv", *MESSY, "--dry-run")
    assert said["refused"][0]["refusals"] == [
        {
            "cell": "row 9",
            "header": "",
            "found": "",
            "reason": "Row 8 has the tag S-004 already: one hose, one tag.",
        }
    ]
    assert said["refused"][1]["refusals"][0] == {
        "cell": "K14",
        "header": "eingebaut am",
        "found": "30/02/2023",
        "reason": "“30/02/2023”: February 2023 has 28 days, not 30.",
    }


@pytest.mark.parametrize("ending", ["csv", "xlsx"])
def test_writes_the_refused_rows_to_a_file_that_can_be_mended_and_sent(
    ending: str, tmp_path: Path
) -> None:
    path = tmp_path / f"refused.{ending}"
    run(FOLDER / "messy_register.csv", *MESSY, "--take-good-rows", "--refused", str(path))
    rows = list(open_table(path, name=path.name).rows())
    texts = [[cell.text for cell in row.cells] for row in rows]
    assert texts[0][0] == "Gerät"
    assert texts[0][-1] == "Why it was refused"
    assert texts[2][:3] == ["WT-09", "Monitor, schwenken", "S-012"]
    assert texts[2][-1].startswith("K14: “30/02/2023”")
    said, _ = run(path, *MESSY, "--dry-run")
    assert said["counts"]["refused"] == len(texts) - 1


def test_columns_are_chosen_by_hand_and_remembered(tmp_path: Path) -> None:
    path = tmp_path / "own.csv"
    path.write_text("Ding,Stelle,Zeichen,Size\nEX-07,Boom,H1,1/2\n")
    chosen = ("--column", "machine=Ding", "--column", "place=B", "--column", "tag=Zeichen")
    said, code = run(path, *chosen, "--header-row", "1")
    assert (said["counts"]["new"], code) == (1, 0)
    assert ColumnMemory.objects.get().columns["machine"] == ["Ding"]


@pytest.mark.parametrize("path", sorted((FOLDER / "refused").iterdir()), ids=lambda path: path.name)
def test_refuses_hostile_files_with_a_sentence(path: Path) -> None:
    said, code = run(path)
    assert code == 1
    assert said["refusal"]["sentence"].endswith((".", "first."))


def test_says_what_is_wrong_with_the_command() -> None:
    with pytest.raises(CommandError, match="The sites are: BQ"):
        call_command("import_register", str(FOLDER / "good_register.csv"), "--site", "XX")
    with pytest.raises(CommandError, match="There is no file"):
        call_command("import_register", "nowhere.csv", "--site", "BQ")
    with pytest.raises(CommandError, match="has no “=”"):
        call_command(
            "import_register", str(FOLDER / "good_register.csv"), "--site", "BQ", "--answer", "x"
        )


def test_asks_for_the_letters_of_a_file_that_does_not_say() -> None:
    said, code = run(FOLDER / "messy_western.csv")
    assert (said["refusal"]["code"], code) == ("encoding", 1)
    said, code = run(FOLDER / "messy_western.csv", "--encoding", "cp1252")
    assert (said["counts"]["new"], code) == (2, 0)


def test_tells_in_words_too() -> None:
    out = StringIO()
    path = str(FOLDER / "good_register.csv")
    call_command("import_register", path, "--site", "bq", "--dry-run", stdout=out)
    assert "40 new, 0 changed, 0 same, 0 refused, 0 left out" in out.getvalue()
    assert "A dry run: nothing was written." in out.getvalue()


def test_keeps_the_file_and_tells_the_trail() -> None:
    run(FOLDER / "good_register.csv")
    file = RegisterFile.objects.get()
    assert (file.state, file.name, file.counts["new"]) == ("written", "good_register.csv", 40)
    assert TrailEntry.objects.filter(deed="imported a register").count() == 1
