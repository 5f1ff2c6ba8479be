"""Whether the failures of a machine or a position come faster or slower."""

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render

from assemblies.models import Position
from fleet.calc.svg import svg_of
from fleet.queries.reach import machine_for
from fleet.views.gate import person_of, politely
from scheduling.calc.charts.recurrence import recurrence_scene
from scheduling.calc.life.mean_cumulative import mean_cumulative
from scheduling.calc.life.records import StudyRefused
from scheduling.calc.life.trend_words import mean_words, pooled_trend_words, trend_words
from scheduling.queries.histories import (
    ClassHistories,
    History,
    class_histories,
    machine_history,
    position_history,
)


@politely
def machine_trend(request: HttpRequest, machine_id: int) -> HttpResponse:
    """One machine's failures over its hours, beside the machines of its class."""
    person = person_of(request)
    machine = machine_for(person, machine_id)
    if machine is None:
        raise Http404
    own, others = machine_history(machine), class_histories(person, machine)
    picture, said = _class_told(others, own)
    context = {
        "machine": machine,
        "own": own,
        "says": _says(own),
        "others": others,
        "class_says": said,
        "picture": picture,
    }
    return render(request, "scheduling/trends/machine.html", context)


@politely
def position_trend(request: HttpRequest, position_id: int) -> HttpResponse:
    """One position's failures over the hours of its machine."""
    found = Position.objects.visible_to(person_of(request)).filter(pk=position_id)
    position = found.select_related("machine__site").first()
    if position is None:
        raise Http404
    own = position_history(position)
    context = {"position": position, "own": own, "says": _says(own)}
    return render(request, "scheduling/trends/position.html", context)


def _says(own: History) -> tuple[str, ...]:
    if own.until_h <= 0:
        return (
            "It was not watched yet: two hour readings since a hose on it was known are needed.",
        )
    return trend_words(own.ages_h, own.until_h)


def _class_told(others: ClassHistories, own: History) -> tuple[str, tuple[str, ...]]:
    """The picture of the class, and what it says; without a failure no picture."""
    events = [one.ages_h for one in others.histories]
    ends = [one.until_h for one in others.histories]
    try:
        found = mean_cumulative(events, ends)
    except StudyRefused as refused:
        return "", (refused.sentence,)
    scene = recurrence_scene(
        found, own.ages_h, until=max(ends), own_until=own.until_h, title="Failures by hours watched"
    )
    return svg_of(scene, prefix="class"), (
        mean_words(found, len(ends)),
        pooled_trend_words(events, ends),
    )
