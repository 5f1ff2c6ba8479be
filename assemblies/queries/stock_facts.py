"""Reels and lines of the stock as facts, for programs that ask."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from assemblies.models import Reel, StockItem
from assemblies.queries.shelves import KIND_WORDS
from assemblies.queries.stock import ANY_KIND
from fleet.models import Person
from fleet.queries.keyset import Order, Page, page_of

BY_ID: Mapping[str, Order] = {"id": Order("id")}
KINDS = ("reel", *KIND_WORDS)


@dataclass(frozen=True, slots=True)
class ReelFacts:
    """One reel. What isn't known is None or empty."""

    id: int
    site: str
    code: str
    hose: str
    supplier: str
    received_on: dt.date
    delivered_m: Decimal
    left_m: Decimal
    layline: str
    made_earliest_on: dt.date | None
    made_latest_on: dt.date | None
    made_precision: str
    made_typed: str
    reinforcement_diameter_mm: Decimal | None
    withdrawn_at: dt.datetime | None
    withdrawal_reason: str


@dataclass(frozen=True, slots=True)
class StockFacts:
    """One line of the stock: what it is, how much is there, when it is ordered again."""

    id: int
    site: str
    kind: str
    code: str
    lot: str
    supplier: str
    unit: str
    balance: Decimal
    reorder_at: Decimal | None
    reel_id: int | None
    withdrawn_at: dt.datetime | None
    withdrawal_reason: str


@dataclass(frozen=True, slots=True)
class StockFilter:
    """Which reels or lines: every fact that is given must fit."""

    site_id: int | None = None
    hose: str = ""
    kind: str = ""
    with_rest: bool = False


def reel_facts(
    person: Person, which: StockFilter, *, after: tuple[Any, ...] | None, size: int
) -> Page[ReelFacts]:
    """A page of the reels that the person may see, withdrawn ones too, by id."""
    found = Reel.objects.visible_to(person).select_related("site", "hose", "stock")
    if which.site_id is not None:
        found = found.filter(site=which.site_id)
    if which.hose:
        found = found.filter(hose__code_key=which.hose)
    if which.with_rest:
        found = found.filter(withdrawn_at=None, stock__balance__gt=0)
    page = page_of(found, order=BY_ID["id"], after=after, size=size)
    return Page(tuple(_reel(row) for row in page.rows), page.after)


def one_reel(person: Person, reel_id: int) -> ReelFacts | None:
    """One reel, if the person may see it."""
    seen = Reel.objects.visible_to(person).filter(pk=reel_id)
    row = seen.select_related("site", "hose", "stock").first()
    return _reel(row) if row else None


def stock_facts(
    person: Person, which: StockFilter, *, after: tuple[Any, ...] | None, size: int
) -> Page[StockFacts]:
    """A page of the stock that the person may see, withdrawn lines too, by id."""
    joined = ("site", "fitting", "shell", "reel")
    found = StockItem.objects.visible_to(person).select_related(*joined)
    if which.site_id is not None:
        found = found.filter(site=which.site_id)
    if which.kind:
        kind = ANY_KIND.get(which.kind)
        found = found.filter(kind) if kind is not None else found.filter(reel__isnull=False)
    if which.with_rest:
        found = found.filter(withdrawn_at=None, balance__gt=0)
    page = page_of(found, order=BY_ID["id"], after=after, size=size)
    return Page(tuple(_line(row) for row in page.rows), page.after)


_AS_THEY_STAND = (
    *("code", "supplier", "received_on", "delivered_m", "layline", "made_earliest_on"),
    *("made_latest_on", "made_precision", "made_typed", "reinforcement_diameter_mm"),
    *("withdrawn_at", "withdrawal_reason"),
)


def _reel(row: Reel) -> ReelFacts:
    item: StockItem | None = getattr(row, "stock", None)
    return ReelFacts(
        id=row.pk,
        site=row.site.code,
        hose=row.hose.code,
        left_m=item.balance if item else Decimal(0),
        **{name: getattr(row, name) for name in _AS_THEY_STAND},
    )


def _line(row: StockItem) -> StockFacts:
    part = row.fitting or row.shell or row.reel
    return StockFacts(
        row.pk,
        row.site.code,
        _kind(row),
        part.code if part else row.name,
        row.lot,
        row.supplier,
        row.unit,
        row.balance,
        row.reorder_at,
        row.reel_id,
        row.withdrawn_at,
        row.withdrawal_reason,
    )


def _kind(row: StockItem) -> str:
    if row.reel_id:
        return "reel"
    return "fitting" if row.fitting_id else "shell" if row.shell_id else "small"
