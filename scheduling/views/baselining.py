"""First registration on a phone: begun, told place by place, and what reads several ways."""

import datetime as dt
from uuid import uuid4

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from assemblies.actions.found_hoses import settle_reading
from assemblies.models import Position
from assemblies.queries.choices import hose_for, position_for
from fleet.actions.refusals import Refused
from fleet.permissions import require
from fleet.queries.reach import machine_for
from fleet.views.gate import day_at, person_of, politely
from scheduling.actions.baselining import Place, register_here, tell_empty
from scheduling.actions.rounds import begin_round
from scheduling.forms.baselining import EmptyForm, RegisterForm, SettleForm
from scheduling.models import Round
from scheduling.queries.rounds import open_round_of
from scheduling.views.round_deeds import told
from scheduling.views.rounds import seen_round


@politely
def register_begin(request: HttpRequest, machine_id: int) -> HttpResponse:
    """Beginning to register what is on a machine, or going on with it."""
    person, now = person_of(request), timezone.now()
    machine = machine_for(person, machine_id)
    if machine is None:
        raise Http404
    require(person, "fit_hoses", machine.site_id)
    if request.method == "POST":
        today = day_at(machine.site, now)
        purpose = Round.Purpose.REGISTER
        try:
            held = begin_round(machine=machine, purpose=purpose, person=person, today=today, at=now)
        except Refused as refusal:
            messages.error(request, refusal.sentence)
            return redirect("scheduling:machine", machine.pk)
        return redirect("scheduling:round", held.pk)
    context = {"machine": machine, "open": open_round_of(machine, Round.Purpose.REGISTER)}
    return render(request, "scheduling/rounds/register_begin.html", context)


@politely
def register_place(request: HttpRequest, round_id: int) -> HttpResponse:
    """One place's form as a page of its own, for a browser without scripts."""
    held = seen_round(person_of(request), round_id)
    require(person_of(request), "fit_hoses", held.site_id)
    asked = request.GET.get("position", "")
    position = _position(request, int(asked[:18]) if asked.isdecimal() else None)
    initial = {"client_id": uuid4().hex[:20], "position": position.pk if position else None}
    context = {"form": RegisterForm(initial=initial), "round": held}
    return render(request, "scheduling/rounds/place.html", context)


@require_POST
@politely
def register_told(request: HttpRequest, round_id: int) -> HttpResponse:
    """What was found at one place."""
    person = person_of(request)
    held, form = seen_round(person, round_id), RegisterForm(request.POST, request.FILES)

    def tell(on: dt.date, now: dt.datetime) -> None:
        position = _position(request, form.cleaned_data["position"])
        place = Place(position) if position else Place(facts=form.place_facts())
        register_here(
            round_=held,
            place=place,
            told=form.told(on),
            person=person,
            today=day_at(held.site, now),
            at=now,
        )

    return told(request, held, form, tell)


@require_POST
@politely
def register_empty(request: HttpRequest, round_id: int) -> HttpResponse:
    """A place that holds no hose."""
    held, form = seen_round(person_of(request), round_id), EmptyForm(request.POST)

    def tell(_on: dt.date, now: dt.datetime) -> None:
        position = _position(request, form.cleaned_data["position"])
        if position is None:
            raise Http404
        tell_empty(round_=held, position=position, person=person_of(request), at=now)

    return told(request, held, form, tell)


@require_POST
@politely
def reading_meant(request: HttpRequest, hose_id: int) -> HttpResponse:
    """How something read off a hose is meant."""
    person, now = person_of(request), timezone.now()
    hose, form = hose_for(person, hose_id), SettleForm(request.POST)
    if hose is None or not form.is_valid():
        raise Http404
    today = day_at(hose.site, now)
    try:
        settle_reading(assembly=hose, said=form.said(), person=person, today=today, at=now)
    except Refused as refusal:
        messages.error(request, refusal.sentence)
    else:
        messages.success(request, f"{hose}: it is written down as you say.")
    back = request.GET.get("round", "")
    if back.isdecimal() and len(back) < 19:
        return redirect("scheduling:round", int(back))
    return redirect("scheduling:hose", hose_id)


def _position(request: HttpRequest, position_id: int | None) -> Position | None:
    """The place that is named, where the person may see it; None where none is."""
    if position_id is None:
        return None
    found = position_for(person_of(request), position_id)
    if found is None:
        raise Http404
    return found
