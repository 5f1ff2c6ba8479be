"""The due list, on a page and as a file."""

import datetime as dt

from django.http import HttpRequest, HttpResponse, StreamingHttpResponse
from django.shortcuts import render

from fleet.views.gate import person_of, politely, today_of
from fleet.views.paging import SIZE, place_of, shown
from scheduling.exchange.due_csv import due_csv as csv_pieces
from scheduling.forms.filters import DueFilterForm
from scheduling.queries.due_list import (
    BY_DAY,
    BY_ID,
    BY_MACHINE,
    due_lines,
    due_list,
    hoses_named,
)

_PLACES: dict[tuple[str, ...], tuple[type, ...]] = {
    BY_DAY: (dt.date, int),
    BY_MACHINE: (str, int, dt.date, int),
    BY_ID: (int,),
}
MOST_TICKED = 2000


@politely
def due(request: HttpRequest) -> HttpResponse:
    """What falls due at the person's sites."""
    person = person_of(request)
    day, form = today_of(person), DueFilterForm(request.GET, person=person)
    sought = form.sought(day)
    after = place_of(request, *_PLACES[sought.order])
    page = due_list(person, sought, after=after, size=SIZE, today=day)
    query = request.GET.copy()
    query.pop("after", None)
    context = {
        "form": form,
        "sought": sought,
        "page": shown(request, page),
        "today": day,
        "filters": query.urlencode(),
        "narrowed": any(request.GET.get(name) for name in form.fields),
    }
    return render(request, "scheduling/due.html", context)


@politely
def due_csv(request: HttpRequest) -> StreamingHttpResponse:
    """The same list whole, or the rows that were ticked, as a CSV file."""
    person = person_of(request)
    day, form = today_of(person), DueFilterForm(request.GET, person=person)
    ticked = [int(text) for text in request.GET.getlist("hose") if text.isdecimal()]
    if ticked:
        lines = iter(hoses_named(person, ticked[:MOST_TICKED], today=day))
    else:
        lines = due_lines(person, form.sought(day), today=day)
    answer = StreamingHttpResponse(csv_pieces(lines), content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="due-{day.isoformat()}.csv"'
    return answer
