"""The stock ledger: every movement changes its item's balance, in the same transaction.

Of two who take the last metre at once one gets it; the other is told what is left.
"""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from django.db import transaction
from django.db.models import F, Value

from assemblies.models import Reel, StockItem, StockMovement
from fleet import audit
from fleet.actions.refusals import Refused
from fleet.models import Person
from fleet.models.fields import ScaledField
from fleet.permissions import may, require

Kind = StockMovement.Kind
MOST: Final = Decimal(100_000)
"""The most that one movement moves, pieces or metres: beyond it a figure is a slip (our own)."""
OVERLENGTH: Final = Decimal("1.1")
"""How far a reel may be counted above what was delivered: reels run long (our own bound)."""

_QUANTITY = ScaledField(places=3, low=-(10**9))
_IN: Final = frozenset({Kind.RECEIVED, Kind.RETURNED})
_OUT: Final = frozenset({Kind.USED, Kind.SCRAPPED})
# What the bench does by itself as it builds; the rest is the store's.
_AT_THE_BENCH: Final = frozenset({Kind.USED, Kind.SCRAPPED, Kind.RETURNED})
_DEEDS: Final = {
    Kind.RECEIVED: "received stock",
    Kind.USED: "used stock",
    Kind.SCRAPPED: "scrapped stock",
    Kind.COUNTED: "counted stock",
    Kind.RETURNED: "returned stock",
}


@dataclass(frozen=True, slots=True)
class Counting:
    """What a count found: the book's figure, the counted one, the movement between them."""

    before: Decimal
    counted: Decimal
    movement: StockMovement | None

    @property
    def difference(self) -> Decimal:
        return self.counted - self.before


@transaction.atomic
def move_stock(
    *,
    item: StockItem,
    kind: str,
    quantity: Decimal,
    reference: str = "",
    note: str = "",
    person: Person | None,
    at: dt.datetime,
) -> StockMovement:
    """Write one movement and change the balance with it. Atomic; not safe to repeat.

    `quantity` is signed: in is above nought, out below. Refuses: quantity_wrong (nought, the
    wrong sign, too large, parts of a piece), item_withdrawn (nothing is used from it or added to
    it), not_enough (with the figures), reel_overfull. Needs `keep_stock` at the site; to use,
    scrap or return `build` will do. `person` None is the register itself.
    """
    _require(person, item.site_id, kind)
    locked = _locked(item)
    _refuse_quantity(locked, kind, quantity)
    _refuse_withdrawn(locked, kind)
    _refuse_overfull(locked, kind, quantity)
    before = locked.balance
    _change_balance(locked, quantity)
    movement = StockMovement(
        **{"item": locked, "kind": kind, "quantity": quantity, "moved_at": at},
        **{"moved_by": person, "reference": reference.strip()[:120], "note": note.strip()[:300]},
    )
    movement.save(force_insert=True)
    after = {"balance": locked.balance, "quantity": quantity, "reference": movement.reference}
    _tell(Kind(kind), locked, {"balance": before}, after, person=person, at=at, note=note)
    item.balance = locked.balance
    return movement


def use_from_reel(
    *, reel: Reel, metres: Decimal, reference: str, person: Person | None, at: dt.datetime
) -> StockMovement:
    """Take hose off a reel to build with. Refuses what `move_stock` refuses, and not_kept."""
    item = _item_of(reel)
    return _take(item, Kind.USED, metres, reference, person=person, at=at)


def use_pieces(
    *,
    item: StockItem,
    pieces: Decimal | int,
    reference: str,
    person: Person | None,
    at: dt.datetime,
) -> StockMovement:
    """Take pieces from a lot to build with. Refuses what `move_stock` refuses."""
    return _take(item, Kind.USED, Decimal(pieces), reference, person=person, at=at)


def scrap_from_reel(
    *, reel: Reel, metres: Decimal, reference: str, person: Person | None, at: dt.datetime
) -> StockMovement:
    """Write off spoiled hose of a reel. Refuses what `move_stock` refuses, and not_kept."""
    item = _item_of(reel)
    return _take(item, Kind.SCRAPPED, metres, reference, person=person, at=at)


def scrap_pieces(
    *,
    item: StockItem,
    pieces: Decimal | int,
    reference: str,
    person: Person | None,
    at: dt.datetime,
) -> StockMovement:
    """Write off spoiled pieces of a lot. Refuses what `move_stock` refuses."""
    return _take(item, Kind.SCRAPPED, Decimal(pieces), reference, person=person, at=at)


