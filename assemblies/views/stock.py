"""The shelves: lots and small parts, what moves on them, what runs out."""

from decimal import Decimal
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from assemblies.actions.stock import Counting, Kind, count_stock, move_stock, shown_quantity
from assemblies.actions.stores import receive_parts, set_level, withdraw_lot
from assemblies.forms.stock import LevelForm, MoveForm, PartsForm, StockFilterForm
from assemblies.models import StockItem
from assemblies.queries.catalogue import codes
from assemblies.queries.shelves import KIND_WORDS, STANDINGS, runs_out, shelf_line, shelf_lines
from assemblies.queries.stock import (
    movements_of,
    sites_seen,
    sites_to_keep,
    stock_item_for,
    what_it_is,
)
from assemblies.views.shared_things import do_and_return, reader_of, rights_at
from fleet.actions.refusals import Refused
from fleet.models import Person
from fleet.navigation import address_of, deeds_for
from fleet.permissions import NotAllowed, may, require
from fleet.views.forms import refuse
from fleet.views.gate import person_of, politely, today_of
from fleet.views.paging import SIZE, place_of, shown

MOST_SHORT = 300
_OF_THE_STORE = (Kind.COUNTED, Kind.USED, Kind.SCRAPPED, Kind.RETURNED, Kind.RECEIVED)
_OF_THE_BENCH = (Kind.USED, Kind.SCRAPPED, Kind.RETURNED)


@politely
@require_safe
def stock(request: HttpRequest) -> HttpResponse:
    """The lots and small parts of the person's sites."""
    person = reader_of(request)
    standings = [(name, words) for name, (words, _) in STANDINGS.items()]
    form = StockFilterForm(
        request.GET, standings=standings, sites=sites_seen(person), kinds=list(KIND_WORDS.items())
    )
    page = shelf_lines(person, **form.asked(), after=place_of(request, int), size=SIZE)
    context = {
        "form": form,
        "page": shown(request, page),
        "may_receive": bool(sites_to_keep(person)),
        "narrowed": bool(request.GET),
    }
    return render(request, "assemblies/stock/stock.html", context)


@politely
@require_safe
def stock_short(request: HttpRequest) -> HttpResponse:
    """What is at or below the level at which it is ordered again."""
    person = reader_of(request)
    lines = runs_out(person, today=today_of(person))
    context = {"lines": lines[:MOST_SHORT], "further": max(0, len(lines) - MOST_SHORT)}
    return render(request, "assemblies/stock/short.html", context)


@politely
@require_safe
def stock_item(request: HttpRequest, item_id: int) -> HttpResponse:
    """One lot or small part with its ledger. A reel has a page of its own."""
    person, item = person_of(request), _item(request, item_id)
    if item.reel_id is not None:
        return redirect("assemblies:reel", item.reel_id)
    line = shelf_line(item, what_it_is([item])[item.pk])
    kind = "" if line.kind == "small" else f"{line.kind}_lot"
    context = {
        "item": item,
        "line": line,
        "moved": shown(request, movements_of(item, after=place_of(request, int), size=SIZE)),
        **rights_at(person, item.site_id),
        "level_form": LevelForm(initial={"level": item.reorder_at}),
        "deeds": deeds_for(kind, item.pk, person=person, site_id=item.site_id) if kind else [],
    }
    return render(request, "assemblies/stock/item.html", context)


@politely
def stock_receive(request: HttpRequest) -> HttpResponse:
    """Pieces that came in."""
    person = person_of(request)
    sites = sites_to_keep(person)
    if not sites:
        raise NotAllowed("This needs the right “keep stock” at one of your sites.")
    form = PartsForm(request.POST or None, sites=sites, initial=request.GET.dict())
    if request.method == "POST" and form.is_valid():
        try:
            item = receive_parts(
                site=form.chosen_site,
                parts=form.parts(),
                reference=form.cleaned_data["reference"],
                person=person,
                at=timezone.now(),
            )
        except Refused as refusal:
            refuse(form, _at(refusal, "pieces"))
        else:
            left = shown_quantity(item.balance, item.unit)
            messages.success(request, f"{item}: {left} there now.")
            return redirect("assemblies:stock_item", item.pk)
    suggestions = {slug: codes(slug) for slug in ("fitting", "shell")}
    context = {"form": form, "suggestions": suggestions}
    return render(request, "assemblies/stock/receive.html", context)


