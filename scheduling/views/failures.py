"""Reporting a failure, completing it, and noting that a machine stands or runs again."""

from uuid import uuid4

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from assemblies.queries.choices import hose_for, hose_named
from fleet.actions.downtime import machine_back, machine_down
from fleet.actions.refusals import Refused
from fleet.forms.photos import upload_stopped
from fleet.models import Machine
from fleet.permissions import may, require
from fleet.queries.reach import machine_for
from fleet.views.forms import refuse
from fleet.views.gate import day_at, person_of, politely
from scheduling.actions.failures import complete_failure, report_failure
from scheduling.forms.failures import (
    BackForm,
    CompleteForm,
    DownForm,
    ReportForm,
    complete_initial,
)
from scheduling.models import Failure
from scheduling.queries.failures import (
    failure_for,
    failure_page,
    fitted_on,
    open_downtime,
    standing_report,
)

RIGHT = "report_failures"


@politely
def failure_report(request: HttpRequest) -> HttpResponse:
    """Which hose failed: by its tag, or by its machine and place."""
    person, typed = person_of(request), request.GET.get("q", "").strip()
    if typed:
        hose = hose_named(person, typed)
        if hose is not None:
            return redirect("scheduling:hose_failure", hose.pk)
        named = Machine.objects.visible_to(person).filter(fleet_number__iexact=typed).first()
        if named is not None:
            return redirect("scheduling:machine_failure", named.pk)
    return render(request, "scheduling/failures/ask.html", {"typed": typed})


@politely
def machine_failure(request: HttpRequest, machine_id: int) -> HttpResponse:
    """Which of a machine's hoses failed, in walk-round order."""
    person = person_of(request)
    machine = machine_for(person, machine_id)
    if machine is None:
        raise Http404
    require(person, RIGHT, machine.site_id)
    context = {"machine": machine, "lines": fitted_on(machine)}
    return render(request, "scheduling/failures/choose.html", context)


@politely
def hose_failure(request: HttpRequest, hose_id: int) -> HttpResponse:
    """The report itself."""
    person, now = person_of(request), timezone.now()
    hose = hose_for(person, hose_id)
    if hose is None:
        raise Http404
    require(person, RIGHT, hose.site_id)
    initial = {"on": day_at(hose.site, now), "down": "down", "client_id": str(uuid4())}
    form = ReportForm(request.POST or None, request.FILES or None, initial=initial)
    if request.method == "POST" and not upload_stopped(form, request) and form.is_valid():
        report, client_id = form.report(hose.site, now), form.cleaned_data["client_id"]
        try:
            failure = report_failure(
                assembly=hose, report=report, client_id=client_id, person=person, at=now
            )
        except Refused as refusal:
            refuse(form, refusal)
        else:
            messages.success(
                request, "The failure is reported. Stop, depressurise, then change it."
            )
            return redirect("scheduling:failure", failure.pk)
    context = {"form": form, "hose": hose, "told": standing_report(hose.pk)}
    return render(request, "scheduling/failures/report.html", context)


@politely
def failure(request: HttpRequest, failure_id: int) -> HttpResponse:
    """One failure: what is known, what is still to be said, and what to do now."""
    person, now = person_of(request), timezone.now()
    held = _seen(request, failure_id)
    page = failure_page(held, at=now)
    context = {
        "page": page,
        "failure": held,
        "may_report": may(person, RIGHT, held.site_id),
        "may_fit": may(person, "fit_hoses", held.site_id),
        "may_inspect": may(person, "inspect", held.assembly.site_id),
        "may_build": may(person, "build", held.site_id),
        "back": BackForm(initial={"on": day_at(held.site, now)}),
    }
    return render(request, "scheduling/failures/failure.html", context)


@politely
def failure_complete(request: HttpRequest, failure_id: int) -> HttpResponse:
    """Adding what became known."""
    person, now, held = person_of(request), timezone.now(), _seen(request, failure_id)
    require(person, RIGHT, held.site_id)
    initial = complete_initial(held)
    if request.GET.get("examined"):
        initial["cause_stated"] = "examined"
    form = CompleteForm(request.POST or None, request.FILES or None, initial=initial)
    if request.method == "POST" and not upload_stopped(form, request) and form.is_valid():
        given = form.cleaned_data
        try:
            complete_failure(
                failure=held,
                facts=form.facts(),
                photos=given["photos"],
                version=given["version"],
                person=person,
                at=now,
            )
        except Refused as refusal:
            refuse(form, refusal)
        else:
            messages.success(request, "Kept.")
            return redirect("scheduling:failure", failure_id)
    context = {"form": form, "failure": held, "page": failure_page(held, at=now)}
    return render(request, "scheduling/failures/complete.html", context)


@politely
def machine_stands(request: HttpRequest, machine_id: int) -> HttpResponse:
    """Noting time down that is not a hose's: planned, or for another reason."""
    person, now = person_of(request), timezone.now()
    machine = machine_for(person, machine_id)
    if machine is None:
        raise Http404
    require(person, RIGHT, machine.site_id)
    form = DownForm(request.POST or None, initial={"on": day_at(machine.site, now)})
    if request.method == "POST" and form.is_valid():
        start, end = form.spell(machine.site, now)
        given = form.cleaned_data
        try:
            machine_down(
                machine=machine,
                from_at=start,
                to_at=end,
                planned=given["planned"] == "yes",
                reason=given["reason"],
                person=person,
                at=now,
            )
        except Refused as refusal:
            refuse(form, refusal)
        else:
            messages.success(request, f"{machine} is noted as standing.")
            return redirect("scheduling:machine", machine_id)
    return render(request, "scheduling/failures/down.html", {"form": form, "machine": machine})


@politely
def machine_runs(request: HttpRequest, downtime_id: int) -> HttpResponse:
    """Noting that a machine runs again."""
    person, now = person_of(request), timezone.now()
    downtime = open_downtime(person, downtime_id)
    if downtime is None:
        raise Http404
    require(person, RIGHT, downtime.site_id)
    site = downtime.machine.site
    form = BackForm(request.POST or None, initial={"on": day_at(site, now)})
    if request.method == "POST" and form.is_valid():
        try:
            machine_back(downtime=downtime, to_at=form.moment(site, now), person=person, at=now)
        except Refused as refusal:
            refuse(form, refusal)
        else:
            messages.success(request, f"{downtime.machine} runs again.")
            return redirect("scheduling:machine", downtime.machine_id)
    return render(request, "scheduling/failures/back.html", {"form": form, "downtime": downtime})


def _seen(request: HttpRequest, failure_id: int) -> Failure:
    found = failure_for(person_of(request), failure_id)
    if found is None:
        raise Http404
    return found
