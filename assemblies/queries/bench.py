"""What a fitter builds next: pieces begun and not signed, sheets that wait, by need-by day."""

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db.models import Count, F, Q, QuerySet, Sum, Value
from django.db.models.functions import Coalesce

from assemblies.calc.sheet import SheetContent
from assemblies.models import BuildBatch, BuildRecord, FrozenSheet, SpecEnd, StockItem
from assemblies.queries.sheets import content_of
from fleet.models import Person
from fleet.models.fields import DayField
from fleet.permissions import may
from fleet.queries.keyset import Order, Page, page_of

NO_DAY = dt.date(9999, 12, 31)
BY_NEED = Order("need_by_or_never")


@dataclass(frozen=True, slots=True)
class BegunLine:
    """A batch with pieces that are not signed yet."""

    batch_id: int
    only_build_id: int | None
    title: str
    spec: str
    sheet: str
    site: str
    zone: str
    wanted_for: str
    need_by_on: dt.date | None
    begun_at: dt.datetime
    begun_by: str
    pieces: int
    open: int
    first_off_waits: bool
    over: bool
    may_build: bool


@dataclass(frozen=True, slots=True)
class SheetLine:
    """A sheet of which pieces are still to be begun."""

    sheet_id: int
    site_id: int
    number: int
    title: str
    spec: str
    site: str
    wanted_for: str
    need_by_on: dt.date | None
    quantity: int
    done: int
    begun: int
    missing: tuple[str, ...]
    over: bool
    may_build: bool


def begun_lines(person: Person, *, today: dt.date, most: int = 60) -> list[BegunLine]:
    """The batches at the person's sites with open pieces: by need-by day, the oldest first."""
    seen = BuildBatch.objects.visible_to(person).annotate(
        open_pieces=Count("builds", filter=Q(builds__signed_at=None)),
        one_open=Sum("builds__id", filter=Q(builds__signed_at=None)),
    )
    rows = seen.filter(open_pieces__gt=0).select_related(
        *("site", "begun_by", "sheet__spec__header", "sheet__position__machine")
    )
    ordered = rows.order_by(F("sheet__need_by_on").asc(nulls_last=True), "begun_at", "pk")
    return [_begun_line(person, row, today) for row in ordered[:most]]


def sheets_to_begin(
    person: Person, *, today: dt.date, after: tuple[Any, ...] | None, size: int
) -> Page[SheetLine]:
    """Sheets that somebody wants built and of which pieces are not begun, by need-by day.

    A sheet that is printed with a hose book, for no day, no job and no position, waits for nobody.
    """
    page = page_of(_waiting(person), order=BY_NEED, after=after, size=size)
    contents = {row.pk: content_of(row) for row in page.rows}
    stock = _Stock(page.rows)
    lines = [_sheet_line(person, row, contents[row.pk], stock, today) for row in page.rows]
    return Page(tuple(lines), page.after)


def still_to_begin(sheet: FrozenSheet) -> int:
    """How many pieces of a sheet are neither begun nor signed."""
    begun = BuildRecord.objects.filter(sheet=sheet, scrapped_reason="").count()
    return max(0, sheet.quantity - begun)


def sheet_to_begin(person: Person, site_id: int, number: int) -> FrozenSheet | None:
    """A sheet where the person may see it, with what beginning needs."""
    seen = FrozenSheet.objects.visible_to(person).filter(site=site_id, number=number)
    found: FrozenSheet | None = seen.select_related(
        *("site", "spec__header", "spec__hose", "position__machine", "position__required_spec")
    ).first()
    return found


def _waiting(person: Person) -> "QuerySet[FrozenSheet]":
    wanted = Q(need_by_on__isnull=False) | Q(position__isnull=False) | ~Q(content__job="")
    seen = FrozenSheet.objects.visible_to(person).filter(wanted, aside_at=None)
    whole = Q(builds__scrapped_reason="")
    counted = seen.annotate(
        begun=Count("builds", filter=whole),
        done=Count("builds", filter=whole & Q(builds__signed_at__isnull=False)),
        need_by_or_never=Coalesce(
            F("need_by_on"), Value(NO_DAY, output_field=DayField()), output_field=DayField()
        ),
    )
    return counted.filter(begun__lt=F("quantity")).select_related(
        *("site", "spec__header", "position__machine")
    )


