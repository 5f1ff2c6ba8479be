"""The catalogue: found by any notation; an item with its revisions; adding, changing, approving."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from assemblies.actions.catalogue import (
    KINDS,
    add_item,
    approve_item,
    change_item_draft,
    draft_item_revision,
    withdraw_item_revision,
)
from assemblies.calc.standard_notes import CHECK
from assemblies.forms.catalogue import (
    FORMS,
    CatalogueSearchForm,
    FittingForm,
    ItemForm,
    ReasonForm,
    initial_of,
    notes_for,
)
from assemblies.queries.catalogue import SHELVES, ItemPage, item_page, item_revision, items
from assemblies.views.shared_things import do_and_return, editor_of, may_do, reader_of
from fleet.actions.refusals import Refused
from fleet.views.forms import refuse
from fleet.views.gate import person_of, politely
from fleet.views.paging import SIZE, place_of, shown

FIRST_OF_EACH = 10


@politely
def catalogue(request: HttpRequest) -> HttpResponse:
    """Items of all kinds that fit a search, a few of each; or all of one kind."""
    person = reader_of(request)
    form = CatalogueSearchForm(request.GET)
    text = form.cleaned_data.get("q", "") if form.is_valid() else ""
    slug = request.GET.get("kind", "")
    chosen = [SHELVES[slug]] if slug in SHELVES else list(SHELVES.values())
    alone = len(chosen) == 1
    after, size = (place_of(request, str, int), SIZE) if alone else (None, FIRST_OF_EACH)
    found = [(shelf, items(shelf.slug, text, after=after, size=size)) for shelf in chosen]
    context = {
        "form": form,
        "text": text,
        "alone": alone,
        "kind": slug if alone else "",
        "shelves": [(shelf, shown(request, page)) for shelf, page in found],
        "every_shelf": list(SHELVES.values()),
        "may": may_do(person, KINDS["hose"]),
        "anything": any(page.rows for _, page in found),
    }
    return render(request, "assemblies/catalogue/list.html", context)


@politely
def item(request: HttpRequest, slug: str, item_id: int) -> HttpResponse:
    """One item, its revisions side by side, the standard's figures beside them."""
    person, page = reader_of(request), _page(slug, item_id)
    draft = item_revision(slug, item_id, page.draft.number) if page.draft else None
    context = {
        "page": page,
        "shelf": SHELVES[slug],
        "may": may_do(person, KINDS[slug]),
        "seen": KINDS[slug].fingerprint(draft) if draft else "",
        "check": CHECK,
        "reason_form": ReasonForm(),
    }
    return render(request, "assemblies/catalogue/item.html", context)


@politely
def item_add(request: HttpRequest, slug: str) -> HttpResponse:
    """A new item, as a draft."""
    person, now = editor_of(request, KINDS[slug]), timezone.now()
    form, notes = _form(request, slug, initial={}, adding=True)
    if _is_sent(request) and form.is_valid():
        code, facts = form.cleaned_data["code"], form.facts()
        try:
            draft = add_item(kind=KINDS[slug], code=code, facts=facts, person=person, at=now)
        except Refused as refusal:
            refuse(form, refusal)
        else:
            messages.success(request, f"{code} is in the catalogue, as a draft.")
            return redirect("assemblies:item", slug, draft.header_id)
    return _form_page(request, slug, form, notes, page=None)


@politely
def item_draft(request: HttpRequest, slug: str, item_id: int) -> HttpResponse:
    """The next revision of an item; it begins with what the last one says."""
    person, page, now = editor_of(request, KINDS[slug]), _page(slug, item_id), timezone.now()
    last = item_revision(slug, item_id, page.heads[0].number)
    form, notes = _form(request, slug, initial=initial_of(FORMS[slug], last), adding=False)
    if _is_sent(request) and form.is_valid():
        try:
            draft_item_revision(
                kind=KINDS[slug], header=last.header, facts=form.facts(), person=person, at=now
            )
        except Refused as refusal:
            refuse(form, refusal)
        else:
            messages.success(request, f"A new revision of {page.code} is drafted.")
            return redirect("assemblies:item", slug, item_id)
    return _form_page(request, slug, form, notes, page=page)


