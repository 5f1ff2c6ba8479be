"""The stock read: what can be built from, what there is of each thing, what moved."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db.models import Q

from assemblies.calc.day_ranges import DayRange, Precision
from assemblies.calc.reel_age import ReelAge, reel_age
from assemblies.models import (
    FittingItem,
    FittingRevision,
    HoseItem,
    HoseRevision,
    Reel,
    ShellItem,
    ShellRevision,
    StockItem,
    StockMovement,
)
from assemblies.queries.parts import counting
from assemblies.queries.reel_limits import reel_limits
from assemblies.queries.side_by_side import size_words
from fleet.models import Person, Site
from fleet.queries.keyset import Order, Page, page_of

NEWEST_FIRST = Order("id", down=True)
_PRECISIONS: Mapping[str, Precision] = {
    "week": "week",
    "month": "month",
    "quarter": "quarter",
    "year": "year",
}


@dataclass(frozen=True, slots=True)
class ReelChoice:
    """One reel to build from. `too_old` is a sentence where a limit is passed, else empty."""

    reel_id: int
    item_id: int
    code: str
    metres_left: Decimal
    made_on: dt.date | None
    made_words: str
    age_words: str
    too_old: str
    too_old_where: tuple[str, ...]
    supplier: str

    @property
    def words(self) -> str:
        return f"{self.code}: {self.metres_left.normalize():f} m, {self.age_words}"


@dataclass(frozen=True, slots=True)
class LotChoice:
    """One lot to build from."""

    item_id: int
    lot: str
    supplier: str
    pieces: Decimal

    @property
    def words(self) -> str:
        return f"{self.lot or 'no lot noted'}: {self.pieces.normalize():f} left"


@dataclass(frozen=True, slots=True)
class MovementLine:
    """One line of the ledger."""

    kind: str
    words: str
    quantity: Decimal
    unit: str
    reference: str
    note: str
    by: str
    at: dt.datetime


def reels_for(person: Person, *, site: Site, hose: HoseItem, on: dt.date) -> tuple[ReelChoice, ...]:
    """The reels of a hose at a site with something left, the oldest first, the too old last.

    Withdrawn reels are left out. Ages are those on the day `on`. The number of queries is fixed.
    """
    seen = StockItem.objects.visible_to(person).filter(
        site=site, reel__hose=hose, reel__withdrawn_at=None, withdrawn_at=None, balance__gt=0
    )
    revision = counting(HoseRevision, [hose.pk]).get(hose.pk)
    limits = reel_limits().of(site.pk, revision.standard_type if revision else "")
    items = seen.select_related("reel").order_by("reel__made_earliest_on", "reel__code_key")
    choices = [_reel_choice(item, age_of(item.reel, limits, on)) for item in items if item.reel]
    return tuple(sorted(choices, key=lambda one: (bool(one.too_old), one.made_on is None)))


def lots_for(
    person: Person,
    *,
    site: Site,
    fitting: FittingItem | None = None,
    shell: ShellItem | None = None,
) -> tuple[LotChoice, ...]:
    """The lots of a fitting or a shell at a site with pieces left, the first received first."""
    if (fitting is None) == (shell is None):
        raise ValueError("Name a fitting or a shell.")
    seen = StockItem.objects.visible_to(person).filter(
        site=site, fitting=fitting, shell=shell, reel=None, withdrawn_at=None, balance__gt=0
    )
    return tuple(
        LotChoice(item.pk, item.lot, item.supplier, item.balance) for item in seen.order_by("pk")
    )


def age_of(reel: Reel, limits: Sequence[Any], on: dt.date) -> ReelAge:
    """A reel's age on a day, by the limits that may apply to it."""
    return reel_age(reel.made_earliest_on, reel.made_latest_on, on=on, limits=limits)


def made_words(reel: Reel) -> str:
    """When the hose of a reel was made, as it is known: `quarter 2 of 2025`, a day, two days."""
    earliest, latest = reel.made_earliest_on, reel.made_latest_on or reel.made_earliest_on
    if earliest is None or latest is None:
        return "not known"
    if reel.made_precision in _PRECISIONS:
        return str(DayRange(earliest, latest, _PRECISIONS[reel.made_precision], ""))
    return str(earliest) if earliest == latest else f"{earliest} to {latest}"


def stock_item_for(person: Person, item_id: int) -> StockItem | None:
    """One line of the stock, where the person may see its site."""
    seen = StockItem.objects.visible_to(person).filter(pk=item_id)
    joined = seen.select_related("site", "fitting", "shell", "reel__hose", "withdrawn_by")
    found: StockItem | None = joined.first()
    return found


def movements_of(
    item: StockItem, *, after: tuple[Any, ...] | None, size: int
) -> Page[MovementLine]:
    """A page of an item's ledger, the newest first."""
    rows = StockMovement.objects.filter(item=item).select_related("moved_by")
    page = page_of(rows, order=NEWEST_FIRST, after=after, size=size)
    return Page(tuple(_movement(row, item.unit) for row in page.rows), page.after)


def what_it_is(items: Sequence[StockItem]) -> dict[int, str]:
    """What each line of the stock is, in the catalogue's words; in two queries."""
    fittings = counting(FittingRevision, {one.fitting_id for one in items if one.fitting_id})
    shells = counting(ShellRevision, {one.shell_id for one in items if one.shell_id})
    return {one.pk: _words(one, fittings, shells) for one in items}


def sites_to_keep(person: Person) -> list[Site]:
    """The sites whose stock the person keeps."""
    seen = Site.objects.visible_to(person).filter(withdrawn_at=None)
    return [site for site in seen if "keep_stock" in person.capabilities_at(site.pk)]


def sites_seen(person: Person) -> list[Site]:
    """The sites whose stock the person sees."""
    return list(Site.objects.visible_to(person).filter(withdrawn_at=None))


def _reel_choice(item: StockItem, age: ReelAge) -> ReelChoice:
    reel = item.reel
    if reel is None:
        raise ValueError("This line is no reel.")
    return ReelChoice(
        reel.pk,
        item.pk,
        reel.code,
        item.balance,
        reel.made_earliest_on,
        made_words(reel),
        age.words,
        age.too_old,
        age.too_old_where,
        reel.supplier,
    )


def _movement(row: StockMovement, unit: str) -> MovementLine:
    return MovementLine(
        row.kind,
        row.get_kind_display(),
        row.quantity,
        "m" if unit == StockItem.Unit.METRE else "",
        row.reference,
        row.note,
        str(row.moved_by or "Layline itself"),
        row.moved_at,
    )


def _words(item: StockItem, fittings: Mapping[int, Any], shells: Mapping[int, Any]) -> str:
    if item.fitting_id:
        row = fittings.get(item.fitting_id)
        return f"{row.connection} {row.connection_size}, {row.get_form_display()}" if row else ""
    if item.shell_id:
        row = shells.get(item.shell_id)
        if row is None:
            return ""
        layers = f"{row.layers_made_for} layer{'s' * (row.layers_made_for != 1)}"
        return f"shell for {layers}, {size_words(row.tail_dn)}"
    return ""


ANY_KIND: Mapping[str, Q] = {
    "fitting": Q(fitting__isnull=False),
    "shell": Q(shell__isnull=False),
    "small": Q(fitting=None, shell=None, reel=None),
}
