"""Work on very many small objects, none of which refer to one another in a ring."""

import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def without_ring_search() -> Iterator[None]:
    """Let the interpreter not search for rings of objects meanwhile.

    A register of 100,000 rows makes some millions of objects that all live until it is written.
    Each search walks all of them again and finds nothing: a quarter of the time of an import.
    Objects that nothing refers to are given back as ever.
    """
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()
