"""Releasing a hose conditionally, or the piece of a closed trial."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from assemblies.actions.releases import RIGHT, release_conditionally, release_trial_piece
from assemblies.forms.releases import PieceReleaseForm, ReleaseForm
from assemblies.models import ConditionalRelease
from assemblies.queries.choices import hose_for
from assemblies.queries.unmatched import why_unmatched
from assemblies.views.trials import seen_trial
from fleet.actions.refusals import Refused
from fleet.navigation import address_of
from fleet.permissions import require
from fleet.views.forms import refuse
from fleet.views.gate import day_at, person_of, politely


@politely
def release(request: HttpRequest, hose_id: int) -> HttpResponse:
    """A hose of the register is released, for a reason, within limits, until a day."""
    person, now = person_of(request), timezone.now()
    hose = hose_for(person, hose_id)
    if hose is None:
        raise Http404
    require(person, RIGHT, hose.site_id)
    today, form = day_at(hose.site, now), ReleaseForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        told: dict[str, Any] = {"person": person, "today": today, "at": now}
        try:
            done = release_conditionally(assembly=hose, **form.terms(), **told)
        except Refused as refusal:
            refuse(form, refusal)
        else:
            return _done(request, done)
    context = {"form": form, "hose": hose, "why_unmatched": why_unmatched(hose)}
    return render(request, "assemblies/release_form.html", context)


@politely
def release_trial(request: HttpRequest, trial_id: int) -> HttpResponse:
    """The piece of a closed trial becomes a held hose of the register, released."""
    person, now = person_of(request), timezone.now()
    trial = seen_trial(request, trial_id)
    require(person, RIGHT, trial.site_id)
    form = PieceReleaseForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        told: dict[str, Any] = {"person": person, "today": day_at(trial.site, now), "at": now}
        try:
            done = release_trial_piece(trial=trial, piece=form.piece(), **form.terms(), **told)
        except Refused as refusal:
            refuse(form, refusal)
        else:
            return _done(request, done)
    return render(request, "assemblies/release_form.html", {"form": form, "trial": trial})


def _done(request: HttpRequest, done: ConditionalRelease) -> HttpResponse:
    words = f"{done.assembly} is released until {done.replace_by_on}: it may be fitted now."
    messages.success(request, words)
    return redirect(address_of("hose", done.assembly_id))
