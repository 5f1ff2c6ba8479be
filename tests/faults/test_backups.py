"""A backup that was never restored is none: here each is, on both kinds of database."""

import json
import os
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import psycopg
import pytest
from django.test import override_settings

from fleet.config.backups import restore_backup
from fleet.config.steps import Halt
from tests.faults.conftest import Installation, environment_of

SERVER = os.environ.get("TEST_DATABASE_URL", "")


@pytest.fixture
def kept(embedded: Installation) -> Installation:
    """An installation with a site, a person, an entry on the trail and a file."""
    give = (
        "import django; django.setup(); from tests import factories as f; "
        "f.person('planner', at=f.site(name='Kept Yard'), username='keeper')"
    )
    answer = embedded.run("-c", give)
    assert answer.returncode == 0, answer.stderr
    (embedded.folder / "files").mkdir()
    (embedded.folder / "files" / "photo").write_bytes(b"\x89PNG")
    return embedded


def back_up(installation: Installation, folder: Path) -> Path:
    answer = installation.run("manage.py", "backup", str(folder))
    assert answer.returncode == 0, answer.stderr
    return Path(answer.stdout.split("Backup written: ")[1].strip())


def emptied(folder: Path, **more: str) -> Installation:
    return Installation(folder, environment_of(folder, **more))


@pytest.mark.sqlite
def test_what_was_kept_comes_back_and_holds(kept: Installation, tmp_path: Path) -> None:
    backup = back_up(kept, tmp_path / "backups")
    new = emptied(tmp_path / "new")
    answer = new.run("manage.py", "restore", str(backup))
    assert answer.returncode == 0, answer.stdout + answer.stderr
    assert "All of it holds." in answer.stdout
    assert (new.folder / "files" / "photo").read_bytes() == b"\x89PNG"
    assert rows(new.folder) == rows(kept.folder)


def rows(folder: Path) -> list[list[object]]:
    tables = ("fleet_site", "fleet_person", "fleet_posting", "fleet_trailentry")
    with closing(sqlite3.connect(folder / "layline.sqlite3")) as database:
        return [database.execute(f"SELECT * FROM {table}").fetchall() for table in tables]


@pytest.mark.sqlite
def test_a_backup_holds_what_is_still_in_the_log(kept: Installation, tmp_path: Path) -> None:
    """The last commits of a database in use are not in its file yet; a plain copy loses them."""
    with closing(sqlite3.connect(kept.folder / "layline.sqlite3")) as in_use:
        in_use.execute("PRAGMA wal_autocheckpoint=0")
        in_use.execute("UPDATE fleet_site SET name = 'Renamed Yard'")
        in_use.commit()
        backup = back_up(kept, tmp_path / "backups")
    with closing(sqlite3.connect(backup / "database.sqlite3")) as copy:
        assert copy.execute("SELECT name FROM fleet_site").fetchall() == [("Renamed Yard",)]


@pytest.fixture(scope="module")
def sound(migrated: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A backup of an installation without rows, with one file."""
    folder = tmp_path_factory.mktemp("sound")
    shutil.copytree(migrated, folder / "var")
    (folder / "var" / "files").mkdir()
    (folder / "var" / "files" / "photo").write_bytes(b"\x89PNG")
    return back_up(Installation(folder / "var", environment_of(folder / "var")), folder)


@pytest.mark.sqlite
@pytest.mark.parametrize(
    ("damage", "said"),
    [
        ("a byte", r"The backup is damaged: database\.sqlite3\."),
        ("a file gone", r"The backup is damaged: files/photo\."),
        ("a file more", r"The backup is damaged: extra\."),
        ("no manifest", r"is no backup of Layline\."),
        ("newer", r"The backup is of a newer Layline \(fleet\.9999_later\)"),
        ("another kind", r"The backup is of postgresql, this installation is sqlite\."),
    ],
)
def test_a_backup_that_is_not_right_is_refused(
    damage: str, said: str, sound: Path, tmp_path: Path
) -> None:
    backup = tmp_path / "backup"
    shutil.copytree(sound, backup)
    spoil(backup, damage)
    with override_settings(MEDIA_ROOT=tmp_path / "files"), pytest.raises(Halt, match=said):
        restore_backup(backup)
    assert not (tmp_path / "files").exists()


def spoil(backup: Path, damage: str) -> None:
    manifest = backup / "manifest.json"
    told = json.loads(manifest.read_text())
    if damage == "a byte":
        with (backup / "database.sqlite3").open("r+b") as file:
            file.seek(5000)
            file.write(b"\xff")
    elif damage == "a file gone":
        (backup / "files" / "photo").unlink()
    elif damage == "a file more":
        (backup / "extra").touch()
    elif damage == "no manifest":
        manifest.unlink()
    elif damage == "newer":
        manifest.write_text(
            json.dumps({**told, "migrations": [*told["migrations"], "fleet.9999_later"]})
        )
    else:
        manifest.write_text(json.dumps({**told, "vendor": "postgresql"}))


@pytest.mark.sqlite
def test_nothing_is_written_over_what_stands(kept: Installation, tmp_path: Path) -> None:
    backup = back_up(kept, tmp_path / "backups")
    before = rows(kept.folder)
    answer = kept.run("manage.py", "restore", str(backup))
    assert answer.returncode != 0
    assert "This installation is not empty." in answer.stderr
    assert rows(kept.folder) == before


@pytest.mark.sqlite
def test_a_backup_cut_short_has_no_name(kept: Installation, tmp_path: Path) -> None:
    folder = tmp_path / "backups"
    (folder / ".layline-2026-01-01-000000.part").mkdir(parents=True)
    backup = back_up(kept, folder)
    assert [path.name for path in folder.iterdir() if path.name[0] != "."] == [backup.name]


@pytest.fixture
def two_databases() -> Iterator[tuple[str, str]]:
    """Two empty databases of the test's own on the server."""
    stem = SERVER.rsplit("/", 1)[0]
    names = [f"layline_backup_{side}_{os.getpid()}" for side in ("from", "to")]
    with psycopg.connect(SERVER, autocommit=True) as server:
        for name in names:
            server.execute(f"CREATE DATABASE {name}".encode())
        yield f"{stem}/{names[0]}", f"{stem}/{names[1]}"
        for name in names:
            server.execute(f"DROP DATABASE {name} WITH (FORCE)".encode())


@pytest.mark.postgres
@pytest.mark.skipif(bool(SERVER) and not shutil.which("pg_dump"), reason="no pg_dump here")
def test_what_was_kept_on_a_server_comes_back_and_holds(
    two_databases: tuple[str, str], tmp_path: Path
) -> None:
    old = emptied(tmp_path / "old", DATABASE_URL=two_databases[0])
    assert old.run("manage.py", "migrate").returncode == 0
    give = "import django; django.setup(); from tests import factories as f; f.person('planner')"
    assert old.run("-c", give).returncode == 0
    backup = back_up(old, tmp_path / "backups")
    new = emptied(tmp_path / "new", DATABASE_URL=two_databases[1])
    answer = new.run("manage.py", "restore", str(backup))
    assert answer.returncode == 0, answer.stdout + answer.stderr
    assert "All of it holds." in answer.stdout
    with psycopg.connect(two_databases[1]) as restored:
        assert restored.execute("SELECT count(*) FROM fleet_posting").fetchone() == (1,)
