"""Crimp recipes on a published chart: the page of a joint, drafting, approving, withdrawing."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from assemblies.actions.recipes import (
    RECIPE,
    approve_recipe,
    change_recipe_draft,
    draft_recipe,
    recipe_obstacles,
    withdraw_recipe_revision,
)
from assemblies.forms.recipes import JointForm, RecipeForm, recipe_initial
from assemblies.models import RecipeRevision
from assemblies.queries.capability import notes_for, sites_seen
from assemblies.queries.catalogue import codes
from assemblies.queries.recipes import RecipePage, recipe_page, recipe_revision
from assemblies.views.shared_things import do_and_return, editor_of, may_do, reader_of
from fleet.actions.refusals import Refused
from fleet.navigation import address_of
from fleet.views.forms import refuse
from fleet.views.gate import person_of, politely


@politely
def recipe(request: HttpRequest, recipe_id: int) -> HttpResponse:
    """One joint, its revisions side by side, and what stands in the way of approval."""
    person, page = reader_of(request), _page(recipe_id)
    draft = recipe_revision(recipe_id, page.draft.number) if page.draft else None
    counts = recipe_revision(recipe_id, page.counts.number) if page.counts else None
    context = {
        "page": page,
        "may": may_do(person, RECIPE),
        "seen": RECIPE.fingerprint(draft) if draft else "",
        "obstacles": [one.sentence for one in recipe_obstacles(draft)] if draft else [],
        "notes": notes_for(counts, site_ids=sites_seen(person)) if counts else (),
    }
    return render(request, "assemblies/recipes/recipe.html", context)


@politely
def recipe_add(request: HttpRequest) -> HttpResponse:
    """A recipe for a joint; the address may name the parts already."""
    person, now = editor_of(request, RECIPE), timezone.now()
    named = {name: request.GET.get(name, "") for name in ("hose", "fitting", "shell")}
    joint = JointForm(request.POST or None, initial=named)
    form = RecipeForm(request.POST or None)
    if request.method == "POST" and joint.is_valid() & form.is_valid():
        try:
            draft = draft_recipe(**joint.cleaned_data, facts=form.facts(), person=person, at=now)
        except Refused as refusal:
            refuse(joint if refusal.field in joint.fields else form, refusal)
        else:
            messages.success(request, f"A recipe for {draft.header} is drafted.")
            return redirect("assemblies:recipe", draft.header_id)
    return _form_page(request, form, joint=joint)


@politely
def recipe_draft(request: HttpRequest, recipe_id: int) -> HttpResponse:
    """The next revision of a recipe; it begins with what the last one says."""
    person, now, page = editor_of(request, RECIPE), timezone.now(), _page(recipe_id)
    last = _revision(recipe_id, page.heads[0].number)
    form = RecipeForm(request.POST or None, initial=recipe_initial(last))
    if request.method == "POST" and form.is_valid():
        header = last.header
        try:
            draft_recipe(
                hose=header.hose,
                fitting=header.fitting,
                shell=header.shell,
                facts=form.facts(),
                person=person,
                at=now,
            )
        except Refused as refusal:
            refuse(form, refusal)
        else:
            messages.success(request, f"A new revision for {header} is drafted.")
            return redirect("assemblies:recipe", recipe_id)
    return _form_page(request, form, page=page)


@politely
def recipe_change(request: HttpRequest, recipe_id: int, number: int) -> HttpResponse:
    """Changing a draft."""
    person, now, page = editor_of(request, RECIPE), timezone.now(), _page(recipe_id)
    draft = _revision(recipe_id, number)
    initial = {**recipe_initial(draft), "change_note": draft.change_note}
    form = RecipeForm(request.POST or None, initial=initial)
    seen = request.POST.get("seen") or RECIPE.fingerprint(draft)
    if request.method == "POST" and form.is_valid():
        facts = form.facts()
        try:
            change_recipe_draft(revision=draft, facts=facts, seen=seen, person=person, at=now)
        except Refused as refusal:
            refuse(form, refusal)
        else:
            messages.success(request, f"The draft for {draft.header} is changed.")
            return redirect("assemblies:recipe", recipe_id)
    return _form_page(request, form, page=page, seen=seen)


@require_POST
@politely
def recipe_approve(request: HttpRequest, recipe_id: int, number: int) -> HttpResponse:
    """Approving the draft that the person has before them."""
    person, revision = person_of(request), _revision(recipe_id, number)
    seen, now = request.POST.get("seen", ""), timezone.now()
    return do_and_return(
        request,
        lambda: approve_recipe(revision=revision, seen=seen, person=person, at=now),
        done=f"Revision {number} for {revision.header} is approved.",
        back=reverse("assemblies:recipe", args=[recipe_id]),
    )


@require_POST
@politely
def recipe_withdraw(request: HttpRequest, recipe_id: int, number: int) -> HttpResponse:
    """Withdrawing a draft, for a reason; of what ever counted, the hoses are looked at first."""
    person, revision = person_of(request), _revision(recipe_id, number)
    looked_at_first = address_of("withdraw_recipe_revision", revision.pk)
    if revision.state != RecipeRevision.State.DRAFT and looked_at_first:
        return redirect(looked_at_first)
    reason, now = request.POST.get("reason", ""), timezone.now()
    return do_and_return(
        request,
        lambda: withdraw_recipe_revision(revision=revision, reason=reason, person=person, at=now),
        done=f"Revision {number} for {revision.header} is withdrawn.",
        back=reverse("assemblies:recipe", args=[recipe_id]),
    )


def _form_page(
    request: HttpRequest,
    form: RecipeForm,
    *,
    joint: JointForm | None = None,
    page: RecipePage | None = None,
    seen: str = "",
) -> HttpResponse:
    kinds = ("hose", "fitting", "shell")
    suggestions: dict[str, Any] = {slug: codes(slug) for slug in kinds} if joint else {}
    context = {"form": form, "joint": joint, "page": page, "seen": seen}
    return render(request, "assemblies/recipes/form.html", {**context, "suggestions": suggestions})


def _page(recipe_id: int) -> RecipePage:
    found = recipe_page(recipe_id)
    if found is None:
        raise Http404
    return found


def _revision(recipe_id: int, number: int) -> RecipeRevision:
    found = recipe_revision(recipe_id, number)
    if found is None:
        raise Http404
    return found
