"""Adding and changing machines."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from fleet.actions.machines import add_machine, change_machine
from fleet.actions.refusals import Refused
from fleet.forms.machines import MachineForm
from fleet.models import Machine
from fleet.navigation import address_of
from fleet.permissions import NotAllowed, require
from fleet.queries.reach import machine_for, sites_where
from fleet.views.gate import day_at, person_of, politely


@politely
def machine_add(request: HttpRequest) -> HttpResponse:
    """A new machine at one of the sites where the person may make one."""
    person, now = person_of(request), timezone.now()
    sites = sites_where(person, "edit_machines")
    if not sites:
        raise NotAllowed("Making machines is not among your rights at any site.")
    form = MachineForm(request.POST or None, sites=sites, initial={"site": sites[0]})
    if request.method == "POST" and form.is_valid():
        site = form.cleaned_data["site"]
        today, facts = day_at(site, now), form.facts()
        try:
            machine = add_machine(site=site, facts=facts, person=person, at=now, today=today)
        except Refused as refusal:
            form.add_error(refusal.field or None, refusal.sentence)
        else:
            messages.success(request, f"{machine} stands in the register. Add its positions next.")
            return redirect(address_of("machine", machine.pk))
    return render(request, "fleet/machine_form.html", {"form": form, "machine": None})


@politely
def machine_change(request: HttpRequest, machine_id: int) -> HttpResponse:
    """Changing what the register says of a machine."""
    person, now = person_of(request), timezone.now()
    machine = machine_for(person, machine_id)
    if machine is None:
        raise Http404
    require(person, "edit_machines", machine.site_id)
    form = MachineForm(request.POST or None, initial=_facts_of(machine))
    if request.method == "POST" and form.is_valid():
        version = _version(request, machine)
        try:
            change_machine(
                machine=machine, facts=form.facts(), version=version, person=person, at=now
            )
        except Refused as refusal:
            form.add_error(refusal.field or None, refusal.sentence)
        else:
            messages.success(request, f"{machine.fleet_number} is changed.")
            return redirect(address_of("machine", machine.pk))
    return render(request, "fleet/machine_form.html", {"form": form, "machine": machine})


def _version(request: HttpRequest, machine: Machine) -> int:
    sent = request.POST.get("version", "")
    return int(sent) if sent.isdecimal() else machine.version


def _facts_of(machine: Machine) -> dict[str, Any]:
    names = [name for name in MachineForm.base_fields if hasattr(machine, name)]
    cost = machine.down_cost_per_hour_minor
    shown = {name: getattr(machine, name) for name in names}
    return {**shown, "down_cost_per_hour": None if cost is None else f"{cost / 100:.2f}"}