@politely
def item_change(request: HttpRequest, slug: str, item_id: int, number: int) -> HttpResponse:
    """Changing a draft."""
    kind, now = KINDS[slug], timezone.now()
    person, page = editor_of(request, kind), _page(slug, item_id)
    draft = _revision(slug, item_id, number)
    form, notes = _form(
        request,
        slug,
        initial={**initial_of(FORMS[slug], draft), "change_note": draft.change_note},
        adding=False,
    )
    seen = request.POST.get("seen") or kind.fingerprint(draft)
    if _is_sent(request) and form.is_valid():
        facts = form.facts()
        try:
            change_item_draft(
                kind=kind, revision=draft, facts=facts, seen=seen, person=person, at=now
            )
        except Refused as refusal:
            refuse(form, refusal)
        else:
            messages.success(request, f"The draft of {page.code} is changed.")
            return redirect("assemblies:item", slug, item_id)
    return _form_page(request, slug, form, notes, page=page, seen=seen)


@require_POST
@politely
def item_approve(request: HttpRequest, slug: str, item_id: int, number: int) -> HttpResponse:
    """Approving the draft that the person has before them."""
    person, revision = person_of(request), _revision(slug, item_id, number)
    return do_and_return(
        request,
        lambda: approve_item(
            kind=KINDS[slug],
            revision=revision,
            seen=request.POST.get("seen", ""),
            person=person,
            at=timezone.now(),
        ),
        done=f"Revision {number} of {revision.header} is approved.",
        back=reverse("assemblies:item", args=[slug, item_id]),
    )


@require_POST
@politely
def item_withdraw(request: HttpRequest, slug: str, item_id: int, number: int) -> HttpResponse:
    """Withdrawing a revision, for a reason."""
    person, revision = person_of(request), _revision(slug, item_id, number)
    return do_and_return(
        request,
        lambda: withdraw_item_revision(
            kind=KINDS[slug],
            revision=revision,
            reason=request.POST.get("reason", ""),
            person=person,
            at=timezone.now(),
        ),
        done=f"Revision {number} of {revision.header} is withdrawn.",
        back=reverse("assemblies:item", args=[slug, item_id]),
    )


def _is_sent(request: HttpRequest) -> bool:
    """Whether a form was sent to be saved, not only to look the standard up."""
    return request.method == "POST" and "look" not in request.POST


def _form(
    request: HttpRequest, slug: str, *, initial: dict[str, Any], adding: bool
) -> tuple[ItemForm, Any]:
    """The form, and the standard's figures for what stands in it."""
    if request.method != "POST":
        return FORMS[slug](initial=initial, adding=adding), notes_for(slug, initial)
    typed = request.POST.dict()
    if _is_sent(request):
        return FORMS[slug](request.POST, initial=initial, adding=adding), notes_for(slug, typed)
    return FORMS[slug](initial=typed, adding=adding), notes_for(slug, typed)


def _form_page(
    request: HttpRequest,
    slug: str,
    form: ItemForm,
    notes: Any,
    *,
    page: ItemPage | None,
    seen: str = "",
) -> HttpResponse:
    context = {
        "form": form,
        "notes": notes,
        "looked": "look" in request.POST,
        "check": CHECK,
        "page": page,
        "seen": seen,
        "shelf": SHELVES[slug],
        "ends": FittingForm.suggestions if slug == "fitting" else (),
    }
    return render(request, "assemblies/catalogue/form.html", context)


def _page(slug: str, item_id: int) -> ItemPage:
    found = item_page(slug, item_id)
    if found is None:
        raise Http404
    return found


def _revision(slug: str, item_id: int, number: int) -> Any:
    found = item_revision(slug, item_id, number)
    if found is None:
        raise Http404
    return found
