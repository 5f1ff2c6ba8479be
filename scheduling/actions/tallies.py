"""Keeping how many dues each site has at each day, so that no page counts them."""

from collections.abc import Iterable
from typing import Any, Final

import numpy as np
from django.db import connections, router, transaction
from django.db.models import Count

from fleet.models import Site
from scheduling.calc.calendar import Ints
from scheduling.calc.tally import moved, no_cells, packed, summed, unpacked
from scheduling.models import DueTally
from scheduling.queries.due_columns import STORED
from scheduling.queries.fast_columns import bound_cursor
from scheduling.queries.tallies import counted_cells, kept_cells

FEW: Final = 16  # this many rows of a site are read together as quickly as one
_TABLE: Final = DueTally._meta.db_table
ONE_SITE: Final = 2  # a site and its cells: comes again and again
_KEY: Final = [STORED.index(name) for name in ("site", "kinds", "due_on")]


def tally(cursor: Any, old: Ints, new: Ints) -> None:
    """Note what changes where `old` dues become `new`, rows as stored. Part of the caller's
    transaction; waits for nobody."""
    write_tally(cursor, tally_rows(old, new))


def tally_rows(old: Ints, new: Ints) -> list[int | bytes]:
    """Site and packed cells, in turn, of what changes."""
    cells = moved(old[:, _KEY], new[:, _KEY])
    return [part for site_id, changed in cells.items() for part in (site_id, packed(changed))]


def write_tally(cursor: Any, rows: list[int | bytes]) -> None:
    """Write what `tally_rows` made."""
    if not rows:
        return
    marks = ", ".join(["(%s, %s)"] * (len(rows) // 2))
    sql = f"INSERT INTO {_TABLE} (site_id, cells) VALUES {marks}"
    if cursor.db.vendor == "postgresql":
        with bound_cursor(cursor.db) as bound:
            bound.execute(sql, rows, prepare=len(rows) == ONE_SITE)
    else:
        cursor.execute(sql, rows)


def put_tallies_together(*, most: int = FEW) -> int:
    """Make one row of each site's many. Atomic by site, safe to repeat; returns how many went."""
    many = DueTally.objects.values("site_id").annotate(rows=Count("pk")).filter(rows__gt=most)
    return sum(_put_together(site_id) for site_id in many.values_list("site_id", flat=True))


def recount_tallies() -> tuple[Site, ...]:
    """Count every site's dues anew and mend what is kept. Atomic by site; returns those mended.

    Changes wait while one site is counted; pages don't.
    """
    return tuple(site for site in Site.objects.order_by("pk") if _recount(site.pk))


@transaction.atomic
def _put_together(site_id: int) -> int:
    rows = _taken(site_id)
    _write(site_id, (unpacked(bytes(row.cells)) for row in rows))
    return len(rows)


@transaction.atomic
def _recount(site_id: int) -> bool:
    _stand_still()
    counted = counted_cells(site_id).get(site_id, no_cells())
    if np.array_equal(kept_cells(site_id).get(site_id, no_cells()), counted):
        return False
    _taken(site_id)
    _write(site_id, [counted])
    return True


def _stand_still() -> None:
    """Nobody else changes dues until the end of this transaction; readers are not held up."""
    connection = connections[router.db_for_write(DueTally)]
    if connection.vendor == "postgresql":  # on SQLite the transaction is the only writer
        with connection.cursor() as cursor:
            cursor.execute(f"LOCK TABLE {_TABLE} IN SHARE ROW EXCLUSIVE MODE")


def _taken(site_id: int) -> list[DueTally]:
    """A site's rows, taken away; those that another takes at the same time are not among them."""
    rows = list(DueTally.objects.select_for_update().filter(site=site_id))
    DueTally.objects.filter(pk__in=[row.pk for row in rows]).delete()
    return rows


def _write(site_id: int, parts: Iterable[Ints]) -> None:
    cells = summed(np.concatenate([no_cells(), *parts]))
    if cells.size:
        DueTally.objects.create(site_id=site_id, cells=packed(cells))
