"""Meters: changed, a change undone, where one begins again, one for a further counter."""

from collections.abc import Callable
from typing import Any

from django import forms
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from fleet.actions.meters import (
    MeterChange,
    add_meter,
    change_meter,
    set_rollover,
    undo_meter_change,
)
from fleet.actions.refusals import Refused
from fleet.forms.meters import AddMeterForm, MeterChangeForm, RolloverForm, UndoChangeForm
from fleet.models import Machine
from fleet.permissions import require
from fleet.queries.reach import counters_of, machine_for
from fleet.views.forms import refuse
from fleet.views.gate import day_at, person_of, politely

Deed = Callable[[dict[str, Any]], object]


@politely
def meter_change(request: HttpRequest, machine_id: int) -> HttpResponse:
    """A new meter: the hours go on where the old one ended."""
    machine = _machine(request, machine_id, "record_reading")
    first = {"on": day_at(machine.site), "new_first": "0", **_asked(request)}
    form = MeterChangeForm(request.POST or None, counters=counters_of(machine), initial=first)

    def change(given: dict[str, Any]) -> object:
        told = MeterChange(given["on"], given["old_last"], given["new_first"], given["rollover"])
        return change_meter(change=told, counts=given["counts"], **_who(request, machine))

    return _answer(request, machine, form, change, "change")


@politely
def meter_undo(request: HttpRequest, machine_id: int) -> HttpResponse:
    """A change that was recorded wrongly: the old meter goes on."""
    machine = _machine(request, machine_id, "record_reading")
    form = UndoChangeForm(
        request.POST or None, counters=counters_of(machine), initial=_asked(request)
    )
    return _answer(
        request,
        machine,
        form,
        lambda given: undo_meter_change(**given, **_who(request, machine)),
        "undo",
    )


@politely
def meter_rollover(request: HttpRequest, machine_id: int) -> HttpResponse:
    """Where a meter begins again at nought."""
    machine = _machine(request, machine_id, "record_reading")
    present = {m.counts: m.rollover_h for m in machine.meters.filter(to_on=None)}
    asked = _asked(request)
    first = {**asked, "rollover": present.get(asked.get("counts", "engine"))}
    form = RolloverForm(request.POST or None, counters=counters_of(machine), initial=first)
    return _answer(
        request,
        machine,
        form,
        lambda given: set_rollover(
            counts=given["counts"], rollover_h=given["rollover"], **_who(request, machine)
        ),
        "rollover",
    )


@politely
def meter_add(request: HttpRequest, machine_id: int) -> HttpResponse:
    """A meter for a further counter: hydraulics beside the engine."""
    machine = _machine(request, machine_id, "edit_machines")
    form = AddMeterForm(request.POST or None)
    return _answer(
        request,
        machine,
        form,
        lambda given: add_meter(
            counts=given["counts"], rollover_h=given["rollover"], **_who(request, machine)
        ),
        "add",
    )


WORDS = {
    "change": (
        "Change the meter",
        "What the old meter showed last and the new one first. The hours of the machine go on "
        "counting; what was read since then and doubted goes to the new meter.",
        "Record the change",
        "The change of meter is recorded. The hours go on counting.",
    ),
    "undo": (
        "Undo the change of meter",
        "Both readings of the change are set aside and the old meter goes on. It can be undone "
        "as long as nothing that was read since counts on the new meter.",
        "Undo the change",
        "The change is undone: the old meter goes on.",
    ),
    "rollover": (
        "Where the meter begins again",
        "A meter of four figures goes from 9 999.9 to 0. Once that is known, such a drop is no "
        "doubt any more, where the hours fit into the time.",
        "Save",
        "Saved. Readings that were doubted for running back were judged again.",
    ),
    "add": (
        "Add a meter",
        "For a counter of its own, such as the hydraulics’. A position names the counter that "
        "ages its hose.",
        "Add the meter",
        "The meter is added.",
    ),
}


def _machine(request: HttpRequest, machine_id: int, right: str) -> Machine:
    person = person_of(request)
    machine = machine_for(person, machine_id)
    if machine is None:
        raise Http404
    require(person, right, machine.site_id)
    return machine


def _asked(request: HttpRequest) -> dict[str, str]:
    """The counter that a link names."""
    counts = request.GET.get("counts", "")
    return {"counts": counts} if counts else {"counts": "engine"}


def _who(request: HttpRequest, machine: Machine) -> dict[str, Any]:
    return {"machine": machine, "person": person_of(request), "at": timezone.now()}


def _answer(
    request: HttpRequest, machine: Machine, form: forms.Form, do: Deed, deed: str
) -> HttpResponse:
    title, intro, button, thanks = WORDS[deed]
    if request.method == "POST" and form.is_valid():
        try:
            do(form.cleaned_data)
        except Refused as refusal:
            refuse(form, refusal)
        else:
            messages.success(request, thanks)
            return redirect("fleet:readings", machine.pk)
    context = {"form": form, "machine": machine, "deed": deed, "title": title}
    context |= {"intro": intro, "button": button}
    return render(request, "fleet/readings/meter_form.html", context)
