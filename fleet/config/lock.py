"""A lock file that the system itself lets go of when its holder ends, however it ends."""

import contextlib
import fcntl
from collections.abc import Iterator
from pathlib import Path


class HeldElsewhere(Exception):
    """Another process holds the lock."""


@contextlib.contextmanager
def hold(path: Path) -> Iterator[None]:
    """Hold the lock for the length of the block. Raises `HeldElsewhere` at once, never waits."""
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("a") as file:
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError as held:
            raise HeldElsewhere(str(path)) from held
        yield
