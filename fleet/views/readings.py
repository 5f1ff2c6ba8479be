"""Typing in an hour reading."""

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from fleet.actions.readings import accept_reading, record_reading, set_aside_reading
from fleet.actions.refusals import Refused
from fleet.calc.local_days import moment_on
from fleet.forms.machines import DecisionForm, ReadingForm
from fleet.models import HourReading
from fleet.navigation import address_of
from fleet.permissions import require
from fleet.queries.reach import counters_of, machine_for, reading_for
from fleet.views.gate import day_at, person_of, politely


@politely
def reading_add(request: HttpRequest, machine_id: int) -> HttpResponse:
    """One reading: judged, kept, and shown as doubtful where it can't be right."""
    person, now = person_of(request), timezone.now()
    machine = machine_for(person, machine_id)
    if machine is None:
        raise Http404
    require(person, "record_reading", machine.site_id)
    today = day_at(machine.site, now)
    form = ReadingForm(
        request.POST or None, counters=counters_of(machine), initial={"read_on": today}
    )
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            reading = record_reading(
                machine=machine,
                counts=given["counts"],
                reading_h=given["reading"],
                # To the minute: pressed twice, it is the same reading.
                read_at=moment_on(
                    given["read_on"],
                    machine.site.time_zone,
                    now.replace(second=0, microsecond=0),
                ),
                typed=str(form["reading"].value()),
                source="typed",
                person=person,
                at=now,
            )
        except Refused as refusal:
            form.add_error(refusal.field if refusal.field in form.fields else None, str(refusal))
        else:
            _say(request, reading)
            return redirect(address_of("machine", machine.pk))
    return render(request, "fleet/reading_form.html", {"form": form, "machine": machine})


@politely
def reading_decide(request: HttpRequest, reading_id: int) -> HttpResponse:
    """Accepting a doubtful reading, or setting it aside with the reason."""
    person, now = person_of(request), timezone.now()
    reading = reading_for(person, reading_id)
    if reading is None:
        raise Http404
    require(person, "record_reading", reading.site_id)
    form = DecisionForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            if form.cleaned_data["verdict"] == "accept":
                accept_reading(reading=reading, person=person, at=now)
            else:
                reason = form.cleaned_data["reason"]
                set_aside_reading(reading=reading, reason=reason, person=person, at=now)
        except Refused as refusal:
            form.add_error(refusal.field or None, refusal.sentence)
        else:
            messages.success(request, "Decided. The dates that rest on it are worked out again.")
            return redirect(address_of("machine", reading.meter.machine_id))
    context = {"form": form, "reading": reading, "machine": reading.meter.machine}
    return render(request, "fleet/reading_decide.html", context)


def _say(request: HttpRequest, reading: HourReading) -> None:
    if reading.doubt:
        messages.warning(
            request,
            f"Kept, but doubtful: {reading.doubt} It is left out of every date until someone "
            "accepts it or sets it aside.",
        )
    else:
        messages.success(request, f"{reading.reading_h} h on {reading.read_on} is recorded.")
