"""A backup: the database, the files and a list of both with their checksums, in one folder."""

import hashlib
import json
import os
import shutil
import sqlite3
import subprocess
from contextlib import closing
from dataclasses import asdict, dataclass
from pathlib import Path

from django.conf import settings
from django.db import connection
from django.db.migrations.loader import MigrationLoader

from .steps import Halt

MANIFEST = "manifest.json"
FILES = "files"


@dataclass(frozen=True)
class Manifest:
    """What a backup holds: the kind of database, its migrations, and each file's SHA-256."""

    vendor: str
    made_at: str
    migrations: list[str]
    sha256: dict[str, str]


def write_backup(folder: Path, *, made_at: str) -> Path:
    """Write a backup as a new folder; it has its name only when all of it is on the disk."""
    target = folder / f"layline-{made_at}"
    if target.exists():
        raise Halt(f"{target} exists already.", "wait a second, then run the same command again")
    draft = target.with_name(f".{target.name}.part")
    shutil.rmtree(draft, ignore_errors=True)
    draft.mkdir(parents=True)
    dump = _dump_sqlite if connection.vendor == "sqlite" else _dump_postgresql
    dump(draft / _database_name(connection.vendor))
    if settings.MEDIA_ROOT.exists():
        shutil.copytree(settings.MEDIA_ROOT, draft / FILES)
    manifest = Manifest(connection.vendor, made_at, _applied(), _checksums(draft))
    (draft / MANIFEST).write_text(json.dumps(asdict(manifest), indent=1))
    _to_disk(draft)
    draft.rename(target)
    _sync(folder)
    return target


def read_manifest(backup: Path) -> Manifest:
    """The manifest, once every file has shown to be the one that was written."""
    try:
        manifest = Manifest(**json.loads((backup / MANIFEST).read_text()))
    except (OSError, ValueError, TypeError) as error:
        mend = "name the folder that manage.py backup printed"
        raise Halt(f"{backup} is no backup of Layline.", mend) from error
    found = _checksums(backup)
    differing = sorted(set(found.items()) ^ set(manifest.sha256.items()))
    if differing:
        names = ", ".join(sorted({name for name, _ in differing}))
        raise Halt(f"The backup is damaged: {names}.", "use an earlier backup")
    return manifest


def restore_backup(backup: Path) -> Manifest:
    """Put a backup into an empty installation. Refuses a damaged, foreign or newer one."""
    manifest = read_manifest(backup)
    if manifest.vendor != connection.vendor:
        kinds = f"The backup is of {manifest.vendor}, this installation is {connection.vendor}."
        raise Halt(kinds, "set DATABASE_URL to a database of that kind")
    unknown = sorted(set(manifest.migrations) - _known())
    if unknown:
        raise Halt(f"The backup is of a newer Layline ({unknown[0]}).", "update Layline first")
    settings.DATA_DIR.mkdir(parents=True, exist_ok=True)
    if connection.introspection.table_names() or _has_files():
        raise Halt("This installation is not empty.", "name an empty DATA_DIR or DATABASE_URL")
    load = _load_sqlite if connection.vendor == "sqlite" else _load_postgresql
    load(backup / _database_name(connection.vendor))
    if (backup / FILES).exists():
        shutil.copytree(backup / FILES, settings.MEDIA_ROOT, dirs_exist_ok=True)
    return manifest


def _database_name(vendor: str) -> str:
    return "database.sqlite3" if vendor == "sqlite" else "database.pgdump"


def _dump_sqlite(path: Path) -> None:
    """By SQLite's own backup: a copy of the file alone would miss what is still in the log."""
    connection.ensure_connection()
    with closing(sqlite3.connect(path)) as copy:
        connection.connection.backup(copy)
        copy.execute("PRAGMA journal_mode=DELETE")
        (verdict,) = copy.execute("PRAGMA integrity_check").fetchone()
    if verdict != "ok":
        raise Halt(f"The database is damaged: {verdict}.", "manage.py verify")


def _load_sqlite(path: Path) -> None:
    connection.close()
    target = Path(connection.settings_dict["NAME"])
    target.parent.mkdir(parents=True, exist_ok=True)
    for leftover in (target, *(target.with_name(target.name + end) for end in ("-wal", "-shm"))):
        leftover.unlink(missing_ok=True)
    shutil.copyfile(path, target)


def _dump_postgresql(path: Path) -> None:
    _postgresql("pg_dump", "--format=custom", "--no-owner", f"--file={path}")


def _load_postgresql(path: Path) -> None:
    connection.close()
    _postgresql("pg_restore", "--exit-on-error", "--no-owner", "--single-transaction", str(path))


def _postgresql(command: str, *arguments: str) -> None:
    """Run one of PostgreSQL's own programs on our database; the password is not on its line."""
    told = connection.settings_dict
    place = {"PGHOST": told["HOST"], "PGPORT": str(told["PORT"] or ""), "PGUSER": told["USER"]}
    secret = {"PGPASSWORD": told["PASSWORD"] or "", "PGDATABASE": told["NAME"]}
    given = {name: value for name, value in {**place, **secret}.items() if value}
    into = ["--dbname", told["NAME"]] if command == "pg_restore" else []
    try:
        answer = subprocess.run(
            [command, *into, *arguments],
            env={**os.environ, **given},
            capture_output=True,
            text=True,
            check=False,
        )
    except FileNotFoundError as error:
        mend = "sudo apt-get install postgresql-client"
        raise Halt(f"There is no {command} here.", mend) from error
    if answer.returncode:
        raise Halt(
            f"{command} failed: {answer.stderr.strip()}", "put that right, then run it again"
        )


def _applied() -> list[str]:
    return sorted(f"{app}.{name}" for app, name in MigrationLoader(connection).applied_migrations)


def _known() -> set[str]:
    return {f"{app}.{name}" for app, name in MigrationLoader(None).disk_migrations}


def _has_files() -> bool:
    return settings.MEDIA_ROOT.exists() and any(settings.MEDIA_ROOT.iterdir())


def _checksums(folder: Path) -> dict[str, str]:
    files = sorted(path for path in folder.rglob("*") if path.is_file() and path.name != MANIFEST)
    return {str(path.relative_to(folder)): _sha256(path) for path in files}


def _sha256(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _to_disk(folder: Path) -> None:
    for path in [*folder.rglob("*"), folder]:
        _sync(path)


def _sync(path: Path) -> None:
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
