"""What is kept of how many dues stand at each day, and the same counted from the dues."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterator

import numpy as np
from django.db.models import Count

from fleet.models import Person, Site
from fleet.models.fields import EPOCH
from scheduling.calc.calendar import Ints
from scheduling.calc.inputs import NONE
from scheduling.calc.standing import SOON_DAYS
from scheduling.calc.tally import DueCounts, counts_on, no_cells, summed, unpacked
from scheduling.models import Due, DueTally


def due_counts(person: Person, *, today: dt.date) -> DueCounts:
    """How many dues the person must act on: read from what is kept, none is counted."""
    rows = DueTally.objects.visible_to(person).values_list("cells", flat=True)
    cells = [unpacked(bytes(stored)) for stored in rows]
    day = (today - EPOCH).days
    return counts_on(np.concatenate([no_cells(), *cells]), day, day + SOON_DAYS)


def kept_cells(site_id: int | None = None) -> dict[int, Ints]:
    """By site, what is kept, a cell a day and kind; a site without dues is left out."""
    rows = DueTally.objects.all() if site_id is None else DueTally.objects.filter(site=site_id)
    found: defaultdict[int, list[Ints]] = defaultdict(list)
    for owner, stored in rows.values_list("site_id", "cells"):
        found[owner].append(unpacked(bytes(stored)))
    return _whole(found)


def counted_cells(site_id: int | None = None) -> dict[int, Ints]:
    """The same, counted from the dues themselves."""
    dues = Due.objects.all() if site_id is None else Due.objects.filter(site=site_id)
    rows = dues.order_by().values_list("site_id", "due_on", "kinds").annotate(number=Count("pk"))
    found: defaultdict[int, list[Ints]] = defaultdict(list)
    for owner, due_on, kinds, number in rows:
        day = NONE if due_on is None else (due_on - EPOCH).days
        found[owner].append(np.array([[day, kinds, number]], dtype=np.int64))
    return _whole(found)


def wrong_tallies() -> Iterator[Site]:
    """The sites whose kept counts are not what is counted."""
    kept, counted = kept_cells(), counted_cells()
    for site in Site.objects.order_by("pk"):
        if not np.array_equal(kept.get(site.pk, no_cells()), counted.get(site.pk, no_cells())):
            yield site


def _whole(found: "defaultdict[int, list[Ints]]") -> dict[int, Ints]:
    added = {owner: summed(np.concatenate(parts)) for owner, parts in found.items()}
    return {owner: cells for owner, cells in added.items() if cells.size}
