"""Measured hoses: the list that waits, one of them, its photos, its spec; copying a hose's spec."""

from uuid import uuid4

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from assemblies.actions.copies import (
    MEASURERS,
    add_copy_photos,
    copy_hose,
    set_aside,
    spec_from_measured,
)
from assemblies.actions.specs import SPEC
from assemblies.forms.copied_spec import spec_start
from assemblies.forms.copies import CopyPhotosForm, SetAsideForm
from assemblies.forms.specs import CopyForm, SpecForm
from assemblies.models import SpecCopy
from assemblies.queries.catalogue import codes
from assemblies.queries.choices import hose_for
from assemblies.queries.copies import copy_for, copy_page, open_place_of, waiting_copies
from assemblies.views.shared_things import do_and_return, reader_of
from fleet.actions.refusals import Refused
from fleet.forms.photos import upload_stopped
from fleet.navigation import address_of
from fleet.permissions import NotAllowed, may, may_anywhere
from fleet.views.forms import refuse
from fleet.views.gate import person_of, politely
from fleet.views.paging import SIZE, place_of, shown


@politely
def measured_hoses(request: HttpRequest) -> HttpResponse:
    """The measured hoses that wait for their items, the newest first."""
    person = reader_of(request)
    page = waiting_copies(person, after=place_of(request, int), size=SIZE)
    may_measure = any(may_anywhere(person, right) for right in MEASURERS)
    context = {"page": shown(request, page), "may_measure": may_measure}
    return render(request, "assemblies/copies/list.html", context)


@politely
def measured_hose(request: HttpRequest, copy_id: int) -> HttpResponse:
    """One measured hose: what is known, what stays open, what in the catalogue fits."""
    return _copy_page(request, _copy(request, copy_id))


@require_POST
@politely
def measured_photos(request: HttpRequest, copy_id: int) -> HttpResponse:
    """Photos added to a measured hose."""
    person, now, copy = person_of(request), timezone.now(), _copy(request, copy_id)
    form = CopyPhotosForm(request.POST, request.FILES)
    if upload_stopped(form, request) or not form.is_valid():
        return _copy_page(request, copy, photos_form=form)
    given = form.cleaned_data
    try:
        add_copy_photos(
            copy=copy,
            sent=given["photos"],
            caption=given["caption"],
            client_id=given["client_id"],
            person=person,
            at=now,
        )
    except Refused as refusal:
        refuse(form, refusal)
        return _copy_page(request, copy, photos_form=form)
    messages.success(request, "The photos are kept.")
    return redirect("assemblies:measured_hose", copy.pk)


@require_POST
@politely
def measured_set_aside(request: HttpRequest, copy_id: int) -> HttpResponse:
    """No spec comes of it: set aside with the reason."""
    person, copy, now = person_of(request), _copy(request, copy_id), timezone.now()
    reason = request.POST.get("reason", "")
    return do_and_return(
        request,
        lambda: set_aside(copy=copy, reason=reason, person=person, at=now),
        done="It is set aside.",
        back=reverse("assemblies:measured_hose", args=[copy.pk]),
    )


@politely
def measured_spec(request: HttpRequest, copy_id: int) -> HttpResponse:
    """The spec of a measured hose: what was measured stands there, its items are chosen."""
    person, now, copy = person_of(request), timezone.now(), _copy(request, copy_id)
    if not may(person, SPEC.edit, copy.site_id):
        raise NotAllowed("This needs the right “edit catalogue” at this site.")
    page = copy_page(copy)
    form = SpecForm(request.POST or None, adding=True, initial=spec_start(page))
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        names = {"code": given["code"], "title": given["title"], "content": form.content()}
        try:
            draft = spec_from_measured(copy=copy, **names, person=person, at=now)
        except Refused as refusal:
            refuse(form, refusal)
        else:
            messages.success(request, f"The spec {given['code']} is drafted from the old hose.")
            return redirect("assemblies:spec", draft.header_id)
    suggestions = {slug: codes(slug) for slug in ("hose", "fitting", "shell")}
    context = {"form": form, "page": page, "copy": copy, "suggestions": suggestions}
    return render(request, "assemblies/copies/spec.html", context)


@politely
def hose_copy(request: HttpRequest, hose_id: int) -> HttpResponse:
    """A hose to a new spec: by its own spec where it has one, else it is measured."""
    person, now, hose = person_of(request), timezone.now(), hose_for(person_of(request), hose_id)
    if hose is None:
        raise Http404
    if hose.spec is None or not may(person, SPEC.edit, hose.site_id):
        return redirect("assemblies:measure_hose", hose_id)
    place = open_place_of(hose)
    title = f"{place.machine}, {place}" if place else hose.spec.header.title
    form = CopyForm(request.POST or None, initial={"title": title[:160]})
    if request.method == "POST" and form.is_valid():
        try:
            draft = copy_hose(assembly=hose, **form.cleaned_data, person=person, at=now)
        except Refused as refusal:
            refuse(form, refusal)
        else:
            messages.success(request, f"{draft.header} is drafted as {hose} is.")
            return redirect("assemblies:spec", draft.header_id)
    context = {"form": form, "hose": hose, "up_url": address_of("hose", hose.pk)}
    return render(request, "assemblies/copies/hose.html", context)


def _copy_page(
    request: HttpRequest, copy: SpecCopy, *, photos_form: CopyPhotosForm | None = None
) -> HttpResponse:
    person, page = person_of(request), copy_page(copy)
    measures = any(may(person, right, copy.site_id) for right in MEASURERS)
    edits = may(person, SPEC.edit, copy.site_id)
    context = {
        "page": page,
        "copy": copy,
        "measures": measures and not copy.withdrawn_at,
        "edits": edits,
        "may_set_aside": page.waits and (edits or copy.measured_by_id == person.pk),
        "photos_form": photos_form or CopyPhotosForm(initial={"client_id": uuid4()}),
        "aside_form": SetAsideForm(),
    }
    return render(request, "assemblies/copies/copy.html", context)


def _copy(request: HttpRequest, copy_id: int) -> SpecCopy:
    found = copy_for(person_of(request), copy_id)
    if found is None:
        raise Http404
    return found
