"""Measuring an old hose: the guided form, from nothing, from a position, or from a hose."""

import datetime as dt
import json
from typing import Any
from uuid import uuid4

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from assemblies.actions.copies import (
    MEASURERS,
    OldHose,
    keep_measured,
    require_measurer,
    require_measurer_anywhere,
)
from assemblies.calc.lengths import Form
from assemblies.calc.measure_pictures import angle_scene, point_scene
from assemblies.forms.measure import OldHoseForms
from assemblies.models import Assembly, Position
from assemblies.queries.choices import held_by, hose_for, position_for
from assemblies.queries.copies import facts_to_measure, open_place_of
from fleet.actions.refusals import Refused
from fleet.calc.frozen import to_json
from fleet.calc.svg import svg_of
from fleet.models import Person, Site
from fleet.navigation import address_of
from fleet.queries.reach import sites_where
from fleet.views.forms import refuse
from fleet.views.gate import day_at, person_of, politely, today_of


@politely
def measure(request: HttpRequest) -> HttpResponse:
    """An old hose of no machine and no record that the register knows."""
    person = person_of(request)
    require_measurer_anywhere(person)
    sites = {site.pk: site for right in MEASURERS for site in sites_where(person, right)}
    return _measured(request, sites=sites)


@politely
def measure_position(request: HttpRequest, position_id: int) -> HttpResponse:
    """The hose on a position: what the register knows of it stands in the form already."""
    position = position_for(person_of(request), position_id)
    if position is None:
        raise Http404
    return _measured(request, hose=held_by(position), position=position)


@politely
def measure_hose(request: HttpRequest, hose_id: int) -> HttpResponse:
    """A hose of the register without a spec."""
    hose = hose_for(person_of(request), hose_id)
    if hose is None:
        raise Http404
    return _measured(request, hose=hose, position=open_place_of(hose))


def _measured(
    request: HttpRequest,
    *,
    sites: dict[int, Site] | None = None,
    hose: Assembly | None = None,
    position: Position | None = None,
) -> HttpResponse:
    person, now = person_of(request), timezone.now()
    site = hose.site if hose else position.machine.site if position else None
    if site is not None:
        require_measurer(person, site)
    initial = {**facts_to_measure(hose, position), "client_id": uuid4()}
    today = day_at(site, now) if site else today_of(person)
    forms = OldHoseForms(request.POST or None, today=today, sites=sites, initial=initial)
    if "keep" in request.POST and forms.is_valid():
        where = site or _site_of(forms, sites or {})
        kept = _keep(request, forms, (where, hose, position), person, now)
        if kept is not None:
            return kept
    elif request.method == "POST" and "keep" not in request.POST:
        forms.look()
    return _form_page(request, forms, hose=hose, position=position)


def _site_of(forms: OldHoseForms, sites: dict[int, Site]) -> Site:
    chosen = forms.hose.cleaned_data.get("site") or next(iter(sites))
    return sites[chosen]


def _keep(
    request: HttpRequest,
    forms: OldHoseForms,
    on: tuple[Site, Assembly | None, Position | None],
    person: Person,
    now: dt.datetime,
) -> HttpResponse | None:
    """Keep what was measured; what is wrong stands on the form."""
    site, hose, position = on
    same_site = position is not None and position.machine.site_id == site.pk
    given, read = forms.hose.cleaned_data, json.loads(to_json(forms.measured()))
    old = OldHose(
        site,
        given["title"],
        {"typed": forms.typed(), "read": read},
        hose,
        position if same_site else None,
    )
    try:
        copy = keep_measured(old=old, client_id=given["client_id"], person=person, at=now)
    except Refused as refusal:
        refuse(forms.hose, refusal)
        return None
    messages.success(request, "The old hose is kept as you measured it. Add photos of both ends.")
    return redirect("assemblies:measured_hose", copy.pk)


def _form_page(
    request: HttpRequest,
    forms: OldHoseForms,
    *,
    hose: Assembly | None,
    position: Position | None,
) -> HttpResponse:
    looked = request.method == "POST"
    context: dict[str, Any] = {
        "forms": forms,
        "findings": forms.findings() if looked else (),
        "looked": looked,
        "points": [_point(form) for form in Form],
        "angle": svg_of(angle_scene(), prefix="angle"),
        "hose": hose,
        "position": position,
        "up_url": _up(hose, position),
    }
    return render(request, "assemblies/copies/measure.html", context)


def _point(form: Form) -> tuple[str, str]:
    """The picture of where the length runs to on one form of end, and its name."""
    scene = point_scene(form)
    return svg_of(scene, prefix=f"point-{form.value}"), scene.title


def _up(hose: Assembly | None, position: Position | None) -> str:
    if position is not None:
        return address_of("position", position.pk)
    return address_of("hose", hose.pk) if hose else ""
