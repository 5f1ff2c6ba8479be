"""Every hostile file: refused with its word, in two seconds, under 150 MB more memory."""

import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from fleet.tabular import TableRefused, open_table

from .hostile import HOSTILE, two_far_cells

# Seconds of the processor: what else the machine is doing does not count.
SECONDS, MEGABYTES = 2.0, 150

# Each file is read in a process of its own, so that none hides what another costs.
PROBE = """
import json, os, resource, sys, time
from pathlib import Path
from fleet.tabular import TableRefused, open_table

def read(path):
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    began = time.process_time()
    try:
        for row in open_table(path, name="register.xlsx").rows():
            pass
        code = "read"
    except TableRefused as refused:
        code = refused.code
    took = time.process_time() - began
    after = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    print(json.dumps([path.name, code, took, (after - before) / 1000]), flush=True)

for path in sorted(Path(sys.argv[1]).iterdir()):
    child = os.fork()
    if not child:
        read(path)
        os._exit(0)
    if os.waitpid(child, 0)[1]:
        print(json.dumps([path.name, "died", 0, 0]), flush=True)
"""


@pytest.fixture(scope="module")
def readings(tmp_path_factory: pytest.TempPathFactory) -> dict[str, list[Any]]:
    folder = tmp_path_factory.mktemp("hostile")
    for make in HOSTILE:
        (folder / make.__name__).write_bytes(make())
    done = subprocess.run(
        [sys.executable, "-c", PROBE, str(folder)],
        capture_output=True,
        text=True,
        check=True,
        timeout=200,
        cwd=Path(__file__).parents[4],
    )
    return {line[0]: line[1:] for line in map(json.loads, done.stdout.splitlines())}


@pytest.mark.parametrize("make", HOSTILE, ids=lambda make: make.__name__)
def test_is_refused_quickly_and_in_little_memory(
    make: Callable[[], bytes], readings: dict[str, list[Any]]
) -> None:
    code, seconds, megabytes = readings[make.__name__]
    assert code == HOSTILE[make]
    assert seconds < SECONDS
    assert megabytes < MEGABYTES


def test_says_what_is_wrong_where_and_what_would_be_right() -> None:
    with pytest.raises(TableRefused) as refused:
        open_table(two_far_cells(), name="register.xlsx")
    assert "“Hoses” has something in cell XFD1048576" in refused.value.sentence
    assert "save the sheet as CSV" in refused.value.sentence
