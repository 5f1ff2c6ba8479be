"""Fitting, swapping, taking off, tagging: work at the machine, told to the register."""

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from assemblies.actions.fitting_up import fit_here, remove_here, swap_here
from assemblies.actions.tags import bind_tag
from assemblies.forms.fitting_up import FitForm, SwapForm, TagForm, TakeOffForm
from assemblies.models import Assembly, Position
from assemblies.queries.choices import held_by, hose_for, hoses_to_fit, position_for
from fleet.actions.refusals import Refused
from fleet.navigation import address_of
from fleet.permissions import require
from fleet.views.forms import refuse
from fleet.views.gate import day_at, person_of, politely


@politely
def fit(request: HttpRequest, position_id: int) -> HttpResponse:
    """A hose goes on an empty position."""
    person, now = person_of(request), timezone.now()
    position = _position(request, position_id)
    site = position.machine.site
    form = FitForm(
        request.POST or None,
        person=person,
        choices=hoses_to_fit(position),
        initial={"on": day_at(site, now)},
    )
    if request.method == "POST" and form.is_valid() and form.hose:
        when = form.when(site, now)
        try:
            fit_here(assembly=form.hose, position=position, when=when, person=person, now=now)
        except Refused as refusal:
            refuse(form, refusal)
        else:
            messages.success(request, f"{form.hose} is on {position}.")
            return redirect(address_of("position", position.pk))
    return _page(request, form, position, "Fit a hose", "It is on")


@politely
def swap(request: HttpRequest, position_id: int) -> HttpResponse:
    """One hose off, another on, in one go."""
    person, now = person_of(request), timezone.now()
    position = _position(request, position_id)
    site = position.machine.site
    form = SwapForm(
        request.POST or None,
        person=person,
        choices=hoses_to_fit(position),
        initial={"on": day_at(site, now), **_off_begins(request)},
    )
    if request.method == "POST" and form.is_valid() and form.hose:
        when, off, hose = form.when(site, now), form.off(), form.hose
        try:
            swap_here(position=position, new=hose, off=off, when=when, person=person, now=now)
        except Refused as refusal:
            refuse(form, refusal)
        else:
            messages.success(request, f"{hose} is on {position}; the old one is off.")
            return redirect(address_of("position", position.pk))
    return _page(request, form, position, "Swap the hose", "It is swapped")


@politely
def take_off(request: HttpRequest, position_id: int) -> HttpResponse:
    """A hose comes off and nothing goes on."""
    person, now = person_of(request), timezone.now()
    position = _position(request, position_id)
    site = position.machine.site
    begins = {"on": day_at(site, now), **_off_begins(request)}
    form = TakeOffForm(request.POST or None, initial=begins)
    if request.method == "POST" and form.is_valid():
        when, off = form.when(site, now), form.off()
        try:
            remove_here(position=position, off=off, when=when, person=person, now=now)
        except Refused as refusal:
            refuse(form, refusal)
        else:
            messages.success(request, f"Nothing is on {position} now.")
            return redirect(address_of("position", position.pk))
    return _page(request, form, position, "Take the hose off", "It is off")


@politely
def tag(request: HttpRequest, hose_id: int) -> HttpResponse:
    """A tag is bound to a hose that has none."""
    person, now = person_of(request), timezone.now()
    hose = _hose(request, hose_id)
    form = TagForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        typed = form.cleaned_data["tag"].rsplit("/t/", 1)[-1]
        try:
            bound = bind_tag(assembly=hose, typed=typed, person=person, at=now)
        except Refused as refusal:
            refuse(form, refusal)
        else:
            messages.success(request, f"The tag {bound.tag_id} is bound. It never changes again.")
            return redirect(address_of("hose", hose.pk))
    return render(request, "assemblies/tag_form.html", {"form": form, "hose": hose})


def _off_begins(request: HttpRequest) -> dict[str, str]:
    """What stands chosen at first: a hose that failed goes to the bench, to be examined."""
    failed = request.GET.get("why") == "failed"
    return {"removal": "failed", "to": "bench"} if failed else {"to": "scrapped"}


def _position(request: HttpRequest, position_id: int) -> Position:
    person = person_of(request)
    position = position_for(person, position_id)
    if position is None:
        raise Http404
    require(person, "fit_hoses", position.machine.site_id)
    return position


def _hose(request: HttpRequest, hose_id: int) -> Assembly:
    person = person_of(request)
    hose = hose_for(person, hose_id)
    if hose is None:
        raise Http404
    require(person, "fit_hoses", hose.site_id)
    return hose


def _page(
    request: HttpRequest,
    form: FitForm | SwapForm | TakeOffForm,
    position: Position,
    title: str,
    deed: str,
) -> HttpResponse:
    shown = {"form": form, "position": position, "held": held_by(position)}
    return render(request, "assemblies/fitting_form.html", {**shown, "title": title, "deed": deed})
