"""The store's shelves: parts received by lot, the level at which they are ordered again."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db import IntegrityError, transaction
from django.db.models import QuerySet

from assemblies.actions.reels import require_to_withdraw
from assemblies.actions.revisions import refuse_wrong_fields
from assemblies.actions.stock import MOST, move_stock
from assemblies.models import FittingItem, ShellItem, StockItem
from fleet import audit
from fleet.actions.refusals import Refused
from fleet.calc.keys import text_key
from fleet.models import Person, Site
from fleet.permissions import require


@dataclass(frozen=True, slots=True)
class Parts:
    """Pieces that came in: of one fitting, one shell, or one small part by its name."""

    pieces: Decimal
    fitting: FittingItem | None = None
    shell: ShellItem | None = None
    name: str = ""
    lot: str = ""
    supplier: str = ""
    unit: str = StockItem.Unit.PIECE

    @property
    def thing(self) -> Mapping[str, Any]:
        """What it is, as the columns that name it."""
        if self.fitting is not None:
            return {"fitting": self.fitting}
        return {"shell": self.shell} if self.shell is not None else {"name": self.name.strip()}


@transaction.atomic
def receive_parts(
    *, site: Site, parts: Parts, reference: str = "", person: Person, at: dt.datetime
) -> StockItem:
    """Add pieces to a lot; a lot not met before is begun, a small part has one line. Atomic.

    Refuses: one_thing (none, or two), lot_missing (a fitting or shell without one),
    part_withdrawn, field_wrong, and what `move_stock` refuses. Needs `keep_stock` at the site.
    """
    require(person, "keep_stock", site)
    _refuse_parts(parts)
    item = _line_of(site, parts) or _begin_line(site, parts)
    move_stock(
        item=item,
        kind="received",
        quantity=parts.pieces,
        reference=reference,
        person=person,
        at=at,
    )
    return item


@transaction.atomic
def set_level(
    *, item: StockItem, level: Decimal | None, person: Person, at: dt.datetime
) -> StockItem:
    """Set the level at which a thing is ordered again. Atomic; safe to repeat.

    The level is the thing's, not the lot's: all its lines at the site get it. None: it is not
    watched. Refuses: level_wrong. Needs `keep_stock` at the site.
    """
    require(person, "keep_stock", item.site_id)
    if level is not None and not 0 <= level <= MOST:
        raise Refused("level_wrong", f"A level is 0 to {MOST:,}.", field="level")
    locked = StockItem.objects.select_for_update().get(pk=item.pk)
    before = {"reorder_at": locked.reorder_at}
    lines_of_thing(locked).update(reorder_at=level)
    locked.refresh_from_db()
    deed = audit.Deed("set reorder level", locked, locked.site, before, {"reorder_at": level})
    audit.record(deed, actor=person, at=at)
    return locked


@transaction.atomic
def withdraw_lot(*, item: StockItem, reason: str, person: Person, at: dt.datetime) -> StockItem:
    """Withdraw a lot for a reason: nothing is built from it any more. Atomic.

    Refuses: reason_missing, withdrawn_already, a_reel. Needs `keep_stock` or `withdraw`.
    """
    require_to_withdraw(person, item.site_id)
    if not reason.strip():
        raise Refused("reason_missing", "Say why it is withdrawn.", field="reason")
    if item.reel_id is not None:
        raise Refused("a_reel", "This line is a reel: withdraw the reel itself.")
    locked = StockItem.objects.select_for_update().get(pk=item.pk)
    if locked.withdrawn_at is not None:
        raise Refused("withdrawn_already", f"{locked} is withdrawn already.")
    locked.withdrawn_at, locked.withdrawn_by = at, person
    locked.withdrawal_reason = reason.strip()[:500]
    locked.save(update_fields=["withdrawn_at", "withdrawn_by", "withdrawal_reason"])
    deed = audit.Deed("withdrew lot", locked, locked.site, {}, {"state": "withdrawn"}, reason)
    audit.record(deed, actor=person, at=at)
    return locked


def lines_of_thing(item: StockItem) -> "QuerySet[StockItem]":
    """All lines of the same thing at the same site: the lots of a fitting, the reels of a hose."""
    at_site = StockItem.objects.filter(site=item.site_id)
    if item.reel is not None:
        return at_site.filter(reel__hose=item.reel.hose_id)
    if item.fitting_id or item.shell_id:
        return at_site.filter(fitting=item.fitting_id, shell=item.shell_id, reel=None)
    return at_site.filter(pk=item.pk)


def _refuse_parts(parts: Parts) -> None:
    named = [bool(parts.fitting), bool(parts.shell), bool(text_key(parts.name))]
    if sum(named) != 1:
        raise Refused(
            "one_thing", "Name one thing: a fitting, a shell, or a small part.", field="name"
        )
    part = parts.fitting or parts.shell
    if part is not None and part.withdrawn_at is not None:
        field = "fitting" if parts.fitting else "shell"
        raise Refused("part_withdrawn", f"{part} is withdrawn from the catalogue.", field=field)
    if part is not None and not parts.lot.strip():
        raise Refused(
            "lot_missing",
            "Write the lot from the bag or box: by it a bad lot is found again. Where none is "
            "printed, write the delivery note’s number.",
            field="lot",
        )


def _line_of(site: Site, parts: Parts) -> StockItem | None:
    """The line that these pieces belong to, however its lot or name was typed before."""
    at_site = StockItem.objects.filter(site=site, reel=None)
    if text_key(parts.name):
        return at_site.filter(name_key=text_key(parts.name)).first()
    lots = at_site.filter(**parts.thing)
    return next((one for one in lots if text_key(one.lot) == text_key(parts.lot)), None)


def _begin_line(site: Site, parts: Parts) -> StockItem:
    small = bool(text_key(parts.name))
    item = StockItem(
        **{"site": site, **parts.thing, "supplier": parts.supplier.strip()},
        lot="" if small else parts.lot.strip(),
        unit=parts.unit if small else StockItem.Unit.PIECE,
        reorder_at=_level_before(site, parts),
    )
    refuse_wrong_fields(item)
    try:
        with transaction.atomic():
            item.save(force_insert=True)
    except IntegrityError:
        begun = _line_of(site, parts)
        if begun is None:
            raise
        return begun
    return item


def _level_before(site: Site, parts: Parts) -> Decimal | None:
    if text_key(parts.name):
        return None
    last = StockItem.objects.filter(site=site, **parts.thing).order_by("-pk").first()
    return last.reorder_at if last else None
