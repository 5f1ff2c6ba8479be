"""The duty check of a position: what stands against the spec that it requires."""

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render

from assemblies.queries.choices import position_for
from assemblies.queries.duty_check import counting_revision, duty_check
from fleet.views.gate import person_of, politely


@politely
def duty(request: HttpRequest, position_id: int) -> HttpResponse:
    """Each finding with both figures and where they are from."""
    position = position_for(person_of(request), position_id)
    if position is None:
        raise Http404
    spec = position.required_spec
    revision = counting_revision(spec) if spec else None
    findings = duty_check(position, revision) if revision else ()
    context = {"position": position, "revision": revision, "findings": findings}
    return render(request, "assemblies/duty.html", context)
