"""The demo's start, as `make demo` runs it: once, again, afresh, and with a step that fails."""

import csv
import datetime as dt
import shutil
from collections.abc import Iterator
from http.cookies import SimpleCookie
from pathlib import Path
from urllib.parse import urlencode

import pytest
from django.test import override_settings

from fleet.config.lock import hold
from fleet.config.management.commands import demo
from fleet.config.steps import Halt
from tests.faults.conftest import Installation, environment_of
from tests.faults.test_serving import serve, talk

pytestmark = pytest.mark.sqlite  # the embedded set-up, whatever other database is at hand
STEPS = [
    "secret key",
    "database",
    "Blackmere Aggregates",
    "dues",
    "due lists",
    "build sheets",
    "page files",
]
DAY = dt.datetime(2026, 11, 25, 9, 30, tzinfo=dt.UTC)


@pytest.fixture(scope="module")
def first(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Installation, str]]:
    """An installation after its first start, and what that printed."""
    folder = tmp_path_factory.mktemp("demo") / "var"
    real = {"DJANGO_SETTINGS_MODULE": "fleet.config.settings", "SECRET_KEY": ""}
    made = Installation(folder, environment_of(folder, **real))
    answer = made.run("manage.py", "demo", "--no-serve")
    assert answer.returncode == 0, answer.stdout + answer.stderr
    yield made, answer.stdout
    made.kill_all()


@pytest.mark.timeout(600)
def test_the_first_start_prints_a_line_for_each_step_with_its_time(
    first: tuple[Installation, str],
) -> None:
    lines = [line for line in first[1].splitlines() if line.endswith(" s")]
    assert [next(name for name in STEPS if line.startswith(name)) for line in lines] == STEPS
    assert "made" in lines[1]
    assert "loaded: Blackmere Quarry, Staithe Wharf" in lines[2]


def test_the_first_start_writes_the_due_lists_of_both_sites_and_names_the_folder(
    first: tuple[Installation, str],
) -> None:
    folder = first[0].folder / "due-lists"
    assert f"are in {folder}/" in first[1]
    written = sorted(path.name[:6] + path.suffix for path in folder.glob("due-*"))
    assert written == ["due-BQ.csv", "due-BQ.pdf", "due-SW.csv", "due-SW.pdf"]
    for path in folder.glob("*.csv"):
        with path.open(newline="", encoding="utf-8-sig") as file:
            assert len(list(csv.reader(file))) > 100
    assert len(list(folder.glob("sheet-BQ-*.pdf"))) == len(list(folder.glob("sheet-SW-*.pdf"))) == 5
    assert all(path.read_bytes().startswith(b"%PDF") for path in folder.glob("*.pdf"))


def test_the_first_start_keeps_a_key_of_its_own(first: tuple[Installation, str]) -> None:
    assert len((first[0].folder / "secret-key").read_text()) > 50


def test_what_the_first_start_left_holds_in_every_way(first: tuple[Installation, str]) -> None:
    answer = first[0].run("manage.py", "verify")
    assert answer.returncode == 0, answer.stdout
    assert first[0].run("manage.py", "refresh_dues", "--check").returncode == 0


def test_a_second_start_uses_what_stands_and_says_how_to_start_afresh(
    first: tuple[Installation, str],
) -> None:
    answer = first[0].run("manage.py", "demo", "--no-serve")
    assert answer.returncode == 0
    assert "stands, used again: Blackmere Quarry, Staithe Wharf" in answer.stdout
    assert "To start afresh: make fresh" in answer.stdout


def test_a_step_that_fails_fails_the_start(first: tuple[Installation, str]) -> None:
    lists = first[0].folder / "due-lists"
    shutil.move(lists, lists.with_name("kept"))
    lists.write_text("a file where the folder should be")
    answer = first[0].run("manage.py", "demo", "--no-serve")
    lists.unlink()
    shutil.move(lists.with_name("kept"), lists)
    assert answer.returncode != 0
    assert "due lists              FAILED" in answer.stdout


def test_the_printed_log_ins_open_the_door_on_this_machine(
    first: tuple[Installation, str],
) -> None:
    printed = first[1].split("role):")[1].splitlines()
    name, password, _ = next(line for line in printed if line.strip()).split(maxsplit=2)
    _, port = serve(first[0])
    assert log_in(port, name, password) == 302
    assert log_in(port, name, password, **{"X-Forwarded-For": "192.0.2.9"}) == 200
    assert log_in(port, name, "another") == 200


def log_in(port: int, name: str, password: str, **headers: str) -> int:
    """The status of the answer to a log-in: 302 is in, 200 is the page again."""
    _, page, cookies = talk(port, "GET", "/login/")
    token = page.split('name="csrfmiddlewaretoken" value="')[1].split('"')[0]
    jar = SimpleCookie(cookies)
    sent = "; ".join(f"{morsel.key}={morsel.value}" for morsel in jar.values())
    form = {"username": name, "password": password, "csrfmiddlewaretoken": token}
    kind = {"Content-Type": "application/x-www-form-urlencoded", "Cookie": sent}
    return talk(port, "POST", "/login/", urlencode(form), {**kind, **headers})[0]


def test_without_the_database_server_the_start_says_so(tmp_path: Path) -> None:
    away = environment_of(tmp_path, DATABASE_URL="postgres://me@127.0.0.1:9/layline")
    answer = Installation(tmp_path, away).run("manage.py", "demo", "--no-serve")
    assert answer.returncode != 0
    assert "The database does not answer" in answer.stderr
    assert "Mend it with:" in answer.stderr
    assert "Traceback" not in answer.stderr


@pytest.mark.django_db
def test_starting_afresh_sets_everything_aside_and_deletes_nothing(tmp_path: Path) -> None:
    for name in ("layline.sqlite3", "layline.sqlite3-wal", "secret-key"):
        (tmp_path / name).write_text(name)
    (tmp_path / "due-lists").mkdir()
    with override_settings(DATA_DIR=tmp_path):
        note = demo._set_aside(DAY)
    aside = tmp_path / "set-aside" / "2026-11-25-093000"
    assert str(aside) in note
    kept = {path.name for path in aside.iterdir()}
    assert kept == {"layline.sqlite3", "layline.sqlite3-wal", "due-lists"}
    assert (tmp_path / "secret-key").exists()


@pytest.mark.django_db
def test_starting_afresh_under_a_running_server_is_refused(tmp_path: Path) -> None:
    (tmp_path / "layline.sqlite3").write_text("in use")
    refused = pytest.raises(Halt, match="Layline is serving this data")
    with override_settings(DATA_DIR=tmp_path), hold(tmp_path / "serving"), refused:
        demo._set_aside(DAY)
    assert (tmp_path / "layline.sqlite3").exists()
