"""The page of one position."""

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render

from fleet.navigation import deeds_for
from fleet.views.gate import day_at, person_of, politely, today_of
from scheduling.queries.position_page import position_page
from scheduling.views.pictures import life_picture


@politely
def position(request: HttpRequest, position_id: int) -> HttpResponse:
    """One position: its duty, what is on it, what ever was."""
    person = person_of(request)
    page = position_page(person, position_id, today=today_of(person))
    if page is None:
        raise Http404
    site = page.position.machine.site
    passed_by = ["assemblies:fit"] if page.held else ["assemblies:swap", "assemblies:take_off"]
    deeds = deeds_for("position", position_id, person=person, site_id=site.pk, but_not=passed_by)
    context = {
        "page": page,
        "position": page.position,
        "machine": page.position.machine,
        "today": day_at(site),
        "deeds": deeds,
        "life_picture": life_picture(page.held, day_at(site), prefix="life"),
    }
    return render(request, "scheduling/position.html", context)
