"""The manager's report as page, paper and workbook, and the lists behind its figures."""

import datetime as dt
from collections.abc import Sequence
from typing import Any

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone

from fleet.calc.svg import svg_of
from fleet.pdf.frame import page_size
from fleet.permissions import NotAllowed, may_anywhere
from fleet.views.gate import person_of, politely, today_of
from fleet.views.paging import SIZE, place_of, shown
from scheduling.calc.report import Picture, ReportContent
from scheduling.calc.report import shown as cell_words
from scheduling.forms.report import CauseForm, ReportScopeForm
from scheduling.pdf.report import draw_report
from scheduling.queries.loss_lists import downtimes_of, failures_of, off_machines
from scheduling.queries.losses import zone_of
from scheduling.queries.studies import studies_for_report
from scheduling.reports.content import report_content
from scheduling.reports.gathering import gathered
from scheduling.reports.workbook import report_workbook

XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


@politely
def report(request: HttpRequest) -> HttpResponse:
    """What failures cost, and whether it is getting better."""
    form = _form(request)
    content = _content(request, form) if form.is_valid() else None
    context: dict[str, Any] = {"form": form, "content": content, "query": request.GET.urlencode()}
    if content is not None:
        context["pictures"] = _drawn(content.pictures, "picture")
        context["studies"] = [
            {"study": study, "pictures": _drawn(study.pictures, f"study-{n}")}
            for n, study in enumerate(content.studies)
        ]
        context["tables"] = [_table(table) for table in content.tables]
    return render(request, "scheduling/report/report.html", context)


@politely
def report_pdf(request: HttpRequest) -> HttpResponse:
    """The same on paper."""
    form = _form(request)
    if not form.is_valid():
        return render(request, "scheduling/report/report.html", {"form": form}, status=400)
    size = page_size("Letter" if request.GET.get("paper") == "letter" else "A4")
    answer = HttpResponse(draw_report(_content(request, form), page=size), "application/pdf")
    answer["Content-Disposition"] = f'inline; filename="{_name(form)}.pdf"'
    return answer


@politely
def report_xlsx(request: HttpRequest) -> HttpResponse:
    """The same as a workbook."""
    form = _form(request)
    if not form.is_valid():
        return render(request, "scheduling/report/report.html", {"form": form}, status=400)
    answer = HttpResponse(report_workbook(_content(request, form)), XLSX)
    answer["Content-Disposition"] = f'attachment; filename="{_name(form)}.xlsx"'
    return answer


@politely
def report_failures(request: HttpRequest) -> HttpResponse:
    """The failures behind the report's count."""
    form, cause = _form(request), CauseForm(request.GET)
    context: dict[str, Any] = {"form": form, "cause": cause}
    if form.is_valid() and cause.is_valid():
        found = failures_of(
            form.scope(),
            form.period(zone_of(person_of(request))),
            cause=cause.cleaned_data["cause"],
            after=place_of(request, dt.date, int),
            size=SIZE,
        )
        context["page"] = shown(request, found)
    return render(request, "scheduling/report/failures.html", context)


@politely
def report_downtimes(request: HttpRequest) -> HttpResponse:
    """The times down behind the report's hours."""
    form, now = _form(request), timezone.now()
    context: dict[str, Any] = {"form": form}
    if form.is_valid():
        period, after = form.period(zone_of(person_of(request))), place_of(request, dt.date, int)
        found = downtimes_of(form.scope(), period, after=after, size=SIZE, now=now)
        context["page"] = shown(request, found)
    return render(request, "scheduling/report/downtimes.html", context)


@politely
def report_changes(request: HttpRequest) -> HttpResponse:
    """The hoses that came off machines, behind the share changed before they failed."""
    form = _form(request)
    context: dict[str, Any] = {"form": form}
    if form.is_valid():
        period, after = form.period(zone_of(person_of(request))), place_of(request, dt.date, int)
        context["page"] = shown(request, off_machines(form.scope(), period, after=after, size=SIZE))
    return render(request, "scheduling/report/changes.html", context)


def _form(request: HttpRequest) -> ReportScopeForm:
    person = person_of(request)
    if not may_anywhere(person, "read_costs"):
        raise NotAllowed("This needs the right “read costs”.")
    given = {name: value for name, value in request.GET.items() if value}
    return ReportScopeForm(given, person=person, today=today_of(person))


def _content(request: HttpRequest, form: ReportScopeForm) -> ReportContent:
    person, now = person_of(request), timezone.now()
    today, scope = today_of(person), form.scope()
    found = gathered(scope, form.period(zone_of(person)), today=today, now=now)
    places = {one.position_id: _position(one.position_id) for one in found.worst}
    return report_content(
        found,
        scope_words=form.scope_words(),
        currency=settings.CURRENCY,
        made_on=today,
        lists=_lists(request),
        places=places,
        studies=studies_for_report(person, site_id=scope.site_id, address=_study),
    )


def _lists(request: HttpRequest) -> dict[str, str]:
    """The address behind each figure, with the same period and scope."""
    query = request.GET.copy()
    query.pop("after", None)
    return report_lists(f"?{query.urlencode()}" if query else "")


def report_lists(asked: str) -> dict[str, str]:
    """The addresses of the lists; `asked` is the query of period and scope."""
    failures = reverse("scheduling:report_failures") + asked
    down = reverse("scheduling:report_downtimes") + asked
    return {
        **dict.fromkeys(("failures", "rate", "between", "oil", "harm", "repair"), failures),
        **dict.fromkeys(("unplanned", "planned", "down_planned_share", "mean_down", "lost"), down),
        "cost": failures,
        "changed_share": reverse("scheduling:report_changes") + asked,
        "overdue_share": reverse("scheduling:due") + "?standing=over",
        "hours": reverse("scheduling:machines"),
    }


def _drawn(pictures: Sequence[Picture], prefix: str) -> list[dict[str, str]]:
    return [
        {"caption": one.caption, "svg": svg_of(one.scene, prefix=f"{prefix}-{one.key}")}
        for one in pictures
    ]


def _table(table: Any) -> dict[str, Any]:
    """A table with its cells in words, as the page shows them."""
    rows = [
        {
            "link": row.link,
            "cells": [
                {"words": cell_words(value, column), "head": column.words, "unit": column.unit}
                for value, column in zip(row.cells, table.columns, strict=True)
            ],
        }
        for row in table.rows
    ]
    return {"table": table, "rows": rows}


def _position(position_id: int) -> str:
    return reverse("scheduling:position", args=[position_id])


def _study(study_id: int) -> str:
    return reverse("scheduling:study", args=[study_id])


def _name(form: ReportScopeForm) -> str:
    given = form.cleaned_data
    return f"failures-{given['from_on']}-{given['to_on']}"
