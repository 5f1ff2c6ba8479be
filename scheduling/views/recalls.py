"""Recalls: begun with what it would reach before one, how far each is, ended; withdrawing."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, StreamingHttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone

from assemblies.queries.trace_subjects import Subject
from assemblies.queries.withdrawn import NamedSheet, unbuilt_sheets_of
from fleet.actions.refusals import Refused
from fleet.permissions import NotAllowed
from fleet.views.forms import refuse
from fleet.views.gate import person_of, politely, today_of
from fleet.views.paging import SIZE, place_of, shown
from scheduling.actions.recalls import RIGHT, end_recall, recall, require_for
from scheduling.actions.withdrawals import may_mark, may_withdraw, withdraw_source
from scheduling.exchange.traced_csv import recalled_csv
from scheduling.forms.recalls import EndRecallForm, RecallForm, WithdrawForm
from scheduling.models import Recall
from scheduling.queries.recalls import (
    RecallLine,
    may_end,
    recall_for,
    recall_list,
    recalled,
    recalled_lines,
    told_elsewhere,
)
from scheduling.queries.traced import Spread, spread, traced
from scheduling.views.trace import csv_answer, seen_subject

_FIRST = 20  # of the hoses that it would reach, on the page that asks


@politely
def recalls(request: HttpRequest) -> HttpResponse:
    """The recalls that concern the person, and how far each has come."""
    person = person_of(request)
    after = place_of(request, int)
    page = recall_list(person, after=(after[0],) if after else None, size=SIZE)
    return render(request, "scheduling/trace/recalls.html", {"page": shown(request, page)})


@politely
def recall_begin(request: HttpRequest, kind: str, key: str) -> HttpResponse:
    """What a recall would reach, then the recall itself."""
    person, now = person_of(request), timezone.now()
    subject = seen_subject(request, kind, key)
    require_for(person, RIGHT, subject)
    form, counted = RecallForm(request.POST or None), spread(person, subject, most=None)
    if request.method == "POST" and form.is_valid() and _as_seen(request, form, counted):
        told: dict[str, Any] = {"person": person, "today": today_of(person), "at": now}
        try:
            made = recall(subject=subject, **form.terms(), **told)
        except Refused as refusal:
            refuse(form, refusal)
        else:
            return _to(request, made)
    return _ask(request, "scheduling/trace/recall_form.html", form, subject, counted)


@politely
def source_withdraw(request: HttpRequest, kind: str, key: str) -> HttpResponse:
    """The hoses that a source is in, then withdrawing it and marking them in one step."""
    person, now = person_of(request), timezone.now()
    subject = seen_subject(request, kind, key)
    if not may_withdraw(person, subject):
        raise NotAllowed("This needs the right to withdraw it.")
    form, counted = WithdrawForm(request.POST or None), spread(person, subject, most=None)
    if request.method == "POST" and form.is_valid() and _as_seen(request, form, counted):
        told: dict[str, Any] = {"person": person, "today": today_of(person), "at": now}
        try:
            made = withdraw_source(subject=subject, **form.terms(), **told)
        except Refused as refusal:
            refuse(form, refusal)
        else:
            messages.success(request, f"{subject.noun} {subject.label} is withdrawn.")
            back = reverse("scheduling:trace_source", args=[kind, key])
            return _to(request, made) if made else redirect(back)
    return _ask(request, "scheduling/trace/withdraw_form.html", form, subject, counted)


def row_withdraw(request: HttpRequest, own_id: int, kind: str) -> HttpResponse:
    """The same, of a source that is named by its row's number."""
    return source_withdraw(request, kind, str(own_id))


@politely
def recall_page(request: HttpRequest, recall_id: int) -> HttpResponse:
    """One recall: its hoses at the person's sites, the open ones first asked for."""
    person, line = person_of(request), _line(request, recall_id)
    settled = request.GET.get("show") == "settled"
    after, day = place_of(request, int), today_of(person)
    page = recalled(
        person,
        recall_id,
        still_open=not settled,
        after=(after[0],) if after else None,
        size=SIZE,
        today=day,
    )
    context = {
        "line": line,
        "page": shown(request, page),
        "settled": settled,
        "elsewhere": told_elsewhere(person, recall_id),
        "may_end": may_end(person, recall_id) is not None,
        "today": day,
    }
    return render(request, "scheduling/trace/recall.html", context)


@politely
def recall_csv(request: HttpRequest, recall_id: int) -> StreamingHttpResponse:
    """The list to act on, with what was done already."""
    person = person_of(request)
    _line(request, recall_id)
    pieces = recalled_csv(recalled_lines(person, recall_id, today=today_of(person)))
    return csv_answer(pieces, f"recall-{recall_id}.csv")


@politely
def recall_end(request: HttpRequest, recall_id: int) -> HttpResponse:
    """Ending a recall, with what is left of it."""
    person, line = person_of(request), _line(request, recall_id)
    open_one = may_end(person, recall_id)
    if open_one is None:
        raise NotAllowed("Only who may recall can end an open recall.")
    form = EndRecallForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        how = form.cleaned_data["how"]
        try:
            end_recall(recall=open_one, how=how, person=person, at=timezone.now())
        except Refused as refusal:
            refuse(form, refusal)
        else:
            messages.success(request, "The recall is ended.")
            return redirect("scheduling:recall", recall_id)
    return render(request, "scheduling/trace/recall_end.html", {"form": form, "line": line})


def _as_seen(request: HttpRequest, form: RecallForm, counted: Spread) -> bool:
    """Whether they are the hoses that the person had before them; says so where not."""
    if request.POST.get("seen") == counted.mark:
        return True
    now = counted.all_hoses
    form.add_error(
        None,
        "The hoses that come of it have to be looked at first, as they stand now: there are "
        f"{now}. Look again, then send it once more.",
    )
    return False


def _ask(
    request: HttpRequest, template: str, form: RecallForm, subject: Subject, counted: Spread
) -> HttpResponse:
    person, day = person_of(request), today_of(person_of(request))
    lines = traced(person, subject, after=None, size=_FIRST, today=day, scrapped=False)
    context = {
        "form": form,
        "subject": subject,
        "spread": counted,
        "lines": lines,
        "may_mark": may_mark(person, subject),
        "sheets": _sheets(request, subject),
        "today": day,
    }
    return render(request, template, context)


def _sheets(request: HttpRequest, subject: Subject) -> tuple[NamedSheet, ...]:
    """The sheets that a withdrawal would leave without their figures."""
    if subject.kind != "recipe_revision" or subject.own_id is None:
        return ()
    return unbuilt_sheets_of(person_of(request), subject.own_id)


def _line(request: HttpRequest, recall_id: int) -> RecallLine:
    line = recall_for(person_of(request), recall_id)
    if line is None:
        raise Http404
    return line


def _to(request: HttpRequest, made: Recall) -> HttpResponse:
    messages.success(request, "Every hose that came of it has its finding.")
    return redirect("scheduling:recall", made.pk)
