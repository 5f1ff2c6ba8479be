"""How fast dues are kept, beside the floor of the database, paired in one run.

`--size` (100,000 hoses) and `BENCH_ROUNDS` (5) set its size. The floor is the fastest read known of
the same columns, its rows dropped, and the fastest write known of the same rows, prebuilt, into
the live, indexed tables (dues, and the counts kept of them): no computing, no comparing. Only
ratios taken in one run mean anything.

One machine: `refresh` is what a change of one machine runs, as a step of its own: its rules and
inputs read, worked out, its forty dues and their counts written. `marked` is the same with its
stale mark, in one transaction, as a request does it beside its reading. Beside each stands one bare
UPDATE that writes the same forty rows, and one of two of their columns by their machine. Each is
committed to the disk. `first`: a database whose memory is smaller than the register
(`shared_buffers` is 128 MB where nobody set it) must first fetch its pages; `again`: not.
"""

import datetime as dt
import os
import statistics
import sys
import time
from collections.abc import Callable
from functools import partial
from typing import Any
from unittest import mock

import numpy as np
from django.db import connection, transaction

from scheduling.actions import due_rows
from scheduling.actions.due_dates import refresh_all, refresh_machines
from scheduling.actions.due_table import SETTINGS, TABLE, WITH_KEY
from scheduling.actions.nudges import machines_changed
from scheduling.actions.tallies import (
    put_tallies_together,
    recount_tallies,
    tally_rows,
    write_tally,
)
from scheduling.models import Due
from scheduling.queries import fast_columns
from scheduling.queries.due_columns import Some, stored_dues
from tests.benchmarks.alone import in_a_process_of_its_own, peak_memory
from tests.benchmarks.plain_loop import PlainLoop

ON_REGISTER = True
WARM_UP = 10
AT = dt.datetime(2026, 3, 9, 8, tzinfo=dt.UTC)
SPOIL = "UPDATE scheduling_due SET fingerprint = fingerprint + 1, due_on = due_on + 1 WHERE "


def main() -> None:
    if os.environ.get("BENCH_ALONE"):
        refresh_all()
        _say(peak_memory())
        return
    rounds = int(os.environ.get("BENCH_ROUNDS", "5"))
    refresh_all()
    recount_tallies()
    hoses = Due.objects.count()
    _say(f"{hoses:,} hoses, {rounds} rounds, medians")
    _one_machine()
    _spoil("1 = 1")
    _say(f"{'peak memory of a process that does it':42}{in_a_process_of_its_own('bench_dues'):>10}")
    whole = _whole_runs(hoses, rounds)
    _naive(whole, hoses)
    recount_tallies()


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
        self.reads: list[tuple[str, Any]] = []
        self.writes: list[Any] = []
        self.tallies: list[Any] = []
        self.seconds: list[float] = []
        self.reading: list[float] = []
        self.to = due_rows.writers(connection.vendor)
        fetch, change = fast_columns.fetch_raw, self.to.change

        def noted(connection: Any, sql: str, params: Any) -> Any:
            self.reads.append((sql, params))
            return fetch(connection, sql, params)

        def written(cursor: Any, rows: Any) -> int:
            self.writes.append(rows)
            return int(change(cursor, rows))

        def counted(cursor: Any, old: Any, new: Any) -> None:
            self.tallies.append(tally_rows(old, new))
            write_tally(cursor, self.tallies[-1])

        reading = mock.patch.object(fast_columns, "fetch_raw", noted)
        counting = mock.patch.object(due_rows, "tally", counted)
        with reading, counting, mock.patch.object(self.to, "change", written):
            _refresh_spoiled("1 = 1")

    def measure(self) -> None:
        _spoil("1 = 1")
        _tidy()
        reading = _timed(self._read)
        self.reading.append(reading)
        self.seconds.append(reading + sum(map(self._write, self.writes, self.tallies)))

    def _read(self) -> None:
        for sql, params in self.reads:
            fast_columns.fetch_raw(connection, sql, params)

    def _write(self, rows: Any, tally: Any) -> float:
        prebuilt = self.to.ready(rows)

        def write() -> None:
            with transaction.atomic(), connection.cursor() as cursor:
                if self.to.change_ready(cursor, prebuilt) != len(rows):
                    raise RuntimeError("The floor did not write the rows that it was to write.")
                write_tally(cursor, tally)

        return _timed(write)


