"""Machines whose hours have gone stale."""

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from fleet.queries.stale_hours import stale_machines
from fleet.views.gate import person_of, politely, today_of
from fleet.views.paging import SIZE, place_of, shown


@politely
def stale_hours(request: HttpRequest) -> HttpResponse:
    """Machines in service that nobody has read for the set time, or never."""
    person = person_of(request)
    after = place_of(request, str, int)
    page = stale_machines(person, today=today_of(person), after=after, size=SIZE)
    days = settings.HOURS_STALE_AFTER_DAYS
    context = {"page": shown(request, page), "days": days}
    return render(request, "fleet/readings/stale.html", context)
