"""The shelves as pages show them: lots and small parts, and what runs out."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db.models import F, Max, Q, QuerySet, Sum
from django.db.models.functions import Coalesce

from assemblies.calc.search import terms_of
from assemblies.models import HoseItem, HoseRevision, StockItem
from assemblies.queries.parts import counting
from assemblies.queries.reel_limits import reel_limits
from assemblies.queries.shelf_search import line_fits
from assemblies.queries.side_by_side import size_words
from assemblies.queries.stock import ANY_KIND, NEWEST_FIRST, age_of, what_it_is
from fleet.models import Person, Site
from fleet.models.fields import ScaledField
from fleet.queries.keyset import Page, page_of

_SUM = ScaledField(places=3, high=10**12)
_USABLE = Q(withdrawn_at=None)
STANDINGS: Mapping[str, tuple[str, Q]] = {
    "left": ("with pieces left", _USABLE & Q(balance__gt=0)),
    "all": ("all", Q()),
    "empty": ("used up", _USABLE & Q(balance=0)),
    "withdrawn": ("withdrawn", Q(withdrawn_at__isnull=False)),
}
KIND_WORDS: Mapping[str, str] = {
    "fitting": "Fittings",
    "shell": "Shells",
    "small": "Small parts",
}


@dataclass(frozen=True, slots=True)
class ShelfLine:
    """One lot or small part of a list."""

    item_id: int
    kind: str
    code: str
    words: str
    lot: str
    supplier: str
    site: str
    left: Decimal
    unit: str
    level: Decimal | None
    state: str
    state_words: str


@dataclass(frozen=True, slots=True)
class ShortLine:
    """A thing that runs out at a site: what is usable of it, and the level it is ordered at."""

    kind: str
    code: str
    words: str
    site: str
    item_id: int
    reel_id: int | None
    left: Decimal
    level: Decimal
    unit: str
    too_old_m: Decimal = Decimal(0)

    @property
    def state(self) -> str:
        return "over" if self.left == 0 else "soon"


def shelf_lines(
    person: Person,
    *,
    text: str = "",
    kind: str = "",
    standing: str = "left",
    site_id: int | None = None,
    after: tuple[Any, ...] | None,
    size: int,
) -> Page[ShelfLine]:
    """A page of the lots and small parts that fit, the newest first. A fixed number of queries."""
    found = StockItem.objects.visible_to(person).filter(STANDINGS[standing][1], reel=None)
    if kind:
        found = found.filter(ANY_KIND[kind])
    if site_id is not None:
        found = found.filter(site=site_id)
    terms = terms_of(text)
    if terms:
        found = found.filter(line_fits(terms))
    joined = found.select_related("site", "fitting", "shell")
    page = page_of(joined, order=NEWEST_FIRST, after=after, size=size)
    words = what_it_is(page.rows)
    return Page(tuple(shelf_line(row, words[row.pk]) for row in page.rows), page.after)


def shelf_line(item: StockItem, words: str) -> ShelfLine:
    """One line of the stock as lists show it."""
    part = item.fitting or item.shell
    state, said = _state(item)
    return ShelfLine(
        item_id=item.pk,
        kind="fitting" if item.fitting_id else "shell" if item.shell_id else "small",
        code=part.code if part else item.name,
        words=words,
        lot=item.lot,
        supplier=item.supplier,
        site=item.site.name,
        left=item.balance,
        unit=unit_word(item.unit),
        level=item.reorder_at,
        state=state,
        state_words=said,
    )


def unit_word(unit: str) -> str:
    """`m` for metres; pieces need no unit in a column of counts."""
    return "m" if unit == StockItem.Unit.METRE else ""


def runs_out(
    person: Person, *, today: dt.date, site_id: int | None = None
) -> tuple[ShortLine, ...]:
    """What is at or below the level at which it is ordered again, the emptiest first.

    All lots of a thing at a site count together; withdrawn ones, and reels too old to build
    from, count for nothing. A fixed number of queries.
    """
    seen = StockItem.objects.visible_to(person)
    if site_id is not None:
        seen = seen.filter(site=site_id)
    found = [*_short_parts(seen), *_short_hoses(seen, today)]
    return tuple(sorted(found, key=lambda one: (one.left > 0, one.site, one.kind, one.code)))


def _state(item: StockItem) -> tuple[str, str]:
    if item.withdrawn_at is not None:
        return "withdrawn", "withdrawn"
    if item.balance == 0:
        return "empty", "used up"
    return "fine", "usable"


def _short_parts(seen: "QuerySet[StockItem]") -> Iterator[ShortLine]:
    sites = {site.pk: site.name for site in Site.objects.all()}
    for kind, thing in (("fitting", "fitting_id"), ("shell", "shell_id"), ("small", "name")):
        grouped = _grouped(seen.filter(ANY_KIND[kind]), thing)
        short = list(grouped.filter(left__lte=F("level")))
        items = StockItem.objects.select_related("fitting", "shell").in_bulk(
            [row["item"] for row in short]
        )
        words = what_it_is(list(items.values()))
        for row in short:
            item = items[row["item"]]
            code = str(item.fitting or item.shell or item.name)
            site = sites[row["site_id"]]
            yield ShortLine(
                *(kind, code, words[item.pk], site, item.pk, None, row["left"], row["level"]),
                unit_word(item.unit),
            )


def _short_hoses(seen: "QuerySet[StockItem]", today: dt.date) -> Iterator[ShortLine]:
    watched = list(_grouped(seen.filter(reel__isnull=False), "reel__hose_id"))
    hose_ids = {row["reel__hose_id"] for row in watched}
    usable, too_old = _metres(seen, hose_ids, today)
    revisions = counting(HoseRevision, hose_ids)
    codes = HoseItem.objects.in_bulk(hose_ids)
    sites = {site.pk: site.name for site in Site.objects.all()}
    reels = dict(
        StockItem.objects.filter(pk__in=[row["item"] for row in watched]).values_list(
            "pk", "reel_id"
        )
    )
    for row in watched:
        key = row["site_id"], row["reel__hose_id"]
        if usable[key] > row["level"]:
            continue
        revision = revisions.get(key[1])
        words = f"{revision.standard_type} {size_words(revision.size_dn)}" if revision else ""
        yield ShortLine(
            *("hose", codes[key[1]].code, words.strip(), sites[key[0]], row["item"]),
            *(reels[row["item"]], usable[key], row["level"], "m", too_old[key]),
        )


def _grouped(found: "QuerySet[StockItem]", thing: str) -> Any:
    """Each watched thing of each site, with what is left of it over all its usable lines."""
    left = Coalesce(Sum("balance", filter=_USABLE, output_field=_SUM), 0, output_field=_SUM)
    return (
        found.order_by()
        .values("site_id", thing)
        .annotate(left=left, level=Max("reorder_at"), item=Max("id"))
        .filter(level__isnull=False)
        .order_by("site_id", thing)
    )


Metres = Mapping[tuple[int, int], Decimal]


def _metres(
    seen: "QuerySet[StockItem]", hose_ids: set[int], today: dt.date
) -> tuple[Metres, Metres]:
    """By site and hose: metres that may be built from, and metres that are too old."""
    usable: defaultdict[tuple[int, int], Decimal] = defaultdict(Decimal)
    too_old: defaultdict[tuple[int, int], Decimal] = defaultdict(Decimal)
    limits, types = reel_limits(), counting(HoseRevision, hose_ids)
    rows: Sequence[StockItem] = list(
        seen.filter(_USABLE, balance__gt=0, reel__hose__in=hose_ids).select_related("reel")
    )
    for item in rows:
        if item.reel is None:
            continue
        hose = types.get(item.reel.hose_id)
        kept = limits.of(item.site_id, hose.standard_type if hose else "")
        into = too_old if age_of(item.reel, kept, today).too_old else usable
        into[item.site_id, item.reel.hose_id] += item.balance
    return usable, too_old
