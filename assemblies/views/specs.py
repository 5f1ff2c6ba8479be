"""Specs: the list, the page of one, adding, copying, changing, approving, withdrawing."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from assemblies.actions.recipes import RECIPE
from assemblies.actions.specs import (
    SPEC,
    add_spec,
    approve_spec,
    change_spec_draft,
    copy_spec,
    draft_spec_revision,
    withdraw_spec_revision,
)
from assemblies.calc.standard_notes import CHECK
from assemblies.forms.specs import CopyForm, SpecForm, SpecSearchForm, spec_initial
from assemblies.queries.catalogue import codes
from assemblies.queries.copies import copy_of
from assemblies.queries.specs import SpecPage, spec_lines, spec_page, spec_revision
from assemblies.views.shared_things import do_and_return, editor_of, may_do, reader_of
from fleet.actions.refusals import Refused
from fleet.models import Person
from fleet.permissions import may_anywhere
from fleet.views.forms import refuse
from fleet.views.gate import person_of, politely
from fleet.views.paging import SIZE, place_of, shown


@politely
def specs(request: HttpRequest) -> HttpResponse:
    """The specs that fit a search, by code."""
    person, form = reader_of(request), SpecSearchForm(request.GET)
    text = form.cleaned_data.get("q", "") if form.is_valid() else ""
    page = spec_lines(text, after=place_of(request, str, int), size=SIZE)
    context = {
        "form": form,
        "text": text,
        "page": shown(request, page),
        "may": may_do(person, SPEC),
    }
    return render(request, "assemblies/specs/list.html", context)


@politely
def spec(request: HttpRequest, spec_id: int, number: int | None = None) -> HttpResponse:
    """One spec by one of its revisions: parts, length, rating, positions, recipes."""
    person = reader_of(request)
    page = _page(person, spec_id, number)
    context = {
        "page": page,
        "may": may_do(person, SPEC),
        "may_edit_recipes": may_anywhere(person, RECIPE.edit),
        "seen": SPEC.fingerprint(page.revision) if page.head.state == "draft" else "",
        "copied": copy_of(person, page.revision),
        "copy_form": CopyForm(initial={"title": page.title}),
        "check": CHECK,
    }
    return render(request, "assemblies/specs/spec.html", context)


@politely
def spec_add(request: HttpRequest) -> HttpResponse:
    """A new spec, as a draft."""
    person, now = editor_of(request, SPEC), timezone.now()
    form = SpecForm(request.POST or None, adding=True)
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            draft = add_spec(
                code=given["code"],
                title=given["title"],
                content=form.content(),
                person=person,
                at=now,
            )
        except Refused as refusal:
            refuse(form, refusal)
        else:
            messages.success(request, f"The spec {given['code']} is drafted.")
            return redirect("assemblies:spec", draft.header_id)
    return _form_page(request, form, page=None)


@politely
def spec_draft(request: HttpRequest, spec_id: int) -> HttpResponse:
    """The next revision of a spec; it begins with what stands."""
    person, now = editor_of(request, SPEC), timezone.now()
    page = _page(person, spec_id)
    form = SpecForm(request.POST or None, initial=spec_initial(page.revision), adding=False)
    if request.method == "POST" and form.is_valid():
        header = page.revision.header
        try:
            draft = draft_spec_revision(
                header=header, content=form.content(), person=person, at=now
            )
        except Refused as refusal:
            refuse(form, refusal)
        else:
            messages.success(request, f"A new revision of {page.code} is drafted.")
            return redirect("assemblies:spec_revision", spec_id, draft.number)
    return _form_page(request, form, page=page)


@politely
def spec_change(request: HttpRequest, spec_id: int, number: int) -> HttpResponse:
    """Changing a draft."""
    person, now = editor_of(request, SPEC), timezone.now()
    page, draft = _page(person, spec_id, number), _revision(spec_id, number)
    initial = {**spec_initial(draft), "change_note": draft.change_note}
    form = SpecForm(request.POST or None, initial=initial, adding=False)
    seen = request.POST.get("seen") or SPEC.fingerprint(draft)
    if request.method == "POST" and form.is_valid():
        content = form.content()
        try:
            change_spec_draft(revision=draft, content=content, seen=seen, person=person, at=now)
        except Refused as refusal:
            refuse(form, refusal)
        else:
            messages.success(request, f"The draft of {page.code} is changed.")
            return redirect("assemblies:spec_revision", spec_id, number)
    return _form_page(request, form, page=page, seen=seen)


@require_POST
@politely
def spec_copy(request: HttpRequest, spec_id: int, number: int) -> HttpResponse:
    """A new spec that begins with what a revision says."""
    person, revision = editor_of(request, SPEC), _revision(spec_id, number)
    code, title = request.POST.get("code", "")[:40], request.POST.get("title", "")[:160]
    try:
        draft = copy_spec(
            revision=revision, code=code, title=title, person=person, at=timezone.now()
        )
    except Refused as refusal:
        messages.error(request, refusal.sentence)
        return redirect("assemblies:spec_revision", spec_id, number)
    messages.success(request, f"{code} is drafted as a copy of {revision.header}.")
    return redirect("assemblies:spec", draft.header_id)


@require_POST
@politely
def spec_approve(request: HttpRequest, spec_id: int, number: int) -> HttpResponse:
    """Approving the draft that the person has before them."""
    person, revision = person_of(request), _revision(spec_id, number)
    seen, now = request.POST.get("seen", ""), timezone.now()
    return do_and_return(
        request,
        lambda: approve_spec(revision=revision, seen=seen, person=person, at=now),
        done=f"Revision {number} of {revision.header} is approved.",
        back=reverse("assemblies:spec_revision", args=[spec_id, number]),
    )


@require_POST
@politely
def spec_withdraw(request: HttpRequest, spec_id: int, number: int) -> HttpResponse:
    """Withdrawing a revision, for a reason."""
    person, revision = person_of(request), _revision(spec_id, number)
    reason, now = request.POST.get("reason", ""), timezone.now()
    return do_and_return(
        request,
        lambda: withdraw_spec_revision(revision=revision, reason=reason, person=person, at=now),
        done=f"Revision {number} of {revision.header} is withdrawn.",
        back=reverse("assemblies:spec_revision", args=[spec_id, number]),
    )


def _form_page(
    request: HttpRequest, form: SpecForm, *, page: SpecPage | None, seen: str = ""
) -> HttpResponse:
    suggestions = {slug: codes(slug) for slug in ("hose", "fitting", "shell")}
    context = {"form": form, "page": page, "seen": seen, "suggestions": suggestions}
    return render(request, "assemblies/specs/form.html", context)


def _page(person: Person, spec_id: int, number: int | None = None) -> SpecPage:
    found = spec_page(person, spec_id, number)
    if found is None:
        raise Http404
    return found


def _revision(spec_id: int, number: int) -> Any:
    found = spec_revision(spec_id, number)
    if found is None:
        raise Http404
    return found
