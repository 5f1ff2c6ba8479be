"""Exemptions: the list by their last day, one with what it puts off, granting, ending."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from assemblies.queries.choices import hose_for, position_for
from fleet.actions.refusals import Refused
from fleet.permissions import NotAllowed, may, may_anywhere, require
from fleet.queries.reach import sites_where
from fleet.views.forms import refuse
from fleet.views.gate import person_of, politely, today_of
from scheduling.actions.exemptions import end_exemption, grant_exemption, site_of
from scheduling.forms.exemptions import ReasonForm, ScopeForm
from scheduling.queries.exemptions import exemption_for, exemption_line, exemptions_seen

RIGHT = "approve_rules"


@politely
def exemptions(request: HttpRequest) -> HttpResponse:
    """What may pass a limit until when, the soonest end first."""
    person = person_of(request)
    lines = exemptions_seen(person, today=today_of(person))
    context = {
        "standing": [line for line in lines if line.state == "standing"],
        "gone": [line for line in lines if line.state != "standing"],
        "may_grant": may_anywhere(person, RIGHT),
        "today": today_of(person),
    }
    return render(request, "scheduling/exemptions/list.html", context)


@politely
def exemption(request: HttpRequest, exemption_id: int) -> HttpResponse:
    """One exemption, and what it puts off."""
    person = person_of(request)
    found = exemption_for(person, exemption_id)
    if found is None:
        raise Http404
    line = exemption_line(found, today=today_of(person))
    context = {"line": line, "may_end": may(person, RIGHT, site_of(found))}
    return render(request, "scheduling/exemptions/one.html", context)


@politely
def exemption_add(request: HttpRequest) -> HttpResponse:
    """Granting one for a stated scope."""
    person = person_of(request)
    sites = sites_where(person, RIGHT)
    if not sites:
        raise NotAllowed("Granting exemptions is not among your rights at any site.")
    form = ScopeForm(request.POST or None, sites=sites, initial={"site": sites[0]})
    return _granted(request, form, {}, "a stated scope")


@politely
def exemption_hose(request: HttpRequest, hose_id: int) -> HttpResponse:
    """Granting one for a hose."""
    hose = hose_for(person_of(request), hose_id)
    if hose is None:
        raise Http404
    require(person_of(request), RIGHT, hose.site_id)
    return _granted(request, ReasonForm(request.POST or None), {"assembly": hose}, f"hose {hose}")


@politely
def exemption_position(request: HttpRequest, position_id: int) -> HttpResponse:
    """Granting one for a position, whatever hose it holds."""
    place = position_for(person_of(request), position_id)
    if place is None:
        raise Http404
    require(person_of(request), RIGHT, place.machine.site_id)
    words = f"{place.machine}, {place}"
    return _granted(request, ReasonForm(request.POST or None), {"position": place}, words)


@require_POST
@politely
def exemption_end(request: HttpRequest, exemption_id: int) -> HttpResponse:
    """Ending one before its day."""
    person = person_of(request)
    found = exemption_for(person, exemption_id)
    if found is None:
        raise Http404
    try:
        end_exemption(exemption=found, person=person, at=timezone.now())
    except Refused as refusal:
        messages.error(request, refusal.sentence)
    else:
        messages.success(request, "It is ended; the dates are worked out again.")
    return redirect("scheduling:exemption", found.pk)


def _granted(
    request: HttpRequest, form: ReasonForm, covers: dict[str, Any], words: str
) -> HttpResponse:
    """The form of an exemption, and granting it."""
    person, now = person_of(request), timezone.now()
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            granted = grant_exemption(
                covers={**covers, **form.covers()},
                triggers=given["triggers"],
                reason=given["reason"],
                until_on=given["until_on"],
                today=today_of(person),
                person=person,
                at=now,
            )
        except Refused as refusal:
            refuse(form, refusal)
        else:
            messages.success(request, "It is granted; the dates are worked out again.")
            return redirect("scheduling:exemption", granted.pk)
    context = {"form": form, "words": words, "scoped": isinstance(form, ScopeForm)}
    return render(request, "scheduling/exemptions/grant.html", context)
