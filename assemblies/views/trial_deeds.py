"""What is told to a trial: presses, undoing, closing, the proof test; by page or by script.

A script asks with `Accept: application/json` and keeps what it tells until it is answered: 200
with the id that was told, or 422 with the sentence that refuses it.
"""

from collections.abc import Callable

from django.contrib import messages
from django.forms import BaseForm
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import require_POST

from assemblies.actions.trial_recipes import recipe_from_trial
from assemblies.actions.trials import close_trial, log_press, record_trial_proof, undo_press
from assemblies.forms.trials import CloseForm, PressForm, ProofForm, UndoForm
from assemblies.models import CrimpTrial
from assemblies.views.trials import recorder, seen_trial
from fleet.actions.refusals import Refused
from fleet.views.forms import refuse
from fleet.views.gate import person_of, politely


@require_POST
@politely
def trial_press(request: HttpRequest, trial_id: int) -> HttpResponse:
    """One press, and what the pin did."""
    held, form = seen_trial(request, trial_id), PressForm(request.POST)

    def log() -> None:
        given = form.cleaned_data
        log_press(
            trial=held,
            client_id=given["client_id"],
            setting_mm=given["setting_mm"],
            pin=given["pin"],
            od_readings_mm=given["readings"],
            person=person_of(request),
            at=timezone.now(),
        )

    return _told(request, held, form, log)


@require_POST
@politely
def trial_undo(request: HttpRequest, trial_id: int) -> HttpResponse:
    """The last press was told wrongly."""
    held, form = seen_trial(request, trial_id), UndoForm(request.POST)

    def undo() -> None:
        client_id = form.cleaned_data["client_id"]
        undo_press(trial=held, client_id=client_id, person=person_of(request), at=timezone.now())

    return _told(request, held, form, undo)


@require_POST
@politely
def trial_close(request: HttpRequest, trial_id: int) -> HttpResponse:
    """The trial ends, with the readings of the crimp at hand."""
    held, form = seen_trial(request, trial_id), CloseForm(request.POST)

    def close() -> None:
        given = form.cleaned_data
        close_trial(
            trial=held,
            client_id=given["client_id"],
            od_readings_mm=given["readings"],
            note=given["note"],
            person=person_of(request),
            at=timezone.now(),
        )

    return _told(request, held, form, close)


@require_POST
@politely
def trial_proof(request: HttpRequest, trial_id: int) -> HttpResponse:
    """The proof test of the trial's piece."""
    held, form = seen_trial(request, trial_id), ProofForm(request.POST)
    if form.is_valid():
        given = form.cleaned_data
        try:
            record_trial_proof(
                trial=held,
                pressure_bar=given["pressure_bar"].bar,
                hold_s=given["hold_s"],
                passed=given["passed"] == "yes",
                person=person_of(request),
                at=timezone.now(),
            )
        except Refused as refusal:
            refuse(form, refusal)
        else:
            messages.success(request, "The proof test is written down.")
            return redirect("assemblies:trial", trial_id)
    return recorder(request, held, proof=form)


@require_POST
@politely
def trial_recipe(request: HttpRequest, trial_id: int) -> HttpResponse:
    """A provisional recipe is made of the trial."""
    held = seen_trial(request, trial_id)
    try:
        made = recipe_from_trial(trial=held, person=person_of(request), at=timezone.now())
    except Refused as refusal:
        messages.error(request, refusal.sentence)
        return redirect("assemblies:trial", trial_id)
    messages.success(request, f"Revision {made.number} for {made.header} is provisional.")
    return redirect("assemblies:recipe_trials", made.header_id)


def _told(
    request: HttpRequest, held: CrimpTrial, form: BaseForm, deed: Callable[[], None]
) -> HttpResponse:
    """Do it if it can be read, and answer whoever asked: a script or a page."""
    sentence = ""
    if not form.is_valid():
        sentence = str(next(iter(form.errors.values()))[0])
    else:
        try:
            deed()
        except Refused as refusal:
            sentence = refusal.sentence
    if request.headers.get("Accept") == "application/json":
        if sentence:
            return JsonResponse({"refused": sentence}, status=422)
        return JsonResponse({"told": form.cleaned_data["client_id"]})
    if not sentence:
        return redirect("assemblies:trial", held.pk)
    messages.error(request, sentence)
    if isinstance(form, CloseForm):
        return recorder(request, held, close=form)
    return redirect("assemblies:trial", held.pk)
