"""Recording a look at a hose, and settling what it found."""

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from assemblies.queries.choices import hose_for
from fleet.actions.refusals import Refused
from fleet.permissions import may, require
from fleet.views.forms import refuse
from fleet.views.gate import day_at, person_of, politely
from scheduling.actions.inspections import deal_with_finding
from scheduling.actions.looks import look_here
from scheduling.forms.inspections import DealtWithForm, InspectionForm
from scheduling.queries.findings import finding_for


@politely
def inspect(request: HttpRequest, hose_id: int) -> HttpResponse:
    """One look at one hose."""
    person, now = person_of(request), timezone.now()
    hose = hose_for(person, hose_id)
    if hose is None:
        raise Http404
    require(person, "inspect", hose.site_id)
    today, may_read = day_at(hose.site, now), may(person, "record_reading", hose.site_id)
    form = InspectionForm(request.POST or None, may_read=may_read, initial={"on": today})
    if request.method == "POST" and form.is_valid():
        look, found, when = form.look(), form.found(), form.when(hose.site, now)
        try:
            look_here(
                assembly=hose,
                look=look,
                found=found,
                when=when,
                person=person,
                today=today,
                now=now,
            )
        except Refused as refusal:
            refuse(form, refusal)
        else:
            messages.success(request, "The look is recorded; the date is worked out again.")
            return redirect("scheduling:hose", hose_id)
    return render(request, "scheduling/inspection_form.html", {"form": form, "hose": hose})


@politely
def deal_with(request: HttpRequest, finding_id: int) -> HttpResponse:
    """Saying what was done about a finding."""
    person, now = person_of(request), timezone.now()
    finding = finding_for(person, finding_id)
    if finding is None:
        raise Http404
    require(person, "inspect", finding.assembly.site_id)
    form = DealtWithForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        how = form.cleaned_data["how"]
        try:
            deal_with_finding(finding=finding, how=how, person=person, at=now)
        except Refused as refusal:
            refuse(form, refusal)
        else:
            messages.success(request, "Noted. The date is worked out again.")
            return redirect("scheduling:hose", finding.assembly_id)
    context = {"form": form, "finding": finding, "hose": finding.assembly}
    return render(request, "scheduling/finding_form.html", context)
