"""Reels as pages show them: the list, and one with its age, its wire and what was built from it."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db.models import Q

from assemblies.calc.reel_age import ReelAge, ReelLimit
from assemblies.calc.reel_receipt import WireCheck, check_wire, layline_differs
from assemblies.calc.search import terms_of
from assemblies.models import BuildRecord, HoseRevision, Reel, StockItem
from assemblies.queries.parts import counting
from assemblies.queries.reel_limits import ReelLimits, published_limits, reel_limits
from assemblies.queries.shelf_search import reel_fits
from assemblies.queries.side_by_side import size_words
from assemblies.queries.stock import age_of, made_words
from fleet.models import Person
from fleet.queries.keyset import Order, Page, page_of

BY_CODE = Order("code_key")
MOST_BUILDS = 200
_LEFT = Q(withdrawn_at=None, stock__balance__gt=0)
STANDINGS: Mapping[str, tuple[str, Q]] = {
    "left": ("with hose left", _LEFT),
    "all": ("all", Q()),
    "empty": ("used up", Q(withdrawn_at=None, stock__balance=0)),
    "withdrawn": ("withdrawn", Q(withdrawn_at__isnull=False)),
}


@dataclass(frozen=True, slots=True)
class ReelLine:
    """One reel of a list. `state` names its mark, `state_words` what stands on it."""

    reel_id: int
    code: str
    site: str
    hose_id: int
    hose: str
    hose_words: str
    supplier: str
    received_on: dt.date
    delivered_m: Decimal
    left_m: Decimal
    made: str
    age: str
    state: str
    state_words: str


@dataclass(frozen=True, slots=True)
class BuiltFrom:
    """One hose that was built from a reel, with the age the reel had that day."""

    hose_id: int
    label: str
    built_on: dt.date
    used_m: Decimal | None
    age: ReelAge
    signed: bool
    scrapped: bool


@dataclass(frozen=True, slots=True)
class ReelPage:
    """One reel, whole."""

    reel: Reel
    item: StockItem | None
    line: ReelLine
    age: ReelAge
    limits: tuple[ReelLimit, ...]
    published: tuple[str, ...]
    wire: WireCheck | None
    wire_words: str
    differs: tuple[str, ...]
    builds: tuple[BuiltFrom, ...]
    more_builds: bool

    @property
    def strip(self) -> tuple[str, ...]:
        """What stands on the strip: the hose, what is left, when it was made."""
        return (self.line.hose_words, f"{self.line.left_m.normalize():f} m left", self.line.made)


def reel_lines(
    person: Person,
    *,
    text: str = "",
    standing: str = "left",
    site_id: int | None = None,
    after: tuple[Any, ...] | None,
    size: int,
    today: dt.date,
) -> Page[ReelLine]:
    """A page of the reels that fit a search, by code. The number of queries is fixed."""
    found = Reel.objects.visible_to(person).filter(STANDINGS[standing][1])
    if site_id is not None:
        found = found.filter(site=site_id)
    terms = terms_of(text)
    if terms:
        found = found.filter(reel_fits(terms))
    joined = found.select_related("site", "hose", "stock")
    page = page_of(joined, order=BY_CODE, after=after, size=size)
    return Page(_lines(page.rows, today), page.after)


def reel_for(person: Person, reel_id: int) -> Reel | None:
    """A reel, where the person may see its site."""
    seen = Reel.objects.visible_to(person).filter(pk=reel_id)
    joined = seen.select_related("site", "hose", "stock", "made_confirmed_by", "withdrawn_by")
    found: Reel | None = joined.first()
    return found


def reel_page(person: Person, reel_id: int, *, today: dt.date) -> ReelPage | None:
    """One reel with its age today, its wire, and its builds with their ages at building."""
    reel = reel_for(person, reel_id)
    if reel is None:
        return None
    revision: HoseRevision | None = counting(HoseRevision, [reel.hose_id]).get(reel.hose_id)
    kept = reel_limits()
    limits = kept.of(reel.site_id, revision.standard_type if revision else "")
    builds = _builds(reel, limits)
    wire = _wire(reel, revision)
    said = (revision.standard_type, revision.size_dn) if revision else ("", 0)
    return ReelPage(
        reel,
        getattr(reel, "stock", None),
        _line(reel, revision, kept, today),
        age_of(reel, limits, today),
        tuple(limits),
        published_limits(),
        wire,
        wire.sentence if wire else "",
        layline_differs(reel.layline, *said) if revision else (),
        builds[:MOST_BUILDS],
        len(builds) > MOST_BUILDS,
    )


def _lines(reels: Sequence[Reel], today: dt.date) -> tuple[ReelLine, ...]:
    kept = reel_limits()
    hoses = counting(HoseRevision, {reel.hose_id for reel in reels})
    return tuple(_line(reel, hoses.get(reel.hose_id), kept, today) for reel in reels)


def _line(reel: Reel, revision: HoseRevision | None, kept: ReelLimits, today: dt.date) -> ReelLine:
    item: StockItem | None = getattr(reel, "stock", None)
    left = item.balance if item else Decimal(0)
    hose_type = revision.standard_type if revision else ""
    age = age_of(reel, kept.of(reel.site_id, hose_type), today)
    size = size_words(revision.size_dn) if revision else ""
    state, words = _state(reel, left, age)
    return ReelLine(
        reel_id=reel.pk,
        code=reel.code,
        site=reel.site.name,
        hose_id=reel.hose_id,
        hose=reel.hose.code,
        hose_words=f"{hose_type} {size}".strip(),
        supplier=reel.supplier,
        received_on=reel.received_on,
        delivered_m=reel.delivered_m,
        left_m=left,
        made=made_words(reel),
        age=age.words,
        state=state,
        state_words=words,
    )


def _state(reel: Reel, left: Decimal, age: ReelAge) -> tuple[str, str]:
    if reel.withdrawn_at is not None:
        return "withdrawn", "withdrawn"
    if left == 0:
        return "empty", "used up"
    if age.too_old:
        return "over", "too old" if age.too_old.startswith("Too") else "may be too old"
    if reel.made_earliest_on is None:
        return "undated", "age not known"
    if age.too_old_where:
        return "soon", "too old for some places"
    return "fine", "usable"


def _wire(reel: Reel, revision: HoseRevision | None) -> WireCheck | None:
    measured = reel.reinforcement_diameter_mm
    if measured is None or revision is None:
        return None
    return check_wire(
        measured,
        hose_type=revision.standard_type,
        size_dn=revision.size_dn,
        maker_mm=revision.reinforcement_diameter_mm,
    )


def _builds(reel: Reel, limits: Sequence[ReelLimit]) -> tuple[BuiltFrom, ...]:
    rows = BuildRecord.objects.filter(reel=reel).select_related("assembly")
    return tuple(
        BuiltFrom(
            row.assembly_id,
            str(row.assembly),
            row.built_on,
            row.hose_used_m,
            age_of(reel, limits, row.built_on),
            row.signed_at is not None,
            bool(row.scrapped_reason),
        )
        for row in rows.order_by("-built_on", "-pk")[: MOST_BUILDS + 1]
    )