class _Stock:
    """What the sites of some sheets have of the parts that these ask for; in three queries."""

    def __init__(self, sheets: Sequence[FrozenSheet]) -> None:
        self.ends: dict[int, list[SpecEnd]] = {}
        specs = {sheet.spec_id for sheet in sheets}
        for end in SpecEnd.objects.filter(spec__in=specs).select_related("fitting", "shell"):
            self.ends.setdefault(end.spec_id, []).append(end)
        kept = StockItem.objects.filter(
            site__in={sheet.site_id for sheet in sheets}, withdrawn_at=None, balance__gt=0
        )
        self.metres = self._sums(kept.filter(reel__withdrawn_at=None), "reel__hose")
        fittings, shells = self._sums(kept, "fitting"), self._sums(kept, "shell")
        self.pieces = {"fitting": fittings, "shell": shells}

    def missing(self, sheet: FrozenSheet, content: SheetContent, pieces: int) -> Iterator[str]:
        """What is short for so many pieces, each a phrase with both figures."""
        cut = content.length.cut_length_mm
        wanted = (cut or Decimal(0)) * pieces / 1000
        there = self.metres.get((sheet.site_id, sheet.spec.hose_id), Decimal(0))
        if wanted > there:
            yield f"{_plain(wanted)} m of {content.hose.code}, {_plain(there)} m there"
        for (name, part), count in self._wanted(sheet, pieces).items():
            there = self.pieces[name].get((sheet.site_id, part.pk), Decimal(0))
            if count > there:
                yield f"{count} of {part}, {_plain(there)} there"

    def _wanted(self, sheet: FrozenSheet, pieces: int) -> dict[tuple[str, Any], int]:
        found: dict[tuple[str, Any], int] = {}
        for end in self.ends.get(sheet.spec_id, []):
            for name in ("fitting", "shell"):
                part = getattr(end, name)
                if part is not None:
                    found[name, part] = found.get((name, part), 0) + pieces
        return found

    @staticmethod
    def _sums(kept: "QuerySet[StockItem]", part: str) -> dict[tuple[int, int], Decimal]:
        rows = kept.filter(**{f"{part}__isnull": False}).order_by()
        told = rows.values_list("site", part).annotate(there=Sum("balance"))
        return {(site_id, part_id): there for site_id, part_id, there in told}


def _plain(amount: Decimal) -> str:
    return f"{amount.normalize():f}"


def _begun_line(person: Person, row: Any, today: dt.date) -> BegunLine:
    sheet = row.sheet
    return BegunLine(
        batch_id=row.pk,
        only_build_id=row.one_open if row.open_pieces == 1 else None,
        title=sheet.spec.header.title,
        spec=sheet.spec.header.code,
        sheet=f"{row.site.code} {sheet.number}",
        site=row.site.name,
        zone=row.site.time_zone,
        wanted_for=_wanted_for(sheet),
        need_by_on=sheet.need_by_on,
        begun_at=row.begun_at,
        begun_by=str(row.begun_by),
        pieces=row.quantity,
        open=row.open_pieces,
        first_off_waits=row.quantity > 1 and row.first_off_checked_at is None,
        over=sheet.need_by_on is not None and sheet.need_by_on < today,
        may_build=may(person, "build", row.site_id),
    )


def _sheet_line(
    person: Person, row: Any, content: SheetContent, stock: _Stock, today: dt.date
) -> SheetLine:
    left = row.quantity - row.begun
    no_crimp = () if content.can_be_crimped else ("a proven crimp: ask before you begin",)
    return SheetLine(
        sheet_id=row.pk,
        site_id=row.site_id,
        number=row.number,
        title=content.title,
        spec=f"{content.spec_code} rev {content.spec_revision}",
        site=row.site.name,
        wanted_for=_wanted_for(row),
        need_by_on=row.need_by_on,
        quantity=row.quantity,
        done=row.done,
        begun=row.begun,
        missing=(*no_crimp, *stock.missing(row, content, left)),
        over=row.need_by_on is not None and row.need_by_on < today,
        may_build=may(person, "build", row.site_id),
    )


def _wanted_for(sheet: FrozenSheet) -> str:
    place = sheet.position
    return f"{place.machine}, {place}" if place else ""
