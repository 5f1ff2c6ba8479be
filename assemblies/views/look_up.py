"""One search over all that can be built with."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from assemblies.calc.search import LONGEST
from assemblies.queries.look_up import look_up as look_it_up
from assemblies.views.shared_things import reader_of
from fleet.views.gate import politely, today_of


@politely
@require_safe
def look_up(request: HttpRequest) -> HttpResponse:
    """Hoses, fittings, shells, specs, reels and lots that fit what was typed, in any notation."""
    person = reader_of(request)
    text = request.GET.get("q", "").strip()
    found = look_it_up(person, text, today=today_of(person))
    context = {"text": text[:LONGEST], "found": found, "cut": len(text) > LONGEST}
    return render(request, "assemblies/look_up.html", context)
