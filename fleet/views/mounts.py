"""An attachment put on a carrier, and taken off it."""

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from fleet.actions.mounts import mount_part, unmount_part
from fleet.actions.refusals import Refused
from fleet.forms.mounts import MountForm, UnmountForm
from fleet.models import Machine, Mount
from fleet.navigation import address_of
from fleet.permissions import require
from fleet.queries.reach import machine_for
from fleet.queries.riding import carriers_for, open_mount, rides_of
from fleet.views.forms import refuse
from fleet.views.gate import day_at, person_of, politely


@politely
def mount(request: HttpRequest, machine_id: int) -> HttpResponse:
    """Where a part rides: on to a carrier, or off the one it is on."""
    person = person_of(request)
    part = machine_for(person, machine_id)
    if part is None or part.kind == Machine.Kind.MACHINE:
        raise Http404
    require(person, "edit_machines", part.site_id)
    now = open_mount(part)
    return _off(request, part, now) if now else _on(request, part)


def _on(request: HttpRequest, part: Machine) -> HttpResponse:
    person, now = person_of(request), timezone.now()
    today = day_at(part.site, now)
    form = MountForm(request.POST or None, carriers=carriers_for(part), initial={"on": today})
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            mount_part(
                part=part,
                carrier=form.carriers[given["carrier"]],
                on=given["on"],
                uses_carrier_hours=given["hours"] == "carrier",
                read=form.read(),
                person=person,
                today=today,
                at=now,
            )
        except Refused as refusal:
            refuse(form, refusal)
        else:
            messages.success(request, "It rides; the dates of its hoses are worked out again.")
            return redirect(address_of("machine", part.pk))
    return _page(request, part, form, None)


def _off(request: HttpRequest, part: Machine, ride: Mount) -> HttpResponse:
    person, now = person_of(request), timezone.now()
    today = day_at(part.site, now)
    form = UnmountForm(request.POST or None, initial={"on": today})
    if request.method == "POST" and form.is_valid():
        on, read = form.cleaned_data["on"], form.read()
        try:
            unmount_part(part=part, on=on, read=read, person=person, today=today, at=now)
        except Refused as refusal:
            refuse(form, refusal)
        else:
            messages.success(request, "It is off; its hours stand still until it rides again.")
            return redirect(address_of("machine", part.pk))
    return _page(request, part, form, ride)


def _page(
    request: HttpRequest, part: Machine, form: UnmountForm, ride: Mount | None
) -> HttpResponse:
    rides = rides_of(person_of(request), part)
    context = {"form": form, "part": part, "ride": ride, "rides": rides}
    return render(request, "fleet/mount.html", context)
