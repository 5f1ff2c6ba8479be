"""Rounds: the list, beginning one, the walk itself, and finishing it."""

from uuid import uuid4

from django.contrib import messages
from django.db import transaction
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from fleet.actions.readings import record_reading
from fleet.actions.refusals import Refused
from fleet.models import Machine, Person
from fleet.permissions import may, may_anywhere, require
from fleet.queries.reach import counters_of, machine_for
from fleet.views.forms import refuse
from fleet.views.gate import day_at, person_of, politely
from scheduling.actions.inspections import is_competent
from scheduling.actions.rounds import RIGHT, begin_round, finish_round
from scheduling.forms.baselining import RegisterForm
from scheduling.forms.rounds import BeginForm, LookForm
from scheduling.models import Round
from scheduling.queries.baselining import questions_of
from scheduling.queries.round_places import left_out_of
from scheduling.queries.rounds import (
    RoundLine,
    open_round_of,
    round_for,
    round_page,
    rounds_seen,
)


@politely
def rounds(request: HttpRequest) -> HttpResponse:
    """The rounds at the person's sites, the open ones first."""
    person = person_of(request)
    lines = rounds_seen(person)
    context = {
        "still": [line for line in lines if line.finished_at is None],
        "over": [line for line in lines if line.finished_at is not None],
        "may_walk": may_anywhere(person, "inspect") or may_anywhere(person, "fit_hoses"),
    }
    return render(request, "scheduling/rounds/list.html", context)


@politely
def round_begin(request: HttpRequest, machine_id: int) -> HttpResponse:
    """Beginning a round of a machine, or going on with the one that is open."""
    person, now = person_of(request), timezone.now()
    machine = machine_for(person, machine_id)
    if machine is None:
        raise Http404
    require(person, "inspect", machine.site_id)
    may_read = may(person, "record_reading", machine.site_id) and bool(counters_of(machine))
    form = BeginForm(request.POST or None, may_read=may_read)
    if request.method == "POST" and form.is_valid():
        try:
            with transaction.atomic():
                _read_meter(form, machine, person)
                begun = begin_round(
                    machine=machine,
                    occasion=form.occasion_words(),
                    inspector=form.cleaned_data["inspector"],
                    person=person,
                    today=day_at(machine.site, now),
                    at=now,
                )
        except Refused as refusal:
            refuse(form, refusal)
        else:
            return redirect("scheduling:round", begun.pk)
    context = {
        "form": form,
        "machine": machine,
        "open": open_round_of(machine, Round.Purpose.INSPECT),
        "competent": is_competent(person, machine.site_id),
    }
    return render(request, "scheduling/rounds/begin.html", context)


@politely
def round_walk(request: HttpRequest, round_id: int) -> HttpResponse:
    """The walk: every hose in walking order, each with its answer."""
    return walk(request, seen_round(person_of(request), round_id))


def walk(request: HttpRequest, held: Round) -> HttpResponse:
    """The page of a round, whatever it is for.

    `Round-Page` names who may walk it and whether it is open: what a phone may keep goes by that.
    """
    person, today = person_of(request), day_at(held.site)
    page = round_page(person, held, today=today)
    registers = held.purpose == Round.Purpose.REGISTER
    walks = may(person, RIGHT[Round.Purpose(held.purpose)], held.site_id)
    context = {
        "page": page,
        "today": today,
        "walks": walks,
        "may_walk": page.open and walks,
        "form": (RegisterForm if registers else LookForm)(auto_id="found-%s"),
        "rest": ",".join(str(line.hose_id) for line in page.to_do),
        "person_id": person.pk,
        "told_id": uuid4().hex[:20],
        "asked": questions_of(page, today) if registers else (),
    }
    answer = render(request, "scheduling/rounds/round.html", context)
    if walks:
        answer["Round-Page"] = f"{person.pk} {'open' if page.open else 'finished'}"
    return answer


@politely
def round_hose(request: HttpRequest, round_id: int, hose_id: int) -> HttpResponse:
    """The checklist of one hose as a page of its own, for a browser without scripts."""
    person = person_of(request)
    held = seen_round(person, round_id)
    require(person, "inspect", held.site_id)
    return checklist(request, held, hose_id, LookForm(initial=_begun(hose_id)))


def checklist(request: HttpRequest, held: Round, hose_id: int, form: LookForm) -> HttpResponse:
    """The checklist, with what is wrong where something was."""
    context = {"form": form, "round": held, "line": _line(request, held, hose_id)}
    return render(request, "scheduling/rounds/hose.html", context)


@politely
def round_finish(request: HttpRequest, round_id: int) -> HttpResponse:
    """What was not seen, and finishing the round."""
    person = person_of(request)
    held = seen_round(person, round_id)
    require(person, RIGHT[Round.Purpose(held.purpose)], held.site_id)
    if request.method == "POST":
        finish_round(round_=held, person=person, at=timezone.now())
        messages.success(request, "The round is finished. What was not seen stays due.")
        return redirect("scheduling:round", held.pk)
    context = {"round": held, "left_out": list(left_out_of(held))}
    return render(request, "scheduling/rounds/finish.html", context)


def seen_round(person: Person, round_id: int) -> Round:
    """The round, where the person may see it; another site's is not there."""
    found = round_for(person, round_id)
    if found is None:
        raise Http404
    return found


def _begun(hose_id: int) -> dict[str, object]:
    return {"hose": hose_id, "answer": "found", "client_id": uuid4().hex[:20]}


def _line(request: HttpRequest, held: Round, hose_id: int) -> RoundLine:
    page = round_page(person_of(request), held, today=day_at(held.site))
    for line in page.lines:
        if line.hose_id == hose_id:
            return line
    raise Http404


def _read_meter(form: BeginForm, machine: Machine, person: Person) -> None:
    reading_h = form.cleaned_data.get("reading")
    if reading_h is None:
        return
    now = timezone.now()
    record_reading(
        machine=machine,
        counts=counters_of(machine)[0],
        reading_h=reading_h,
        read_at=now,
        typed=str(form["reading"].value() or ""),
        source="job",
        source_ref="begun round",
        person=person,
        at=now,
    )
