"""How fast dues are kept, beside the floor of the database, paired in one run.

`BENCH_HOSES` (100,000) and `BENCH_ROUNDS` (5) set its size. The floor is the fastest read known of
the same columns, its rows dropped, and the fastest write known of the same rows, prebuilt, into
the live, indexed table: no computing, no comparing. Only ratios taken in one run mean anything.
"""

import os
import resource
import statistics
import sys
import time
from collections.abc import Callable
from typing import Any
from unittest import mock

from django.db import connection, transaction

from scheduling.actions import due_rows
from scheduling.actions.due_dates import refresh_all, refresh_machines
from scheduling.models import Due
from scheduling.queries import fast_columns

ON_REGISTER = True
SPOIL = "UPDATE scheduling_due SET fingerprint = fingerprint + 1, due_on = due_on + 1 WHERE "


def main() -> None:
    hoses = int(os.environ.get("BENCH_HOSES", "100000"))
    rounds = int(os.environ.get("BENCH_ROUNDS", "5"))
    _say(f"{hoses:,} hoses, {rounds} rounds, medians")
    _say(_line("first run, every row new", hoses, [_timed(refresh_all)]))
    _spoil("1 = 1")
    refresh_all()
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    _say(f"{'peak memory of the process':42}{peak:10,.0f} MB")
    whole = _whole_runs(hoses, rounds)
    _naive(whole, hoses)
    _one_machine()


def _whole_runs(hoses: int, rounds: int) -> float:
    """All rows changed, and one in a hundred, beside the floor; the median of the first."""
    floor = _Floor()
    whole: list[float] = []
    part: list[float] = []
    for turn in range(rounds):
        if turn % 2:
            floor.measure()
        whole.append(_refresh_spoiled("1 = 1"))
        if not turn % 2:
            floor.measure()
        part.append(_refresh_spoiled("assembly_id % 100 = 0"))
    middle = statistics.median(whole)
    ratio = statistics.median(d / f for d, f in zip(whole, floor.seconds, strict=True))
    share = statistics.median(part) / middle
    _say(_line("floor: read, rows dropped", hoses, floor.reading))
    _say(_line("floor: read, and write of the same rows", hoses, floor.seconds))
    _say(_line("full run, every row changed", hoses, whole, f"{ratio:.2f} x floor"))
    _say(_line("full run, 1 row in 100 changed", hoses, part, f"{share:.2f} x every row changed"))
    return middle


class _Floor:
    """The reads and writes of one full run, taken down, and replayed without the work between."""

    def __init__(self) -> None:
        self.reads: list[tuple[str, Any, int]] = []
        self.writes: list[Any] = []
        self.seconds: list[float] = []
        self.reading: list[float] = []
        self.to = due_rows.writers(connection.vendor)
        fetch, change = fast_columns.fetch_raw, self.to.change

        def noted(connection: Any, sql: str, params: Any, width: int) -> Any:
            self.reads.append((sql, params, width))
            return fetch(connection, sql, params, width)

        def written(cursor: Any, rows: Any) -> int:
            self.writes.append(rows)
            return int(change(cursor, rows))

        reading = mock.patch.object(fast_columns, "fetch_raw", noted)
        with reading, mock.patch.object(self.to, "change", written):
            _refresh_spoiled("1 = 1")

    def measure(self) -> None:
        _spoil("1 = 1")
        _tidy()
        reading = _timed(self._read)
        self.reading.append(reading)
        self.seconds.append(reading + sum(map(self._write, self.writes)))

    def _read(self) -> None:
        for sql, params, width in self.reads:
            fast_columns.fetch_raw(connection, sql, params, width)

    def _write(self, rows: Any) -> float:
        prebuilt = self.to.ready(rows)

        def write() -> None:
            with transaction.atomic(), connection.cursor() as cursor:
                if self.to.change_ready(cursor, prebuilt) != len(rows):
                    raise RuntimeError("The floor did not write the rows that it was to write.")

        return _timed(write)


def _naive(whole: float, hoses: int, sample: int = 1000) -> None:
    """The same rows written through the ORM alone, not worked out; a sample, scaled up."""
    rows = list(Due.objects.order_by("pk")[:sample])
    names = [field.name for field in Due._meta.concrete_fields if not field.primary_key]

    def save_each() -> None:
        for row in rows:
            row.save()

    for name, call in (
        ("ORM bulk_update of those rows, scaled up", lambda: Due.objects.bulk_update(rows, names)),
        ("ORM save() of each row, scaled up", save_each),
    ):
        taken = _timed(call) * hoses / len(rows)
        _say(_line(name, hoses, [taken], f"{taken / whole:.0f} x the full run"))


def _one_machine(repeats: int = 100) -> None:
    """One machine's hoses in a request, beside one bare UPDATE of the same rows."""
    ours, bare = [], []
    machines = Due.objects.exclude(machine=None).values_list("machine_id", flat=True).distinct()
    for machine in list(machines[:repeats]):
        bare.append(_timed(lambda m=machine: _spoil(f"machine_id = {m}")) * 1000)  # type: ignore[misc]  # bound at once
        ours.append(_timed(lambda m=machine: refresh_machines(machine_ids=[m])) * 1000)  # type: ignore[misc]  # likewise
    p95 = sorted(ours)[int(len(ours) * 0.95)]
    middle, floor = statistics.median(ours), statistics.median(bare)
    note = f"p95 {p95:.1f} ms, {middle / floor:.1f} x one bare UPDATE of the rows ({floor:.2f} ms)"
    _say(f"{'one machine, 40 hoses, in the request':42}{middle:10.2f} ms  {note}")


def _refresh_spoiled(which: str) -> float:
    _spoil(which)
    _tidy()
    return _timed(refresh_all)


def _tidy() -> None:
    """Both sides begin with a table from which the dead rows are swept."""
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("VACUUM scheduling_due")


def _spoil(which: str) -> None:
    """Make stored dues differ from what they should be."""
    with connection.cursor() as cursor:
        cursor.execute(SPOIL + which)


def _timed(call: Callable[[], Any]) -> float:
    start = time.perf_counter()
    call()
    return time.perf_counter() - start


def _line(name: str, hoses: int, seconds: list[float], note: str = "") -> str:
    middle = statistics.median(seconds)
    return f"{name:42}{middle:10.3f} s {hoses / middle:12,.0f} /s  {note}"


def _say(text: str) -> None:
    sys.stdout.write(f"{text}\n")
    sys.stdout.flush()
