"""Crimp trials: the list, beginning one, the recorder's page, the recipe that stands on them."""

from uuid import uuid4

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from assemblies.actions.recipes import RECIPE
from assemblies.actions.trial_recipes import approve_trial_recipe
from assemblies.actions.trials import begin_trial
from assemblies.calc.trial_words import BEFORE_EVERY_PRESS
from assemblies.forms.trials import ApproveForm, BeginForm, CloseForm, ProofForm, marks_for
from assemblies.models import CrimpTrial, RecipeRevision
from assemblies.queries.catalogue import codes
from assemblies.queries.recipes import recipe_page
from assemblies.queries.trial_page import second_trials, trial_page
from assemblies.queries.trials import (
    crimpers_at,
    provisional_of,
    shell_depth,
    trial_for,
    trials_seen,
)
from assemblies.views.shared_things import may_do, reader_of
from fleet.actions.refusals import Refused
from fleet.calc.svg import svg_of
from fleet.permissions import NotAllowed, may_anywhere
from fleet.views.forms import refuse
from fleet.views.gate import person_of, politely


@politely
def trials(request: HttpRequest) -> HttpResponse:
    """The trials at the person's sites, the open ones first."""
    person = reader_of(request)
    context = {"lines": trials_seen(person), "may_begin": may_anywhere(person, "edit_recipes")}
    return render(request, "assemblies/trials/list.html", context)


@politely
def trial_begin(request: HttpRequest) -> HttpResponse:
    """Choosing parts and tools before the first press; the address may name the parts already."""
    person, now = person_of(request), timezone.now()
    if not any(may_anywhere(person, right) for right in ("edit_recipes", "approve_recipes")):
        raise NotAllowed("This needs the right “edit recipes”.")
    named = {name: request.GET.get(name, "") for name in ("hose", "fitting", "shell")}
    initial = {**named, **marks_for(shell_depth(named["shell"])), "client_id": uuid4()}
    form = BeginForm(request.POST or None, crimpers=crimpers_at(person), initial=initial)
    if request.method == "POST" and form.is_valid():
        client_id = form.cleaned_data["client_id"]
        try:
            trial = begin_trial(setup=form.setup(), client_id=client_id, person=person, at=now)
        except Refused as refusal:
            refuse(form, refusal)
        else:
            messages.success(request, "The trial is begun. Mark, skive and push the hose on.")
            return redirect("assemblies:trial", trial.pk)
    suggestions = {slug: codes(slug) for slug in ("hose", "fitting", "shell")}
    return render(
        request, "assemblies/trials/begin.html", {"form": form, "suggestions": suggestions}
    )


@politely
def trial(request: HttpRequest, trial_id: int) -> HttpResponse:
    """The recorder: how the trial stands, and what can be done next."""
    return recorder(request, seen_trial(request, trial_id))


def recorder(
    request: HttpRequest,
    held: CrimpTrial,
    *,
    close: CloseForm | None = None,
    proof: ProofForm | None = None,
) -> HttpResponse:
    """The recorder's page, with what is wrong where something was."""
    person = person_of(request)
    page = trial_page(person, held)
    context = {
        "page": page,
        "picture": svg_of(page.scene, prefix="trial"),
        "before_press": BEFORE_EVERY_PRESS,
        "press_id": uuid4(),
        "close_id": uuid4(),
        "close": close or CloseForm(),
        "proof": proof or ProofForm(),
        "person_id": person.pk,
    }
    return render(request, "assemblies/trials/trial.html", context)


@politely
def recipe_trials(request: HttpRequest, recipe_id: int) -> HttpResponse:
    """The trials of a joint, its provisional recipe, and approving it on a second trial."""
    person, now = reader_of(request), timezone.now()
    page, held = recipe_page(recipe_id), provisional_of(recipe_id)
    if page is None:
        raise Http404
    first = [link.trial_id for link in held.trial_links.all()] if held else []
    seconds = second_trials(person, recipe_id, first)
    seen = {"seen": RECIPE.fingerprint(held)} if held else {}
    form = ApproveForm(request.POST or None, seconds=seconds, initial=seen)
    if request.method == "POST" and held and form.is_valid() and _approved(request, form, held):
        return redirect("assemblies:recipe", recipe_id)
    context = {
        "page": page,
        "held": held,
        "form": form,
        "seconds": seconds,
        "lines": trials_seen(person, recipe_id=recipe_id),
        "may": may_do(person, RECIPE),
        "now": now,
    }
    return render(request, "assemblies/trials/recipe.html", context)


def _approved(request: HttpRequest, form: ApproveForm, held: RecipeRevision) -> bool:
    """Whether the recipe was approved; what is wrong stands on the form."""
    person = person_of(request)
    second = trial_for(person, form.cleaned_data["second"])
    if second is None:
        raise Http404
    try:
        done = approve_trial_recipe(
            revision=held,
            second=second,
            rating=form.rating(),
            seen=form.cleaned_data["seen"],
            person=person,
            at=timezone.now(),
        )
    except Refused as refusal:
        refuse(form, refusal)
        return False
    messages.success(request, f"Revision {done.number} for {done.header} is approved.")
    return True


def seen_trial(request: HttpRequest, trial_id: int) -> CrimpTrial:
    """The trial, where the person may see it; another site's is not there."""
    found = trial_for(person_of(request), trial_id)
    if found is None:
        raise Http404
    return found
