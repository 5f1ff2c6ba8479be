"""How fast a register is imported, beside the floor of the database, paired in one run.

`BENCH_ROWS` (100,000 rows of CSV, a fifth as many of XLSX) and `BENCH_ROUNDS` (3) set its size.
An import goes from the bytes of the file to the commit: opened, guarded, read, set against the
register, written with its trail. The floor is the bare write of the same finished rows into the
same tables with all their indexes, the trail's among them, as the database takes them fastest.
"""

import datetime as dt
import os
import random
import statistics
import sys
import time
from collections.abc import Callable, Iterator
from itertools import islice
from typing import Any

from django.apps import apps
from django.db import connection, models, transaction

from assemblies.actions.register.importing import Given, open_register, read_rows, write_rows
from assemblies.actions.register.writing import Import
from fleet.models import Site
from fleet.models.seals import install_seals, remove_seals
from fleet.tabular import write_xlsx
from scheduling.models import StaleMark
from tests.benchmarks.alone import in_a_process_of_its_own, peak_memory

NOW = dt.datetime(2026, 3, 9, 8, 0, tzinfo=dt.UTC)
HEAD = (
    *("Tag", "Machine", "Machine class", "Position", "Circuit", "Hose type", "Size", "Length mm"),
    *("WP bar", "End A", "End B", "Hose made", "Fitted", "Hours at fitting", "Consequence"),
    *("Last inspected", "Note"),
)
HOSES_A_MACHINE = 50
Rows = list[tuple[Any, ...]]


