"""What benchmarks share: two works timed in turn, and lines that are seen at once."""

import statistics
import sys
import time
from collections.abc import Callable
from typing import Any


def paired(one: Callable[[], Any], two: Callable[[], Any], rounds: int) -> tuple[float, float]:
    """Median seconds of both, taken in turn."""
    seconds: tuple[list[float], list[float]] = ([], [])
    for _ in range(rounds):
        for kept, work in zip(seconds, (one, two), strict=True):
            began = time.perf_counter()
            work()
            kept.append(time.perf_counter() - began)
    return statistics.median(seconds[0]), statistics.median(seconds[1])


def say(text: str) -> None:
    sys.stdout.write(f"{text}\n")
    sys.stdout.flush()
