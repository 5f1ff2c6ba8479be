"""Reels: received with what their marks say, dated, withdrawn."""

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db import IntegrityError, transaction

from assemblies.actions.revisions import refuse_wrong_fields
from assemblies.actions.stock import move_stock
from assemblies.calc.day_ranges import DayRange
from assemblies.calc.reel_receipt import layline_differs
from assemblies.models import Assembly, HoseItem, HoseRevision, Reel, StockItem
from assemblies.queries.parts import counting
from assemblies.signals import assembly_changed
from fleet import audit
from fleet.actions.refusals import Refused
from fleet.calc.keys import text_key
from fleet.models import PaperCounter, Person, Site
from fleet.permissions import require

_COUNTER = "reel"


@dataclass(frozen=True, slots=True)
class Delivery:
    """What came in: one length of one hose, and what was read and measured on it.

    An empty code draws the next number. `looked` says that a layline which names another hose
    was looked at, and that it is this hose all the same.
    """

    hose: HoseItem
    delivered_m: Decimal
    received_on: dt.date
    code: str = ""
    supplier: str = ""
    layline: str = ""
    made: DayRange | None = None
    made_typed: str = ""
    reinforcement_mm: Decimal | None = None
    looked: bool = False


@transaction.atomic
def receive_reel(
    *, site: Site, delivery: Delivery, person: Person, at: dt.datetime, today: dt.date
) -> Reel:
    """Put a reel into the stock, with its first movement. Atomic.

    Refuses: hose_withdrawn, length_missing, received_to_come, made_after_received,
    not_this_hose (the layline says so), code_taken, field_wrong. Needs `keep_stock` at the site.
    """
    require(person, "keep_stock", site)
    _refuse_delivery(delivery, today)
    reel = Reel(
        **{"site": site, "code": delivery.code.strip() or _next_code(site)},
        **{"hose": delivery.hose, "supplier": delivery.supplier.strip()},
        **{"received_on": delivery.received_on, "delivered_m": delivery.delivered_m},
        **{"layline": delivery.layline.strip()},
        reinforcement_diameter_mm=delivery.reinforcement_mm,
        **_made_columns(delivery.made, delivery.made_typed or delivery.layline, person),
    )
    _save_once(reel)
    item = StockItem.objects.create(
        **{"site": site, "reel": reel, "supplier": reel.supplier, "unit": "metre"},
        reorder_at=_level_of(site, delivery.hose),
    )
    move_stock(item=item, kind="received", quantity=reel.delivered_m, person=person, at=at)
    after = {"hose": reel.hose, "made": reel.made_earliest_on, "looked": delivery.looked}
    audit.record(audit.Deed("received reel", reel, site, {}, after), actor=person, at=at)
    return reel


@transaction.atomic
def date_reel(*, reel: Reel, made: DayRange, typed: str, person: Person, at: dt.datetime) -> Reel:
    """Say when a reel's hose was made, or say it better. Atomic; safe to repeat.

    Hoses built from it that had the reel's day get the new one. Refuses: made_after_received.
    Sends `assembly_changed`. Needs `keep_stock` at the site.
    """
    require(person, "keep_stock", reel.site_id)
    locked = Reel.objects.select_for_update().get(pk=reel.pk)
    _refuse_made_late(made, locked.received_on)
    before = {name: getattr(locked, name) for name in _MADE}
    for name, value in _made_columns(made, typed, person).items():
        setattr(locked, name, value)
    locked.save(update_fields=[*_MADE, "made_pattern", "made_confirmed_by"])
    after = {name: getattr(locked, name) for name in _MADE}
    deed = audit.Deed("dated reel", locked, locked.site, before, after)
    audit.record(deed, actor=person, at=at)
    _date_hoses(locked, before, after, person, at)
    return locked


@transaction.atomic
def withdraw_reel(*, reel: Reel, reason: str, person: Person, at: dt.datetime) -> Reel:
    """Withdraw a reel for a reason: nothing is built from it any more. Atomic.

    Refuses: reason_missing, withdrawn_already. Needs `keep_stock` or `withdraw` at the site.
    """
    require_to_withdraw(person, reel.site_id)
    if not reason.strip():
        raise Refused("reason_missing", "Say why it is withdrawn.", field="reason")
    locked = Reel.objects.select_for_update().get(pk=reel.pk)
    if locked.withdrawn_at is not None:
        raise Refused("withdrawn_already", f"Reel {locked} is withdrawn already.")
    said = {"withdrawn_at": at, "withdrawn_by": person, "withdrawal_reason": reason.strip()[:500]}
    for row in (locked, *StockItem.objects.select_for_update().filter(reel=locked)):
        for name, value in said.items():
            setattr(row, name, value)
        row.save(update_fields=list(said))
    deed = audit.Deed("withdrew reel", locked, locked.site, {}, {"state": "withdrawn"}, reason)
    audit.record(deed, actor=person, at=at)
    return locked


