"""Machines that sources tell of: matched once to ours, by a person."""

from django import forms
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from fleet.actions.refusals import Refused
from fleet.actions.telematics_matches import match_machine, set_match_aside, take_match_back
from fleet.forms.telematics import MatchForm, ReasonForm, SearchForm, TakeBackForm
from fleet.models import Person
from fleet.permissions import may_anywhere, require
from fleet.queries.reach import machine_for
from fleet.queries.telematics import SeenLine, machines_like, seen_for, seen_machines
from fleet.views.forms import refuse
from fleet.views.gate import person_of, politely
from fleet.views.paging import SIZE, place_of, shown

RIGHT = "edit_machines"


@politely
def unmatched(request: HttpRequest) -> HttpResponse:
    """Machines that wait for someone to say which of ours they are; or those that are matched."""
    person, matched = person_of(request), request.GET.get("show") == "matched"
    after = place_of(request, int)
    page = seen_machines(person, matched=matched, after=after, size=SIZE)
    context = {"page": shown(request, page), "matched": matched}
    return render(
        request, "fleet/telematics/seen.html", {**context, "may": may_anywhere(person, RIGHT)}
    )


@politely
def match(request: HttpRequest, seen_id: int) -> HttpResponse:
    """Which machine of ours it is: proposed where a number agrees, or looked for."""
    person, line = person_of(request), _seen(request, seen_id)
    search = SearchForm(request.GET or None)
    looked_for = search.cleaned_data["q"] if search.is_bound and search.is_valid() else ""
    form = MatchForm(request.POST or None, machines=_machines(person, line, looked_for))
    if request.method == "POST" and form.is_valid():
        machine = machine_for(person, form.cleaned_data["machine"])
        if machine is None:
            raise Http404
        counts = form.cleaned_data["counts"]
        try:
            match_machine(
                seen=line.seen, machine=machine, counts=counts, person=person, at=timezone.now()
            )
        except Refused as refusal:
            refuse(form, refusal)
        else:
            messages.success(request, f"{line.seen} is {machine}. What it told last is recorded.")
            return redirect("fleet:unmatched")
    context = {"form": form, "search": search, "line": line, "seen": line.seen}
    return render(request, "fleet/telematics/match.html", {**context, "looked_for": looked_for})


@politely
def match_take_back(request: HttpRequest, seen_id: int) -> HttpResponse:
    """A match that was wrong, or is over."""
    person, line = person_of(request), _seen(request, seen_id)
    form = TakeBackForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            take_match_back(
                seen=line.seen,
                reason=given["reason"],
                wrong=given["wrong"] == "yes",
                person=person,
                at=timezone.now(),
            )
        except Refused as refusal:
            refuse(form, refusal)
        else:
            messages.success(request, f"{line.seen} waits for a match again.")
            return redirect("fleet:unmatched")
    return _page(request, form, line, "take back")


@politely
def match_set_aside(request: HttpRequest, seen_id: int) -> HttpResponse:
    """A machine that is none of ours."""
    person, line = person_of(request), _seen(request, seen_id)
    form = ReasonForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        reason = form.cleaned_data["reason"]
        try:
            set_match_aside(seen=line.seen, reason=reason, person=person, at=timezone.now())
        except Refused as refusal:
            refuse(form, refusal)
        else:
            messages.success(request, f"{line.seen} is left out of the list.")
            return redirect("fleet:unmatched")
    return _page(request, form, line, "set aside")


@require_POST
@politely
def match_proposed(request: HttpRequest, seen_id: int, machine_id: int) -> HttpResponse:
    """The machine that was proposed because a number agrees: one press."""
    person, line = person_of(request), _seen(request, seen_id)
    machine = machine_for(person, machine_id)
    if machine is None:
        raise Http404
    try:
        match_machine(
            seen=line.seen, machine=machine, counts="engine", person=person, at=timezone.now()
        )
    except Refused as refusal:
        messages.error(request, refusal.sentence)
    else:
        messages.success(request, f"{line.seen} is {machine}. What it told last is recorded.")
    return redirect("fleet:unmatched")


def _seen(request: HttpRequest, seen_id: int) -> SeenLine:
    person = person_of(request)
    found = seen_for(person, seen_id)
    if found is None:
        raise Http404
    require(person, RIGHT, found.seen.source.site_id)
    return found


def _machines(person: Person, line: SeenLine, looked_for: str) -> list[tuple[int, str]]:
    """Those whose number agrees and those that were looked for, each once, in words."""
    found = [*line.proposals, *machines_like(person, line.seen.source, looked_for)]
    words: dict[int, str] = {}
    for one in found:
        words.setdefault(
            one.machine_id, f"{one.number}: {one.what}" + f" ({one.why})" * bool(one.why)
        )
    return list(words.items())


def _page(request: HttpRequest, form: forms.Form, line: SeenLine, deed: str) -> HttpResponse:
    context = {"form": form, "line": line, "seen": line.seen, "deed": deed}
    return render(request, "fleet/telematics/match_end.html", context)
