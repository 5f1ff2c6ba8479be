"""Finding a hose, and the page of one."""

from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from fleet.models import Person
from fleet.navigation import deeds_for
from fleet.permissions import may
from fleet.views.gate import day_at, person_of, politely, today_of
from scheduling.queries.exemptions import exemptions_of
from scheduling.queries.finding_hoses import find as find_typed
from scheduling.queries.finding_hoses import hose_of_tag
from scheduling.queries.hose_page import HosePage, hose_page


@politely
def find(request: HttpRequest) -> HttpResponse:
    """What the tag box asks: straight to the hose where it can only be one."""
    typed = request.GET.get("q", "")[:200].replace("\0", "")
    found = find_typed(person_of(request), typed)
    if found.only_hose_id is not None:
        return redirect("scheduling:hose", found.only_hose_id)
    return render(request, "scheduling/find.html", {"found": found, "typed": typed})


@politely
def hose_by_tag(request: HttpRequest, typed: str) -> HttpResponse:
    """What the code on a tag opens."""
    hose_id = hose_of_tag(person_of(request), typed)
    if hose_id is None:
        raise Http404
    return hose(request, hose_id)


@politely
def hose(request: HttpRequest, hose_id: int) -> HttpResponse:
    """One hose, on a phone in one screen."""
    person = person_of(request)
    page = hose_page(person, hose_id, today=today_of(person))
    if page is None:
        raise Http404
    context = {
        "page": page,
        "hose": page.hose,
        "deeds": _deeds(page, person),
        "may_inspect": may(person, "inspect", page.hose.site_id),
        "today": day_at(page.hose.site),
        "exemptions": exemptions_of(page.hose, today=day_at(page.hose.site)),
    }
    return render(request, "scheduling/hose.html", context)


def _deeds(page: HosePage, person: Person) -> list[dict[str, Any]]:
    """What may be done to the hose, and how it leaves the position that holds it."""
    site_id = page.hose.site_id
    not_now = ["assemblies:tag"] if page.hose.tag_id else []
    gone, fitted = page.hose.withdrawn_at, page.stay and page.stay.position
    not_now += ["scheduling:inspect", "assemblies:release"] if gone else []
    not_now += ["assemblies:scrap"] if gone or fitted or page.open_build_id else []
    own = deeds_for("hose", page.hose.pk, person=person, site_id=site_id, but_not=not_now)
    place = page.stay.position if page.stay else None
    if place is None:
        return own
    there = deeds_for("position", place.pk, person=person, site_id=site_id)
    moves = {reverse(f"assemblies:{name}", args=[place.pk]) for name in ("swap", "take_off")}
    both = own + [deed for deed in there if deed["url"] in moves]
    return sorted(both, key=lambda deed: deed["rank"])
