"""Proofs of the hoses: one place each, no two at once on a position, figures that add up."""

import datetime as dt
from collections.abc import Iterator
from typing import Any

from django.db.models import Count, F, OuterRef, Q, QuerySet, Subquery, Sum, Value
from django.db.models.functions import Coalesce

from assemblies.models import Assembly, Stay, StockItem, StockMovement
from assemblies.queries.stay_hours import BEGAN_H, ENDED_H, RAN
from fleet.models.fields import ScaledField
from fleet.queries.proofs import register_proof


@register_proof("every assembly is in exactly one place")
def assemblies_are_in_one_place() -> Iterator[str]:
    counted = Assembly.objects.annotate(places=Count("stays", filter=Q(stays__is_open=True)))
    for assembly in counted.exclude(places=1):
        yield f"assembly {assembly.pk} ({assembly}) is in {assembly.places} places"


@register_proof("no position held two assemblies at once")
def positions_held_one() -> Iterator[str]:
    for stay_id in _begun_too_soon("position"):
        stay = Stay.objects.select_related("position", "assembly").get(pk=stay_id)
        yield f"{stay.position} held {stay.assembly} while it held another"


@register_proof("no assembly was in two places at once")
def assemblies_were_in_one_place() -> Iterator[str]:
    for stay_id in _begun_too_soon("assembly"):
        stay = Stay.objects.select_related("assembly").get(pk=stay_id)
        yield f"{stay.assembly} was {stay.get_place_display()} while it was elsewhere too"


def _begun_too_soon(what: str) -> Iterator[int]:
    """Stays that surely began before the one before them ended.

    Of a day that is known only as a span the last is taken, so that no doubt is called a fault.
    """
    began = Stay.objects.exclude(from_latest_on=None).exclude(**{f"{what}_id": None})
    rows = began.order_by(f"{what}_id", "from_latest_on", F("to_on").asc(nulls_last=True), "id")
    subject, held_until = None, dt.date.min
    for of, begins, ends, pk in rows.values_list(f"{what}_id", "from_latest_on", "to_on", "id"):
        if of == subject and begins < held_until:
            yield pk
        earlier = held_until if of == subject else dt.date.min
        subject, held_until = of, max(earlier, ends or dt.date.max)


@register_proof("every assembly's earlier hours are those of its closed stays")
def earlier_hours_add_up() -> Iterator[str]:
    ran = Stay.objects.alias(begin_h=BEGAN_H, end_h=ENDED_H).filter(RAN, is_open=False)
    closed = ran.filter(place=Stay.Place.POSITION, assembly=OuterRef("pk"))
    summed = Assembly.objects.annotate(run_h=_total(closed, ENDED_H - BEGAN_H, 1))
    for assembly in summed.exclude(earlier_h=F("run_h")):
        yield f"{assembly} has {assembly.earlier_h} h, and {assembly.run_h} h in its closed stays"


@register_proof("every stock balance is the sum of its movements")
def balances_add_up() -> Iterator[str]:
    moved = StockMovement.objects.filter(item=OuterRef("pk"))
    summed = StockItem.objects.annotate(moved=_total(moved, F("quantity"), 3))
    for item in summed.exclude(balance=F("moved")):
        yield f"{item} (no. {item.pk}): balance {item.balance}, movements come to {item.moved}"


def _total(rows: "QuerySet[Any]", of: Any, places: int) -> Coalesce:
    """The sum over related rows, as a decimal of so many places; 0 where there is none."""
    kept = ScaledField(places=places, low=-(10**12), high=10**12)
    one = rows.order_by().annotate(all_of_them=Value(1)).values("all_of_them")
    total = one.annotate(total=Sum(of, output_field=kept)).values("total")
    return Coalesce(Subquery(total, output_field=kept), Value(0), output_field=kept)