def _naive(whole: float, hoses: int, sample: int = 1000) -> None:
    """A sample through the ORM, scaled up: its writes alone, and the whole job hose by hose."""
    names = [field.name for field in Due._meta.concrete_fields if not field.primary_key]
    keys = Due.objects.order_by("pk").values_list("pk", flat=True)[:: hoses // sample]
    sampled = Due.objects.filter(pk__in=list(keys)).order_by("pk")
    rows, loop = list(sampled), PlainLoop()
    as_kept = list(sampled.values_list(*names))

    def worked_out() -> list[Due]:
        found = list(sampled)
        for due in found:
            loop.work_out(due)
        return found

    def save_each(found: list[Due]) -> None:
        for due in found:
            due.save()

    for name, call in (
        ("ORM bulk_update, writing alone", lambda: _bulk(rows, names)),
        ("ORM save() of each, writing alone", lambda: save_each(rows)),
        ("ORM loop and bulk_update, the whole job", lambda: _bulk(worked_out(), names)),
        ("ORM loop and save(), the whole job", lambda: save_each(worked_out())),
    ):
        taken = _timed(call) * hoses / len(rows)
        _say(_line(name, hoses, [taken], f"{taken / whole:.0f} x the full run"))
    if list(sampled.values_list(*names)) != as_kept:
        raise RuntimeError("The loop did not come to the days that are kept.")


def _bulk(rows: list[Due], names: list[str]) -> None:
    Due.objects.bulk_update(rows, names, batch_size=500)


def _one_machine(repeats: int = 200) -> None:
    """One machine's hoses in a request, beside the bare UPDATE; asked first, and asked again."""
    machines = Due.objects.exclude(machine=None).values_list("machine_id", flat=True).distinct()
    chosen = list(machines.order_by("machine_id"))
    chosen = chosen[:: max(len(chosen) // repeats, 1)][: repeats + WARM_UP]
    for name, call in (
        ("refresh, first", _refresh_machine),
        ("refresh, again", _refresh_machine),
        ("marked, again", _marked_machine),
    ):
        taken: dict[str, list[float]] = {"ours": [], "same": [], "update": []}
        _tidy()
        for machine, same in [(machine, _same_rows(machine)) for machine in chosen]:
            taken["update"].append(_timed(partial(_spoil, f"machine_id = {machine}")) * 1000)
            taken["ours"].append(_timed(partial(call, machine)) * 1000)
            _spoil(f"machine_id = {machine}")
            taken["same"].append(_timed(partial(_run, same)) * 1000)
        _say(_beside(f"one machine, 40 hoses, {name}", {k: v[WARM_UP:] for k, v in taken.items()}))


def _same_rows(machine: int) -> str:
    """One UPDATE that writes a machine's dues as they are kept."""
    keys = Due.objects.filter(machine=machine).values_list("pk", flat=True)
    ids, values = stored_dues(Some(ids=tuple(keys)))
    rows = np.column_stack([ids, values]).tolist()
    told = ", ".join(f"({', '.join(map(str, row))})" for row in rows)
    return (
        f"WITH w({', '.join(WITH_KEY)}) AS (VALUES {told}) UPDATE {TABLE} SET {SETTINGS} FROM w"
        f" WHERE w.assembly_id = {TABLE}.assembly_id"
    )


def _run(sql: str) -> None:
    with connection.cursor() as cursor:
        cursor.execute(sql)


def _refresh_machine(machine: int) -> None:
    refresh_machines(machine_ids=[machine])


def _marked_machine(machine: int) -> None:
    with transaction.atomic():
        machines_changed([machine], at=AT)


def _beside(name: str, taken: dict[str, list[float]]) -> str:
    ours = taken["ours"]
    p95 = sorted(ours)[int(len(ours) * 0.95)]
    ratio = {
        side: statistics.median(a / b for a, b in zip(ours, taken[side], strict=True))
        for side in ("same", "update")
    }
    same, update = (statistics.median(taken[side]) for side in ("same", "update"))
    return (
        f"{name:42}{statistics.median(ours):10.2f} ms  p95 {p95:.1f} ms,"
        f" {ratio['same']:.2f} x one UPDATE of the same rows ({same:.2f} ms),"
        f" {ratio['update']:.2f} x one of two columns of them ({update:.2f} ms)"
    )


def _refresh_spoiled(which: str) -> float:
    _spoil(which)
    _tidy()
    return _timed(refresh_all)


def _tidy() -> None:
    """Both sides begin with a table from which the dead rows are swept, as by the server itself."""
    put_tallies_together()
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("VACUUM ANALYZE scheduling_due")


def _spoil(which: str) -> None:
    """Make stored dues differ from what they should be."""
    _run(SPOIL + which)


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
