"""Reels: the list, one with its age and what was built from it, received, dated."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from assemblies.actions.reels import date_reel, receive_reel
from assemblies.forms.stock import LevelForm, ReelDateForm, ReelForm, StockFilterForm
from assemblies.models import Reel
from assemblies.queries.catalogue import codes
from assemblies.queries.reels import STANDINGS, reel_for, reel_lines, reel_page
from assemblies.queries.stock import movements_of, sites_seen, sites_to_keep
from assemblies.views.shared_things import reader_of, rights_at
from fleet.navigation import deeds_for
from fleet.permissions import NotAllowed, require
from fleet.views.forms import tried
from fleet.views.gate import day_at, person_of, politely, today_of
from fleet.views.paging import SIZE, place_of, shown


@politely
@require_safe
def reels(request: HttpRequest) -> HttpResponse:
    """The reels of the person's sites, those with hose left first of all."""
    person = reader_of(request)
    standings = [(name, words) for name, (words, _) in STANDINGS.items()]
    form = StockFilterForm(request.GET, standings=standings, sites=sites_seen(person))
    page = reel_lines(
        person,
        **form.asked(),
        after=place_of(request, str, int),
        size=SIZE,
        today=today_of(person),
    )
    context = {
        "form": form,
        "page": shown(request, page),
        "may_receive": bool(sites_to_keep(person)),
        "narrowed": bool(request.GET),
    }
    return render(request, "assemblies/stock/reels.html", context)


@politely
@require_safe
def reel(request: HttpRequest, reel_id: int) -> HttpResponse:
    """One reel: how old, how its wire measured, what is left, what moved, what was built."""
    person = person_of(request)
    today = day_at(_reel(request, reel_id).site)
    page = reel_page(person, reel_id, today=today)
    if page is None:
        raise Http404
    site_id, item = page.reel.site_id, page.item
    after = place_of(request, int)
    context = {
        "page": page,
        "moved": shown(request, movements_of(item, after=after, size=SIZE)) if item else None,
        "deeds": deeds_for("reel", reel_id, person=person, site_id=site_id),
        "level_form": LevelForm(initial={"level": item.reorder_at if item else None}),
        **rights_at(person, site_id),
    }
    return render(request, "assemblies/stock/reel.html", context)


@politely
def reel_receive(request: HttpRequest) -> HttpResponse:
    """A reel that came in: one page, its marks read, what they leave open asked."""
    person, now = person_of(request), timezone.now()
    sites = sites_to_keep(person)
    if not sites:
        raise NotAllowed("This needs the right “keep stock” at one of your sites.")
    form = ReelForm(request.POST or None, sites=sites, initial={"received_on": day_at(sites[0])})
    if request.method == "POST" and form.is_valid():
        site, delivery = form.chosen_site, form.delivery()
        on: dict[str, Any] = {"at": now, "today": day_at(site, now)}
        made = tried(form, lambda: receive_reel(site=site, delivery=delivery, person=person, **on))
        if made is not None:
            messages.success(request, f"Reel {made} is in the stock: write {made} on it.")
            return redirect("assemblies:reel", made.pk)
    context = {"form": form, "suggestions": {"hose": codes("hose")}}
    return render(request, "assemblies/stock/reel_receive.html", context)


@politely
def reel_date(request: HttpRequest, reel_id: int) -> HttpResponse:
    """A better day for when the hose was made."""
    person, found = person_of(request), _reel(request, reel_id)
    require(person, "keep_stock", found.site_id)
    form = ReelDateForm(
        request.POST or None,
        received_on=found.received_on,
        initial={"made_typed": found.made_typed if len(found.made_typed) < 20 else ""},
    )
    if request.method == "POST" and form.is_valid():
        made, typed, now = (
            form.cleaned_data["made"],
            form.cleaned_data["made_typed"],
            timezone.now(),
        )
        if tried(
            form, lambda: date_reel(reel=found, made=made, typed=typed, person=person, at=now)
        ):
            messages.success(request, f"Reel {found}: made {made}.")
            return redirect("assemblies:reel", reel_id)
    return render(request, "assemblies/stock/reel_date.html", {"form": form, "reel": found})


def _reel(request: HttpRequest, reel_id: int) -> Reel:
    found = reel_for(person_of(request), reel_id)
    if found is None:
        raise Http404
    return found
