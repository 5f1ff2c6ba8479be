"""The readings of a recipe's builds: the run, its limits, its capability."""

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render

from assemblies.queries.capability_page import Chosen, readings_page
from assemblies.views.shared_things import reader_of
from fleet.calc.svg import svg_of
from fleet.views.gate import politely

_LARGEST = 2**62


@politely
def recipe_readings(request: HttpRequest, recipe_id: int) -> HttpResponse:
    """The readings of one revision; the address narrows it to a crimper or an end."""
    person = reader_of(request)
    chosen = Chosen(
        number=_whole(request, "revision"),
        crimper_id=_whole(request, "crimper"),
        which=request.GET.get("end", "") if request.GET.get("end") in ("A", "B") else "",
        before=_whole(request, "before"),
    )
    page = readings_page(person, recipe_id, chosen)
    if page is None:
        raise Http404
    context = {
        "page": page,
        "wide": svg_of(page.wide, prefix="run", extra_class="picture--wide"),
        "narrow": svg_of(page.narrow, prefix="run-narrow", extra_class="picture--narrow"),
    }
    return render(request, "assemblies/recipes/readings.html", context)


def _whole(request: HttpRequest, name: str) -> int:
    """A whole number of the address; what is none counts as not said."""
    text = request.GET.get(name, "")
    number = int(text) if text.isascii() and text.isdigit() and len(text) < 20 else 0
    return number if number <= _LARGEST else 0
