"""The bench: what to build next, beginning by a sheet, a batch with all its pieces."""

import datetime as dt
from typing import Any
from uuid import uuid4

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from assemblies.actions.build_signing import Signed, check_first_off, sign_batch
from assemblies.actions.build_writing import share_facts
from assemblies.actions.builds import begin_builds, put_sheet_aside
from assemblies.forms.builds import AsideForm, BeginForm, SharedForm, SignBatchForm
from assemblies.models import BuildBatch, FrozenSheet
from assemblies.queries.bench import begun_lines, sheet_to_begin, sheets_to_begin, still_to_begin
from assemblies.queries.builds import BatchPage, batch_for, batch_page
from assemblies.queries.sheets import content_of
from assemblies.views.shared_things import do_and_return, reader_of
from fleet.actions.refusals import Refused
from fleet.permissions import require
from fleet.views.forms import refuse
from fleet.views.gate import person_of, politely, today_of
from fleet.views.paging import SIZE, place_of, shown

MOST_REASONS = 3


@politely
def bench(request: HttpRequest) -> HttpResponse:
    """What do I build next? Pieces begun and not signed, then sheets that wait."""
    person = reader_of(request)
    today, after = today_of(person), place_of(request, dt.date, int)
    waiting = sheets_to_begin(person, today=today, after=after, size=SIZE)
    context = {
        "begun": begun_lines(person, today=today) if after is None else [],
        "page": shown(request, waiting),
        "today": today,
    }
    return render(request, "assemblies/bench/queue.html", context)


@politely
def sheet_begin(request: HttpRequest, site_id: int, number: int) -> HttpResponse:
    """Beginning pieces by a sheet: one, or a batch."""
    sheet = _sheet(request, site_id, number)
    require(person_of(request), "build", sheet.site_id)
    wanted = {"quantity": still_to_begin(sheet) or 1, "client_id": uuid4()}
    form = BeginForm(request.POST or None, initial=wanted)
    if request.method == "POST" and form.is_valid():
        given: dict[str, Any] = form.cleaned_data
        try:
            made = begin_builds(sheet=sheet, person=person_of(request), at=timezone.now(), **given)
        except Refused as refusal:
            refuse(form, refusal)
        else:
            return redirect(_first_page(made))
    context = {"sheet": sheet, "content": content_of(sheet), "form": form, "aside": AsideForm()}
    return render(request, "assemblies/bench/begin.html", context)


@require_POST
@politely
def sheet_aside(request: HttpRequest, site_id: int, number: int) -> HttpResponse:
    """The sheet is not to be built any more."""
    sheet, form = _sheet(request, site_id, number), AsideForm(request.POST)
    reason = form.cleaned_data["reason"] if form.is_valid() else ""
    told: dict[str, Any] = {"person": person_of(request), "at": timezone.now()}
    return do_and_return(
        request,
        lambda: put_sheet_aside(sheet=sheet, reason=reason, **told),
        done="It is off the bench’s list.",
        back="assemblies:bench",
    )


@politely
def batch(request: HttpRequest, batch_id: int) -> HttpResponse:
    """All pieces of a batch; what they share is typed once here."""
    held = _batch(request, batch_id)
    page = batch_page(person_of(request), held)
    form = _shared(request, page)
    if request.method == "POST" and form is not None and form.is_valid():
        told: dict[str, Any] = {"person": person_of(request), "at": timezone.now()}
        try:
            over = form.cleaned_data["over"]
            changed = share_facts(batch=held, typed=form.typed(), over=over, **told)
        except Refused as refusal:
            refuse(form, refusal)
        else:
            messages.success(request, f"Written down at {changed} of the open pieces.")
            return redirect("assemblies:batch", held.pk)
    return _show(request, page, form)


@require_POST
@politely
def batch_first_off(request: HttpRequest, batch_id: int) -> HttpResponse:
    """The first piece was looked at and is right."""
    held = _batch(request, batch_id)
    told: dict[str, Any] = {"person": person_of(request), "at": timezone.now()}
    try:
        check_first_off(batch=held, **told)
    except Refused as refusal:
        messages.error(request, refusal.sentence)
    else:
        messages.success(request, "The first piece is right. The rest can be signed.")
    return redirect("assemblies:batch", held.pk)


@require_POST
@politely
def batch_sign(request: HttpRequest, batch_id: int) -> HttpResponse:
    """All pieces that are good are signed; the others say why not."""
    held, form = _batch(request, batch_id), SignBatchForm(request.POST)
    if form.is_valid():
        told: dict[str, Any] = {"person": person_of(request), "at": timezone.now()}
        _tell(request, sign_batch(batch=held, signing=form.signing(), **told))
        return redirect("assemblies:batch", held.pk)
    page = batch_page(person_of(request), held)
    return _show(request, page, _shared(request, page, unsent=True), sign=form)


def _tell(request: HttpRequest, found: tuple[Signed, ...]) -> None:
    signed = [str(one.place) for one in found if not one.why_not]
    if signed:
        messages.success(request, f"Signed: {len(signed)} ({', '.join(signed)}).")
    for one in found:
        if one.why_not:
            more = len(one.why_not) - MOST_REASONS
            told = " ".join(one.why_not[:MOST_REASONS]) + (f" And {more} more." if more > 0 else "")
            messages.error(request, f"Piece {one.place}: {told}")


def _shared(request: HttpRequest, page: BatchPage, *, unsent: bool = False) -> SharedForm | None:
    """The form of what all pieces share; None where no piece is open."""
    if page.first is None:
        return None
    sent = request.POST if request.method == "POST" and not unsent else None
    initial = {"made_by": person_of(request).pk}
    choices = page.first.choices
    return SharedForm(sent, content=page.content, choices=choices, initial=initial)


def _show(
    request: HttpRequest, page: BatchPage, form: SharedForm | None, **forms: Any
) -> HttpResponse:
    context = {"page": page, "form": form, "sign": SignBatchForm(), **forms}
    return render(request, "assemblies/bench/batch.html", context)


def _first_page(made: BuildBatch) -> str:
    """Where building begins: at the piece, or at the batch."""
    if made.quantity > 1:
        return reverse("assemblies:batch", args=[made.pk])
    return reverse("assemblies:build", args=[made.builds.get().pk])


def _sheet(request: HttpRequest, site_id: int, number: int) -> FrozenSheet:
    found = sheet_to_begin(person_of(request), site_id, number)
    if found is None:
        raise Http404
    return found


def _batch(request: HttpRequest, batch_id: int) -> BuildBatch:
    found = batch_for(person_of(request), batch_id)
    if found is None:
        raise Http404
    return found