@transaction.atomic
def count_stock(
    *,
    item: StockItem,
    counted: Decimal,
    seen: Decimal,
    note: str = "",
    person: Person,
    at: dt.datetime,
) -> Counting:
    """Set the balance to what was counted, by a movement of the difference. Atomic.

    `seen` is the book's figure that the person had before them: where it has changed since, the
    count may be of before or after, and is asked for again. A count that agrees writes no
    movement, but stands in the trail. Refuses: moved_meanwhile, and what `move_stock` refuses.
    Needs `keep_stock` at the site.
    """
    _require(person, item.site_id, Kind.COUNTED)
    locked = _locked(item)
    if locked.balance != seen:
        raise Refused(
            "moved_meanwhile",
            f"The book said {_shown(locked, seen)} when you began; it says "
            f"{_shown(locked, locked.balance)} now. Count again, or add what was moved.",
            field="quantity",
        )
    if counted < 0:
        raise _wrong(f"A count is nought or more, not {counted.normalize():f}.")
    if counted == locked.balance:
        figures = {"balance": counted}
        _tell(Kind.COUNTED, locked, figures, figures, person=person, at=at, note=note)
        return Counting(seen, counted, None)
    movement = move_stock(
        item=item, kind=Kind.COUNTED, quantity=counted - seen, note=note, person=person, at=at
    )
    return Counting(seen, counted, movement)


def _take(
    item: StockItem,
    kind: Kind,
    amount: Decimal,
    reference: str,
    *,
    person: Person | None,
    at: dt.datetime,
) -> StockMovement:
    return move_stock(
        item=item, kind=kind, quantity=-amount, reference=reference, person=person, at=at
    )


def _item_of(reel: Reel) -> StockItem:
    item = StockItem.objects.filter(reel=reel).first()
    if item is None:
        raise Refused("not_kept", f"Reel {reel} has no line in the stock: receive it first.")
    return item


def _require(person: Person | None, site_id: int, kind: str) -> None:
    if person is None or (kind in _AT_THE_BENCH and may(person, "build", site_id)):
        return
    require(person, "keep_stock", site_id)


def _locked(item: StockItem) -> StockItem:
    rows = StockItem.objects.select_related("site", "fitting", "shell", "reel")
    return rows.select_for_update(of=("self",)).get(pk=item.pk)


def _refuse_quantity(item: StockItem, kind: str, quantity: Decimal) -> None:
    if quantity == 0:
        raise _wrong("Nothing would move: write a figure above nought.")
    if (kind in _IN and quantity < 0) or (kind in _OUT and quantity > 0):
        raise _wrong("Write the amount as a figure above nought.")
    if abs(quantity) > MOST:
        raise _wrong(f"{_shown(item, abs(quantity))} is more than {MOST:,} at once: look again.")
    if item.unit == StockItem.Unit.PIECE and quantity != quantity.to_integral_value():
        raise _wrong(f"{item} is counted in whole pieces, not {abs(quantity).normalize():f}.")
    if quantity.quantize(_QUANTITY.step) != quantity:
        raise _wrong("A length is kept to the millimetre: write three decimals at most.")


def _refuse_withdrawn(item: StockItem, kind: str) -> None:
    if item.withdrawn_at is None or kind in (Kind.SCRAPPED, Kind.COUNTED):
        return
    why = item.withdrawal_reason
    raise Refused(
        "item_withdrawn",
        f"{item} is withdrawn ({why}): nothing is built from it. What is left can be counted "
        "or scrapped.",
    )


def _refuse_overfull(item: StockItem, kind: str, quantity: Decimal) -> None:
    reel = item.reel
    if reel is None or quantity < 0 or kind == Kind.RECEIVED:
        return
    most = reel.delivered_m * (OVERLENGTH if kind == Kind.COUNTED else 1)
    if item.balance + quantity > most:
        raise Refused(
            "reel_overfull",
            f"Reel {reel} was delivered with {_shown(item, reel.delivered_m)}: it can’t hold "
            f"{_shown(item, item.balance + quantity)}. A further delivery is a reel of its own.",
            field="quantity",
        )


def _change_balance(item: StockItem, quantity: Decimal) -> None:
    """Change the balance only where it stays at nought or above, whoever else is at it."""
    there = StockItem.objects.filter(pk=item.pk, balance__gte=-quantity)
    if not there.update(balance=F("balance") + Value(quantity, output_field=_QUANTITY)):
        item.refresh_from_db(fields=["balance"])
        raise Refused(
            "not_enough",
            f"{item} has {_shown(item, item.balance)} left, {_shown(item, -quantity)} is wanted.",
            field="quantity",
        )
    item.refresh_from_db(fields=["balance"])


def _wrong(sentence: str) -> Refused:
    return Refused("quantity_wrong", sentence, field="quantity")


def _shown(item: StockItem, quantity: Decimal) -> str:
    return shown_quantity(quantity, item.unit)


def shown_quantity(quantity: Decimal, unit: str) -> str:
    """A quantity with its unit, as sentences write it: `12.5 m`, `1 piece`, `40 pieces`."""
    figure = f"{quantity.normalize():f}"
    if unit == StockItem.Unit.METRE:
        return f"{figure} m"
    return f"{figure} piece{'s' * (abs(quantity) != 1)}"


def _tell(
    kind: Kind,
    item: StockItem,
    before: Mapping[str, object],
    after: Mapping[str, object],
    *,
    person: Person | None,
    at: dt.datetime,
    note: str,
) -> None:
    deed = audit.Deed(_DEEDS[kind], item, item.site, before, after, note.strip()[:300])
    audit.record(deed, actor=person, at=at)