@politely
def stock_move(request: HttpRequest, item_id: int) -> HttpResponse:
    """One movement of one line: counted, used, scrapped, come back, come in."""
    person, item = person_of(request), _item(request, item_id)
    form = MoveForm(request.POST or None, item=item, kinds=_kinds(person, item))
    if request.method == "POST" and form.is_valid():
        try:
            said = _move(item, form, person)
        except Refused as refusal:
            refuse(form, refusal)
        else:
            messages.success(request, said)
            return redirect("assemblies:stock_item", item_id)
    back = (
        reverse("assemblies:reel", args=[item.reel_id])
        if item.reel_id
        else reverse("assemblies:stock_item", args=[item_id])
    )
    context = {"form": form, "item": item, "back": back, "left": _left(item)}
    return render(request, "assemblies/stock/move.html", context)


@politely
@require_POST
def stock_level(request: HttpRequest, item_id: int) -> HttpResponse:
    """Setting the level at which a thing is ordered again."""
    person, item = person_of(request), _item(request, item_id)
    form = LevelForm(request.POST)
    if not form.is_valid():
        messages.error(request, str(form.errors["level"][0]))
        return redirect("assemblies:stock_item", item_id)
    level: Decimal | None = form.cleaned_data["level"]
    return do_and_return(
        request,
        lambda: set_level(item=item, level=level, person=person, at=timezone.now()),
        done="Not watched any more." if level is None else f"Ordered again at {level:f}.",
        back=reverse("assemblies:stock_item", args=[item_id]),
    )


@politely
@require_POST
def stock_withdraw(request: HttpRequest, item_id: int) -> HttpResponse:
    """Withdrawing a small part, for a reason; of a reel or a lot the hoses are looked at first."""
    person, item = person_of(request), _item(request, item_id)
    if item.reel_id or item.fitting_id or item.shell_id:
        return redirect(_beside_its_hoses(item))
    reason = request.POST.get("reason", "")
    return do_and_return(
        request,
        lambda: withdraw_lot(item=item, reason=reason, person=person, at=timezone.now()),
        done=f"{item} is withdrawn: nothing more is built from it.",
        back=reverse("assemblies:stock_item", args=[item_id]),
    )


def _beside_its_hoses(item: StockItem) -> str:
    """The page that withdraws a reel or a lot beside the hoses that came of it."""
    if item.reel_id is not None:
        page = address_of("withdraw_reel", item.reel_id)
    else:
        kind = "fitting_lot" if item.fitting_id is not None else "shell_lot"
        page = address_of(f"withdraw_{kind}", item.pk)
    return page or reverse("assemblies:stock_item", args=[item.pk])


def _move(item: StockItem, form: MoveForm, person: Person) -> str:
    """Do what the form says; the sentence that tells it, with both figures of a count."""
    given = form.cleaned_data
    by: dict[str, Any] = {"person": person, "at": timezone.now()}
    kind, note = given["kind"], given["note"]
    if kind != Kind.COUNTED:
        signed, reference = form.signed, given["reference"]
        move_stock(item=item, kind=kind, quantity=signed, reference=reference, note=note, **by)
        return f"{item}: {_left(item)} left."
    told = count_stock(item=item, counted=given["quantity"], seen=given["seen"], note=note, **by)
    return _counted(told, item.unit)


def _counted(told: Counting, unit: str) -> str:
    """What a count came to, with both figures."""
    book, counted = (shown_quantity(n, unit) for n in (told.before, told.counted))
    if told.movement is None:
        return f"The book said {book}, and so does the count."
    change = shown_quantity(abs(told.difference), unit)
    way = "more" if told.difference > 0 else "less"
    return f"The book said {book}, you counted {counted}: {change} {way} is written down."


def _kinds(person: Person, item: StockItem) -> list[str]:
    """What the person may write down of a line; raises `NotAllowed` where it is nothing."""
    keeps = may(person, "keep_stock", item.site_id)
    if not keeps:
        require(person, "build", item.site_id)
    kinds = _OF_THE_STORE if keeps else _OF_THE_BENCH
    withdrawn = item.withdrawn_at is not None
    barred = {Kind.USED, Kind.RETURNED, Kind.RECEIVED} if withdrawn else set()
    barred |= {Kind.RECEIVED} if item.reel_id else set()
    return [kind for kind in kinds if kind not in barred]


def _left(item: StockItem) -> str:
    return shown_quantity(item.balance, item.unit)


def _at(refusal: Refused, field: str) -> Refused:
    """A refused quantity stands at the box that this form has for it."""
    here = field if refusal.field == "quantity" else refusal.field
    return Refused(refusal.code, refusal.sentence, field=here)


def _item(request: HttpRequest, item_id: int) -> StockItem:
    found = stock_item_for(person_of(request), item_id)
    if found is None:
        raise Http404
    return found