def main() -> None:
    rows = int(os.environ.get("BENCH_ROWS", "100000"))
    if os.environ.get("BENCH_ALONE"):
        _import(_csv(rows), "register.csv")
        _say(peak_memory())
        return
    rounds = int(os.environ.get("BENCH_ROUNDS", "3"))
    _compare("CSV", _csv(rows), "register.csv", rows, rounds)
    few = max(rows // 5, 1)
    _compare("XLSX", write_xlsx(_register(few)), "register.xlsx", few, rounds)
    name = f"peak memory of a process that imports {rows:,}"
    _say(f"{name:42}{in_a_process_of_its_own('bench_import'):>10}")


def _compare(kind: str, content: bytes, name: str, rows: int, rounds: int) -> None:
    _say(
        f"{kind}: {rows:,} rows, {len(HEAD)} columns, {len(content) / 1e6:.1f} MB, {rounds} rounds"
    )
    _empty()
    _timed(lambda: _import(content, name))
    finished = _finished_rows()
    whole: list[float] = []
    floor: list[float] = []
    for turn in range(rounds):
        for measure_floor in (turn % 2 == 0, turn % 2 == 1):
            _empty()
            if measure_floor:
                floor.append(_timed(lambda: _write_bare(finished)))
            else:
                whole.append(_timed(lambda: _import(content, name)))
    again = _timed(lambda: _import(content, name)) if turn % 2 == 0 else None
    tables = sum(len(found) for _, _, found in finished)
    ratio = statistics.median(w / f for w, f in zip(whole, floor, strict=True))
    _say(_line(f"floor: {tables:,} finished rows, indexed", rows, floor))
    _say(_line("import, from bytes to commit", rows, whole, f"{ratio:.2f} x floor"))
    if again is not None:
        _say(_line("the same file again, nothing changed", rows, [again]))


def _import(content: bytes, name: str) -> None:
    site, _ = Site.objects.get_or_create(code="B", defaults={"name": "Bench"})
    opened = open_register(Given(content, name))
    read = read_rows(opened, answers={}, today=NOW.date())
    if read.questions:
        raise RuntimeError("The register of the benchmark must leave nothing open.")
    write_rows(rows=read.rows, into=Import(site, None, NOW, NOW.date(), name))


def _finished_rows() -> list[tuple[type[models.Model], list[str], Rows]]:
    """Every row that the import wrote, as the tables hold it, parents before children."""
    found = []
    for model in _tables():
        columns = [str(field.column) for field in model._meta.concrete_fields]
        names = ", ".join(f'"{column}"' for column in columns)
        with connection.cursor() as cursor:
            cursor.execute(f'SELECT {names} FROM "{model._meta.db_table}"')
            rows = [tuple(map(_plain, row)) for row in cursor.fetchall()]
        if rows:
            found.append((model, columns, rows))
    return found


def _plain(value: Any) -> Any:
    import json

    return json.dumps(value, ensure_ascii=False) if isinstance(value, dict | list) else value


def _write_bare(finished: list[tuple[type[models.Model], list[str], Rows]]) -> None:
    with transaction.atomic(), connection.cursor() as cursor:
        for model, columns, rows in finished:
            names = ", ".join(f'"{column}"' for column in columns)
            table = model._meta.db_table
            if connection.vendor == "postgresql":
                with cursor.copy(f'COPY "{table}" ({names}) FROM STDIN') as copy:
                    for row in rows:
                        copy.write_row(row)
            else:
                marks = ", ".join(["%s"] * len(columns))
                cursor.executemany(f'INSERT INTO "{table}" ({names}) VALUES ({marks})', rows)


def _tables() -> list[type[models.Model]]:
    """The tables of the three apps that an import writes to, parents before children."""
    names = (
        *("fleet.Site", "fleet.MachineClass", "fleet.Machine", "fleet.SiteSpell"),
        *("fleet.HourMeter", "fleet.Usage", "assemblies.Position", "assemblies.Assembly"),
        *("assemblies.Stay", "scheduling.Inspection", "fleet.TrailEntry"),
    )
    return [*(apps.get_model(name) for name in names), StaleMark]


def _empty() -> None:
    """Both sides begin with empty tables."""
    tables = [model._meta.db_table for model in _tables()]
    remove_seals(using="default")
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(f"TRUNCATE {', '.join(tables)} RESTART IDENTITY CASCADE")
        else:
            for table in reversed(tables):
                cursor.execute(f'DELETE FROM "{table}"')
    install_seals(using="default")


def _csv(rows: int) -> bytes:
    lines = (",".join("" if v is None else str(v) for v in row) for row in _register(rows))
    return "\n".join(lines).encode()


def _register(rows: int) -> Iterator[tuple[Any, ...]]:
    yield HEAD
    yield from islice(_hoses(), rows)


def _hoses() -> Iterator[tuple[Any, ...]]:
    luck = random.Random(20_260_309)
    number = 0
    while True:
        machine, place = divmod(number, HOSES_A_MACHINE)
        built = dt.date(2019, 1, 1) + dt.timedelta(days=luck.randrange(1500))
        yield (
            *(f"BQ-{number:06}", f"EX-{machine:04}", ("Excavator", "Loader")[machine % 2]),
            *(f"Place {place}", ("boom", "steering", "travel")[number % 3]),
            *(("2SN", "4SP", "1SN")[number % 3], ("1/2", '3/4"', "DN16")[number % 3].strip('"')),
            *(luck.randrange(300, 3000), (275, 350, 160)[number % 3], "24° cone", "24° cone 90°"),
            *(f"{number % 4 + 1}Q18", built, luck.randrange(100, 20_000), "stops"),
            dt.date(2025, 1, 1) + dt.timedelta(days=luck.randrange(300)),
            f"seen by {number}" if number % 7 == 0 else None,
        )
        number += 1


def _timed(call: Callable[[], Any]) -> float:
    start = time.perf_counter()
    call()
    return time.perf_counter() - start


def _line(name: str, rows: int, seconds: list[float], note: str = "") -> str:
    middle = statistics.median(seconds)
    return f"{name:42}{middle:10.3f} s {rows / middle:12,.0f} /s  {note}"


def _say(text: str) -> None:
    sys.stdout.write(f"{text}\n")
    sys.stdout.flush()
