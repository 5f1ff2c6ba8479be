"""Memory of a piece of work: measured in a process that does nothing else."""

import os
import subprocess
import sys
import tempfile
from pathlib import Path


def in_a_process_of_its_own(benchmark: str) -> str:
    """What a benchmark says last where `BENCH_ALONE` tells it to do its work once."""
    command = [sys.executable, "-m", "tests.benchmarks", "--one", benchmark]
    with tempfile.TemporaryDirectory(prefix="layline-bench-") as folder:
        told = {**os.environ, "BENCH_ALONE": "1", "DATA_DIR": folder}
        run = subprocess.run(command, env=told, capture_output=True, text=True, check=True)
    return run.stdout.strip().splitlines()[-1]


def peak_memory() -> str:
    """The most memory this process has held; a process begun from another counts its own."""
    status = Path("/proc/self/status").read_text()
    peak = next(line for line in status.splitlines() if line.startswith("VmHWM"))
    return f"{int(peak.split()[1]) / 1024:,.0f} MB"
