"""What is told in a round: an answer for a hose, for the rest, and taking one back.

A script asks with `Accept: application/json` and keeps what it tells until it is answered: 200
with the id that was told, or 422 with the sentence that refuses it.
"""

import datetime as dt
from collections.abc import Callable

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from assemblies.queries.choices import hose_for
from fleet.actions.refusals import Refused
from fleet.forms.photos import upload_stopped
from fleet.views.forms import refuse
from fleet.views.gate import day_at, person_of, politely
from scheduling.actions.inspections import Look
from scheduling.actions.rounds import look_at_the_rest, look_in_round, looked_on
from scheduling.actions.taking_back import take_back_look
from scheduling.forms.baselining import RegisterForm
from scheduling.forms.rounds import BackForm, LookForm, RestForm, Told
from scheduling.models import Round
from scheduling.queries.rounds import look_for
from scheduling.views.rounds import checklist, seen_round


@require_POST
@politely
def round_look(request: HttpRequest, round_id: int) -> HttpResponse:
    """One hose's answer."""
    held = seen_round(person_of(request), round_id)
    form = LookForm(request.POST, request.FILES)

    def tell(on: dt.date, now: dt.datetime) -> None:
        person = person_of(request)
        hose = hose_for(person, form.cleaned_data["hose"])
        if hose is None:
            raise Http404
        look_in_round(
            round_=held,
            assembly=hose,
            look=form.look(on),
            found=form.found(on),
            photos=form.cleaned_data["photos"],
            person=person,
            today=day_at(held.site, now),
            at=now,
        )

    return told(request, held, form, tell)


@require_POST
@politely
def round_rest(request: HttpRequest, round_id: int) -> HttpResponse:
    """Nothing found on all that are left, each of them looked at."""
    held, form = seen_round(person_of(request), round_id), RestForm(request.POST)

    def tell(on: dt.date, now: dt.datetime) -> None:
        look_at_the_rest(
            round_=held,
            assembly_ids=form.cleaned_data["hoses"],
            look=Look(on, client_id=form.cleaned_data["client_id"]),
            person=person_of(request),
            today=day_at(held.site, now),
            at=now,
        )

    return told(request, held, form, tell)


@require_POST
@politely
def round_back(request: HttpRequest, round_id: int) -> HttpResponse:
    """A look of this round was told wrongly."""
    held, form = seen_round(person_of(request), round_id), BackForm(request.POST)

    def tell(_on: dt.date, now: dt.datetime) -> None:
        look = look_for(person_of(request), form.cleaned_data["look"])
        if look is None or look.round_id != held.pk:
            raise Http404
        take_back_look(inspection=look, person=person_of(request), at=now)

    return told(request, held, form, tell)


def told(
    request: HttpRequest, held: Round, form: Told, tell: Callable[[dt.date, dt.datetime], None]
) -> HttpResponse:
    """Do it if it can be read, and answer whoever asked: a script or a page."""
    now, sentence = timezone.now(), ""
    if upload_stopped(form, request) or not form.is_valid():
        sentence = str(next(iter(form.errors.values()))[0])
    else:
        try:
            tell(looked_on(held, form.told_at(), now), now)
        except Refused as refusal:
            sentence = refusal.sentence
            refuse(form, refusal)
    if request.headers.get("Accept") == "application/json":
        if sentence:
            return JsonResponse({"refused": sentence}, status=422)
        return JsonResponse({"told": form.cleaned_data["client_id"]})
    if not sentence:
        return redirect("scheduling:round", held.pk)
    return _said(request, held, form, sentence)


def _said(request: HttpRequest, held: Round, form: Told, sentence: str) -> HttpResponse:
    """To a page without scripts: its form again, or the round with the sentence above it."""
    hose = form.data.get("hose", "")
    if isinstance(form, LookForm) and form.data.get("answer") == "found" and hose.isdecimal():
        return checklist(request, held, int(hose[:18]), form)
    if isinstance(form, RegisterForm):
        context = {"form": form, "round": held}
        return render(request, "scheduling/rounds/place.html", context)
    messages.error(request, sentence)
    return redirect("scheduling:round", held.pk)
