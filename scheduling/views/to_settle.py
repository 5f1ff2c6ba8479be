"""Lists of what waits for someone's decision or hand."""

import datetime as dt

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from fleet.views.gate import person_of, politely
from fleet.views.paging import SIZE, place_of, shown
from scheduling.queries.to_settle import doubtful_readings, failures_latest, untagged_hoses


@politely
def untagged(request: HttpRequest) -> HttpResponse:
    """Fitted hoses without a tag."""
    found = untagged_hoses(person_of(request), after=place_of(request, int), size=SIZE)
    return render(request, "scheduling/untagged.html", {"page": shown(request, found)})


@politely
def doubtful(request: HttpRequest) -> HttpResponse:
    """Hour readings in doubt."""
    found = doubtful_readings(person_of(request), after=place_of(request, int), size=SIZE)
    return render(request, "scheduling/doubtful.html", {"page": shown(request, found)})


@politely
def failures(request: HttpRequest) -> HttpResponse:
    """Failures in service, the latest first."""
    after = place_of(request, dt.date, int)
    found = failures_latest(person_of(request), after=after, size=SIZE)
    return render(request, "scheduling/failures.html", {"page": shown(request, found)})
