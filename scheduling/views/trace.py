"""Trace: finding a source, and every hose that comes from it; as a page and as a file."""

from typing import Any

from django.http import Http404, HttpRequest, HttpResponse, StreamingHttpResponse
from django.shortcuts import render

from assemblies.queries.trace_subjects import (
    MOST_FOUND,
    Subject,
    find_subjects,
    revisions_of,
    subject_for,
)
from fleet.models import Person
from fleet.navigation import address_of
from fleet.permissions import may, may_anywhere
from fleet.views.gate import person_of, politely, today_of
from fleet.views.paging import SIZE, place_of, shown
from scheduling.actions.withdrawals import may_withdraw
from scheduling.exchange.traced_csv import traced_csv
from scheduling.queries.finding_hoses import hose_of_tag
from scheduling.queries.recalls import open_recall_of
from scheduling.queries.traced import spread, traced, traced_lines


@politely
def trace(request: HttpRequest) -> HttpResponse:
    """Picking what to trace: by code, lot, name; a tag leads to its hose."""
    person = person_of(request)
    typed = request.GET.get("q", "")[:200].replace("\0", "")
    hose_id = hose_of_tag(person, typed) if typed else None
    context = {
        "typed": typed,
        "found": find_subjects(person, typed),
        "most": MOST_FOUND,
        "hose_url": address_of("hose", hose_id) if hose_id else "",
    }
    return render(request, "scheduling/trace/find.html", context)


@politely
def trace_source(request: HttpRequest, kind: str, key: str) -> HttpResponse:
    """Every hose that comes from a source, and where each is now."""
    person, subject = person_of(request), seen_subject(request, kind, key)
    day = today_of(person)
    after = place_of(request, int)
    page = traced(person, subject, after=_one(after), size=SIZE, today=day)
    context = {
        "subject": subject,
        "page": shown(request, page),
        "spread": spread(person, subject),
        "revisions": revisions_of(subject.own_id or 0) if kind == "recipe" else (),
        "recall": open_recall_of(person, subject),
        "today": day,
        **_may(person, subject),
    }
    return render(request, "scheduling/trace/source.html", context)


def trace_row(request: HttpRequest, own_id: int, kind: str) -> HttpResponse:
    """The same, of a source that is named by its row's number."""
    return trace_source(request, kind, str(own_id))


@politely
def trace_csv(request: HttpRequest, kind: str, key: str) -> StreamingHttpResponse:
    """The same hoses as a CSV file."""
    person, subject = person_of(request), seen_subject(request, kind, key)
    day = today_of(person)
    pieces = traced_csv(traced_lines(person, subject, today=day))
    return csv_answer(pieces, f"trace-{day.isoformat()}.csv")


def seen_subject(request: HttpRequest, kind: str, key: str) -> Subject:
    """The source, where the person may see it."""
    subject = subject_for(person_of(request), kind, key)
    if subject is None:
        raise Http404
    return subject


def csv_answer(pieces: Any, name: str) -> StreamingHttpResponse:
    """A CSV file that is written as it is read."""
    answer = StreamingHttpResponse(pieces, content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="{name}"'
    return answer


def _may(person: Person, subject: Subject) -> dict[str, bool]:
    site = subject.site_id
    recalls = may_anywhere(person, "recall") if site is None else may(person, "recall", site)
    withdraws = subject.may_be_withdrawn and may_withdraw(person, subject)
    return {"may_recall": recalls, "may_withdraw": withdraws}


def _one(place: tuple[Any, ...] | None) -> tuple[int] | None:
    return (place[0],) if place else None
