"""The big register of a benchmark, made once and kept: a file on SQLite, a database on PostgreSQL.

It is made anew where the tables or the way it is filled have changed since.
"""

import hashlib
import sys
import time
from pathlib import Path

from django.apps import apps
from django.db import connection

from tests.benchmarks import big_register

_APPS = ("fleet", "assemblies", "scheduling")
_STAMP = "bench_stamp"


def open_register(hoses: int, folder: Path) -> None:
    """Make the register of so many hoses the database of this process, filling it where needed."""
    folder.mkdir(parents=True, exist_ok=True)
    file = folder / f"register-{hoses}.sqlite3"
    name = str(file) if connection.vendor == "sqlite" else f"layline_bench_{hoses}"
    connection.settings_dict["TEST"]["NAME"] = name
    wanted = stamp()
    connection.creation.create_test_db(verbosity=0, keepdb=True, serialize=False)
    if _found() == wanted:
        return
    _throw_away(file, name)
    connection.creation.create_test_db(verbosity=0, keepdb=True, serialize=False)
    began = time.perf_counter()
    with _careless():
        big_register.fill(hoses)
    _sign(wanted)
    sys.stdout.write(f"made a register of {hoses:,} in {time.perf_counter() - began:.0f} s\n")


def stamp() -> str:
    """A digest of every column, index and constraint, and of the filling itself."""
    told = [Path(big_register.__file__).read_text()]
    for label in _APPS:
        for model in apps.get_app_config(label).get_models():
            columns = [f"{f.column} {f.db_type(connection)}" for f in model._meta.concrete_fields]
            rules = [repr(rule.deconstruct()) for rule in model._meta.constraints]
            indexes = [repr(index.deconstruct()) for index in model._meta.indexes]
            told.append(f"{model._meta.db_table}: {columns} {rules} {indexes}")
    return hashlib.sha256("\n".join(told).encode()).hexdigest()


def _found() -> str:
    if _STAMP not in connection.introspection.table_names():
        return ""
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT stamp FROM {_STAMP}")
        row = cursor.fetchone()
    return str(row[0]) if row else ""


def _sign(stamp: str) -> None:
    with connection.cursor() as cursor:
        cursor.execute(f"CREATE TABLE {_STAMP} (stamp text)")
        cursor.execute(f"INSERT INTO {_STAMP} VALUES (%s)", [stamp])


def _throw_away(file: Path, name: str) -> None:
    """Drop what this module made before, and nothing else."""
    connection.close()
    if connection.vendor == "sqlite":
        for end in ("", "-wal", "-shm"):
            Path(f"{file}{end}").unlink(missing_ok=True)
        return
    with connection._nodb_cursor() as cursor:
        cursor.execute(f'DROP DATABASE IF EXISTS "{name}"')


class _careless:  # noqa: N801  # reads as a word of the with statement
    """While it is filled, nothing waits for the disk: what is lost is made anew."""

    def __enter__(self) -> None:
        self._set("OFF", "off")

    def __exit__(self, *_: object) -> None:
        self._set("FULL", "on")

    def _set(self, sqlite: str, postgresql: str) -> None:
        with connection.cursor() as cursor:
            if connection.vendor == "sqlite":
                cursor.execute(f"PRAGMA synchronous={sqlite}")
                cursor.execute(f"PRAGMA cache_size={-400_000 if sqlite == 'OFF' else -2000}")
            else:
                cursor.execute(f"SET synchronous_commit = {postgresql}")
