"""Adding and changing positions."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from assemblies.actions.positions import add_position, change_position
from assemblies.forms.positions import PositionForm
from assemblies.models import Position
from assemblies.queries.choices import position_for
from fleet.actions.refusals import Refused
from fleet.navigation import address_of
from fleet.permissions import require
from fleet.queries.reach import machine_for
from fleet.views.forms import refuse
from fleet.views.gate import person_of, politely


@politely
def position_add(request: HttpRequest, machine_id: int) -> HttpResponse:
    """A new position, last in the walk round unless said otherwise."""
    person, now = person_of(request), timezone.now()
    machine = machine_for(person, machine_id)
    if machine is None:
        raise Http404
    require(person, "edit_machines", machine.site_id)
    form = PositionForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            position = add_position(machine=machine, facts=form.facts(), person=person, at=now)
        except Refused as refusal:
            refuse(form, refusal)
        else:
            messages.success(request, f"{position} is added to {machine}.")
            return redirect(address_of("position", position.pk))
    context = {"form": form, "machine": machine, "position": None}
    return render(request, "assemblies/position_form.html", context)


@politely
def position_change(request: HttpRequest, position_id: int) -> HttpResponse:
    """Changing a position's place or duty."""
    person, now = person_of(request), timezone.now()
    position = position_for(person, position_id)
    if position is None:
        raise Http404
    require(person, "edit_machines", position.machine.site_id)
    form = PositionForm(request.POST or None, initial=_facts_of(position))
    if request.method == "POST" and form.is_valid():
        sent = request.POST.get("version", "")
        version = int(sent) if sent.isdecimal() else position.version
        facts = form.facts()
        try:
            change_position(position=position, facts=facts, version=version, person=person, at=now)
        except Refused as refusal:
            refuse(form, refusal)
        else:
            messages.success(request, "The position is changed; its dates are worked out again.")
            return redirect(address_of("position", position.pk))
    context = {"form": form, "machine": position.machine, "position": position}
    return render(request, "assemblies/position_form.html", context)


def _facts_of(position: Position) -> dict[str, Any]:
    return {name: getattr(position, name) for name in PositionForm.base_fields}
