"""Catch-up plans: the list and making one, one plan week by week, its file, ending it."""

import datetime as dt

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from fleet.actions.refusals import Refused
from fleet.models import Person
from fleet.permissions import NotAllowed, may
from fleet.queries.reach import sites_where
from fleet.views.forms import refuse
from fleet.views.gate import day_at, person_of, politely, today_of
from scheduling.actions.catch_up import RIGHT, end_plan, make_plan
from scheduling.exchange.catch_up_csv import catch_up_csv
from scheduling.forms.catch_up import CatchUpForm
from scheduling.models import CatchUpPlan
from scheduling.queries.catch_up import plan_for, plan_page, planned_hoses, plans_seen


@politely
def catch_ups(request: HttpRequest) -> HttpResponse:
    """The plans at the person's sites."""
    person = person_of(request)
    may_plan = sites_where(person, RIGHT).exists()
    context = {"plans": plans_seen(person), "may_plan": may_plan}
    return render(request, "scheduling/catch_up/list.html", context)


@politely
def catch_up_add(request: HttpRequest) -> HttpResponse:
    """Making a plan."""
    person, now = person_of(request), timezone.now()
    sites = sites_where(person, RIGHT)
    if not sites:
        raise NotAllowed("Planning a catch-up is not among your rights at any site.")
    begun = {"from_on": today_of(person), "weeks": 26, "site": sites[0]}
    form = CatchUpForm(request.POST or None, sites=sites, initial=begun)
    if request.method == "POST" and form.is_valid():
        today = day_at(form.cleaned_data["site"], now)
        try:
            plan = make_plan(**form.cleaned_data, person=person, today=today, at=now)
        except Refused as refusal:
            refuse(form, refusal)
        else:
            messages.success(request, "The plan stands. No due date was changed by it.")
            return redirect("scheduling:catch_up", plan.pk)
    return render(request, "scheduling/catch_up/add.html", {"form": form})


@politely
def catch_up(request: HttpRequest, plan_id: int) -> HttpResponse:
    """One plan week by week."""
    person = person_of(request)
    plan = _plan(person, plan_id)
    today = day_at(plan.site)
    asked = request.GET.get("week", "")
    page = plan_page(plan, today=today, week_on=_day(asked), whole=asked == "all")
    context = {"page": page, "plan": plan, "today": today, "may_end": may(person, RIGHT, plan.site)}
    return render(request, "scheduling/catch_up/plan.html", context)


@politely
def catch_up_file(request: HttpRequest, plan_id: int) -> HttpResponse:
    """The whole plan as CSV."""
    plan = _plan(person_of(request), plan_id)
    content = catch_up_csv(planned_hoses(plan, day_at(plan.site)))
    answer = HttpResponse(content, content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="catch-up-{plan.pk}.csv"'
    return answer


@require_POST
@politely
def catch_up_end(request: HttpRequest, plan_id: int) -> HttpResponse:
    """Ending a plan."""
    plan = _plan(person_of(request), plan_id)
    end_plan(plan=plan, person=person_of(request), at=timezone.now())
    messages.success(request, "The plan is ended; it stays to be seen.")
    return redirect("scheduling:catch_up", plan.pk)


def _plan(person: Person, plan_id: int) -> CatchUpPlan:
    plan = plan_for(person, plan_id)
    if plan is None:
        raise Http404
    return plan


def _day(text: str) -> dt.date | None:
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        return None
