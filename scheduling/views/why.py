"""Why a hose has its date."""

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render

from fleet.views.gate import day_at, person_of, politely, today_of
from scheduling.queries.why import why as reasons_why


@politely
def why(request: HttpRequest, hose_id: int) -> HttpResponse:
    """Every trigger's arithmetic, the binding ones first."""
    person = person_of(request)
    found = reasons_why(person, hose_id, today=today_of(person))
    if found is None:
        raise Http404
    context = {"why": found, "hose": found.hose, "today": day_at(found.hose.site)}
    return render(request, "scheduling/why.html", context)