def require_to_withdraw(person: Person, site_id: int) -> None:
    """Who keeps the stock withdraws from it, and who withdraws for safety."""
    if "withdraw" not in person.capabilities_at(site_id):
        require(person, "keep_stock", site_id)


_MADE = ("made_earliest_on", "made_latest_on", "made_precision", "made_typed")


def _made_columns(made: DayRange | None, typed: str, person: Person) -> dict[str, Any]:
    if made is None:
        return {"made_typed": ""}
    return {
        "made_earliest_on": made.earliest,
        "made_latest_on": made.latest,
        "made_precision": made.precision,
        "made_typed": typed.strip()[:60],
        "made_pattern": made.pattern,
        "made_confirmed_by": person,
    }


def _refuse_delivery(delivery: Delivery, today: dt.date) -> None:
    hose = delivery.hose
    if hose.withdrawn_at is not None:
        raise Refused("hose_withdrawn", f"{hose} is withdrawn from the catalogue.", field="hose")
    if delivery.delivered_m <= 0:
        raise Refused("length_missing", "A reel has a length above nought.", field="delivered_m")
    if delivery.received_on > today:
        raise Refused(
            "received_to_come",
            f"{delivery.received_on.isoformat()} is still to come: write the day it came in.",
            field="received_on",
        )
    _refuse_made_late(delivery.made, delivery.received_on)
    _refuse_another_hose(delivery)


def _refuse_made_late(made: DayRange | None, received_on: dt.date) -> None:
    if made is not None and made.earliest > received_on:
        raise Refused(
            "made_after_received",
            f"Made {made}, received {received_on.isoformat()}: one of the two is wrong.",
            field="made_typed",
        )


def _refuse_another_hose(delivery: Delivery) -> None:
    revision = counting(HoseRevision, [delivery.hose.pk]).get(delivery.hose.pk)
    if revision is None or delivery.looked:
        return
    said = layline_differs(delivery.layline, revision.standard_type, revision.size_dn)
    if said:
        raise Refused(
            "not_this_hose",
            f"{' '.join(said)} Choose the right hose; if it is {delivery.hose} all the same, "
            "tick that you looked.",
            field="looked",
        )


def _save_once(reel: Reel) -> None:
    refuse_wrong_fields(reel)
    try:
        with transaction.atomic():
            reel.save(force_insert=True)
    except IntegrityError as error:
        raise Refused(
            "code_taken", f"{reel.site} has a reel {reel.code} already.", field="code"
        ) from error


def _next_code(site: Site) -> str:
    """The next free number of the site's reels; the counter's row is held until the end."""
    PaperCounter.objects.get_or_create(site=site, kind=_COUNTER)
    counter = PaperCounter.objects.select_for_update().get(site=site, kind=_COUNTER)
    while True:
        counter.last_number += 1
        code = f"{site.code}-R{counter.last_number:04}"
        if not Reel.objects.filter(site=site, code_key=text_key(code)).exists():
            counter.save(update_fields=["last_number"])
            return code


def _level_of(site: Site, hose: HoseItem) -> Decimal | None:
    """The level at which this hose is ordered again, from the last reel of it."""
    last = StockItem.objects.filter(site=site, reel__hose=hose).order_by("-pk").first()
    return last.reorder_at if last else None


def _date_hoses(
    reel: Reel, before: dict[str, Any], after: dict[str, Any], person: Person, at: dt.datetime
) -> None:
    """Carry the day over to the hoses that had it from this reel."""
    if before == after:
        return
    same = {name: before[name] for name in ("made_earliest_on", "made_latest_on")}
    hoses = list(Assembly.objects.select_for_update().filter(build__reel=reel, **same))
    for hose in hoses:
        for name in _MADE:
            setattr(hose, name, after[name])
        hose.made_confirmed_by = person
        hose.version += 1
    Assembly.objects.bulk_update(hoses, [*_MADE, "made_confirmed_by", "version"], batch_size=500)
    deeds = [audit.Deed("dated hose by its reel", one, one.site, before, after) for one in hoses]
    audit.record_many(deeds, actor=person, at=at)
    if hoses:
        assembly_changed.send(sender=Assembly, assembly_ids=[one.pk for one in hoses], at=at)
