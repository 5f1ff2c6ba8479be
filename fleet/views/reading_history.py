"""All readings of a machine, putting one right, and setting one aside."""

import datetime as dt
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from fleet.actions.corrections import correct_reading
from fleet.actions.readings import set_aside_reading
from fleet.actions.refusals import Refused
from fleet.calc.typed_moments import NOON, moment_of
from fleet.forms.meters import CorrectionForm, SetAsideForm
from fleet.models import HourReading, Machine
from fleet.permissions import may, require
from fleet.queries.reach import machine_for, reading_for
from fleet.queries.reading_history import meters_of, rates_of, reading_history, told_by
from fleet.views.forms import refuse
from fleet.views.gate import day_at, person_of, politely
from fleet.views.paging import SIZE, place_of, shown
from fleet.views.usage_pictures import usage_pictures


@politely
def readings(request: HttpRequest, machine_id: int) -> HttpResponse:
    """What a machine's meters showed since they are read, with what became of each reading."""
    person = person_of(request)
    machine = machine_for(person, machine_id)
    if machine is None:
        raise Http404
    after = place_of(request, dt.date, int)
    page = reading_history(person, machine, after=after, size=SIZE)
    context = {
        "machine": machine,
        "page": shown(request, page),
        "meters": meters_of(machine),
        "rates": rates_of(machine),
        "told_by": told_by(machine),
        "pictures": [] if after else usage_pictures(machine, day_at(machine.site)),
        "may_record": may(person, "record_reading", machine.site),
        "may_edit": may(person, "edit_machines", machine.site),
    }
    return render(request, "fleet/readings/history.html", context)


@politely
def reading_correct(request: HttpRequest, reading_id: int) -> HttpResponse:
    """The right figure or the right day; the wrong reading stays beside it."""
    person, now = person_of(request), timezone.now()
    reading = _reading(request, reading_id)
    machine = reading.meter.machine
    require(person, "record_reading", reading.site_id)
    form = CorrectionForm(request.POST or None, initial=_as_it_stands(reading))
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            right = correct_reading(
                reading=reading,
                reading_h=given["reading"],
                read_at=_moment(given["read"], form["read"].value(), reading, machine),
                typed=str(form["reading"].value()),
                reason=given["reason"],
                person=person,
                at=now,
            )
        except Refused as refusal:
            refuse(form, refusal)
        else:
            _say(request, right)
            return redirect("fleet:readings", machine.pk)
    return _form_page(request, form, reading, "correct")


@politely
def reading_set_aside(request: HttpRequest, reading_id: int) -> HttpResponse:
    """A reading that counts no more, and nothing in its place."""
    person, reading = person_of(request), _reading(request, reading_id)
    require(person, "record_reading", reading.site_id)
    form = SetAsideForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        reason = form.cleaned_data["reason"]
        try:
            set_aside_reading(reading=reading, reason=reason, person=person, at=timezone.now())
        except Refused as refusal:
            refuse(form, refusal)
        else:
            messages.success(request, "Set aside. The dates that rest on it are worked out again.")
            return redirect("fleet:readings", reading.meter.machine_id)
    return _form_page(request, form, reading, "set aside")


def _reading(request: HttpRequest, reading_id: int) -> HourReading:
    found = reading_for(person_of(request), reading_id)
    if found is None:
        raise Http404
    return found


def _form_page(
    request: HttpRequest, form: CorrectionForm | SetAsideForm, reading: HourReading, deed: str
) -> HttpResponse:
    machine = reading.meter.machine
    context = {"form": form, "reading": reading, "machine": machine, "deed": deed}
    return render(request, "fleet/readings/correct.html", context)


def _as_it_stands(reading: HourReading) -> dict[str, object]:
    local = reading.read_at.astimezone(ZoneInfo(reading.meter.machine.site.time_zone))
    day_alone = local.time() == NOON
    shown_at = f"{local:%Y-%m-%d}" if day_alone else f"{local:%Y-%m-%d %H:%M}"
    return {"reading": reading.reading_h, "read": shown_at}


def _moment(typed: object, text: object, reading: HourReading, machine: Machine) -> dt.datetime:
    """The moment that was typed; left as it stood, it is the very moment that it was."""
    standing = _as_it_stands(reading)["read"]
    if str(text).strip() == standing:
        return reading.read_at
    from fleet.calc.typed_moments import TypedMoment

    assert isinstance(typed, TypedMoment)
    default = TypedMoment(reading.read_on, None)
    return moment_of(typed, default=default, zone=machine.site.time_zone)


def _say(request: HttpRequest, right: HourReading) -> None:
    if right.doubt:
        messages.warning(request, f"Corrected, but doubtful: {right.doubt}")
    else:
        messages.success(request, f"Corrected: {right.reading_h} h on {right.read_on}.")
