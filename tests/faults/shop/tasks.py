"""What the tests' errands do. Each leaves a line in the file it is told, so that runs are counted.

The leases are short, so that a test need not wait a minute for a dead worker.
"""

import datetime as dt
import os
import signal
import time
from dataclasses import replace
from pathlib import Path
from typing import Any

from fleet.actions.errand_kinds import kinds, register_errand
from fleet.actions.errands import ErrandRun

LEASE = dt.timedelta(seconds=2)


def _note(run: ErrandRun) -> int:
    """Write a line, and say how many there are."""
    path = Path(run.payload["file"])
    with path.open("a") as file:
        file.write(f"{os.getpid()}\n")
    return len(path.read_text().splitlines())


@register_errand("note", lease=LEASE)
def note(run: ErrandRun) -> dict[str, Any]:
    return {"runs": _note(run)}


@register_errand("slow", lease=LEASE)
def slow(run: ErrandRun) -> dict[str, Any]:
    """Takes three leases, and tells nobody while it works."""
    runs = _note(run)
    time.sleep(6)
    return {"runs": runs}


@register_errand("dies once", lease=LEASE)
def dies_once(run: ErrandRun) -> dict[str, Any]:
    runs = _note(run)
    if runs == 1:
        os.kill(os.getpid(), signal.SIGKILL)
    return {"runs": runs}


@register_errand("dies always", lease=LEASE, most_attempts=2)
def dies_always(run: ErrandRun) -> None:
    _note(run)
    os.kill(os.getpid(), signal.SIGKILL)


def _die_in_a_refresh(told: Path) -> None:
    """Have this process killed while it writes the third chunk of dues, unless one was before."""
    from scheduling.actions import due_rows
    from scheduling.actions.due_dates import refresh_all
    from scheduling.actions.due_rows import write_within
    from scheduling.actions.nudges import STALE_DUES

    kinds[STALE_DUES] = replace(kinds[STALE_DUES], lease=LEASE)
    chunks: list[int] = []

    def deadly(changes: Any) -> None:
        write_within(changes)
        chunks.append(changes.size)
        if len(chunks) == 3 and not told.exists():
            told.touch()
            os.kill(os.getpid(), signal.SIGKILL)

    due_rows.write_within = deadly
    (refresh_all.__kwdefaults__ or {})["chunk"] = 10


if "DIE_IN_A_REFRESH" in os.environ:
    _die_in_a_refresh(Path(os.environ["DIE_IN_A_REFRESH"]))
