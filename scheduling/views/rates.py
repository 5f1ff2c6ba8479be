"""Failure rates side by side: between sites, classes, hoses, recipes, batches."""

from collections.abc import Mapping
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse

from fleet.calc.svg import svg_of
from fleet.permissions import NotAllowed, may_anywhere
from fleet.views.gate import person_of, politely, today_of
from scheduling.calc.charts.groups import GroupRate, groups_scene
from scheduling.calc.life.comparison import GroupLine, SideBySide, side_by_side
from scheduling.forms.report import RatesForm
from scheduling.queries.group_rates import MACHINE_HOURS, By, group_rates, words_of
from scheduling.queries.losses import zone_of

DRAWN = 12


@politely
def rates(request: HttpRequest) -> HttpResponse:
    """Failures in 1,000 hours at risk, group by group, each against all the others."""
    person = person_of(request)
    if not may_anywhere(person, "read_costs"):
        raise NotAllowed("This needs the right “read costs”.")
    given = {name: value for name, value in request.GET.items() if value}
    form = RatesForm(given, person=person, today=today_of(person))
    context: dict[str, Any] = {"form": form, "query": request.GET.urlencode()}
    if form.is_valid():
        by, scope = By(form.cleaned_data["by"]), form.scope()
        found = group_rates(scope, form.period(zone_of(person)), by)
        hours, per = ("machine hours", 1_000) if by in MACHINE_HOURS else ("hose-hours", 100_000)
        told = side_by_side(found.groups, per=per)
        words = words_of(by, [line.key for line in told.lines])
        context |= {
            "found": found,
            "told": told,
            "scope_words": form.scope_words(),
            "lines": [
                {"line": one, "words": words.get(one.key, "gone"), "link": _link(by, one, request)}
                for one in told.lines
            ],
            "hours": hours,
            "per": per,
            "picture": _picture(told, words, f"failures in {per:,} {hours}"),
        }
    return render(request, "scheduling/report/rates.html", context)


def _link(by: By, line: GroupLine, request: HttpRequest) -> str:
    """Where a group leads: the failures of a site or class, the trace of a recipe or reel."""
    if by in MACHINE_HOURS:
        query = request.GET.copy()
        query.pop("by", None)
        query[by.value] = line.key
        return f"{reverse('scheduling:report_failures')}?{query.urlencode()}"
    if by in (By.RECIPE, By.REEL):
        return reverse("scheduling:trace_source", args=[by.value, line.key])
    return ""


def _picture(told: SideBySide, words: Mapping[str, str], unit: str) -> str:
    drawn = [
        GroupRate(
            words.get(one.key, one.key), one.rate.rate, one.rate.low, one.rate.high, one.drawn
        )
        for one in told.lines
        if one.rate is not None
    ][:DRAWN]
    if not drawn or told.all_of_them is None:
        return ""
    scene = groups_scene(
        drawn,
        fleet=told.all_of_them.rate,
        unit=unit,
        title="Failure rates side by side",
    )
    return svg_of(scene, prefix="rates")
