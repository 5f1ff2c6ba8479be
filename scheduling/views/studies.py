"""Life studies: the list, making one, its page, and the rule that may come of it."""

import datetime as dt

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from fleet.actions.refusals import Refused
from fleet.calc.svg import svg_of
from fleet.models import Site
from fleet.permissions import NotAllowed, may, may_anywhere
from fleet.queries.reach import sites_where
from fleet.views.forms import refuse
from fleet.views.gate import person_of, politely, today_of
from fleet.views.paging import SIZE, place_of, shown
from scheduling.actions.studies import make_study, rule_from_study
from scheduling.forms.studies import StudyForm
from scheduling.queries.studies import saving_words, study_list, study_page

RIGHT = "read_costs"


@politely
def studies(request: HttpRequest) -> HttpResponse:
    """The studies made, the latest first."""
    person = person_of(request)
    _need(request)
    page = study_list(person, after=place_of(request, dt.date, int), size=SIZE)
    return render(request, "scheduling/studies/list.html", {"page": shown(request, page)})


@politely
def study_add(request: HttpRequest) -> HttpResponse:
    """Asking for a study; it is made at once and kept."""
    person, now = person_of(request), timezone.now()
    _need(request)
    sites = Site.objects.filter(pk__in=[site.pk for site in sites_where(person, RIGHT)])
    form = StudyForm(request.POST or None, person=person, sites=sites, initial={"clock": "hours"})
    if request.method == "POST" and form.is_valid():
        try:
            made = make_study(asked=form.asked(), person=person, today=today_of(person), at=now)
        except Refused as refusal:
            refuse(form, refusal)
        else:
            messages.success(request, "The study is made and kept.")
            return redirect("scheduling:study", made.pk)
    return render(request, "scheduling/studies/form.html", {"form": form})


@politely
def study(request: HttpRequest, study_id: int) -> HttpResponse:
    """One study: what the data can and can't say, in words, figures and pictures."""
    person = person_of(request)
    _need(request)
    page = study_page(person, study_id)
    if page is None:
        raise Http404
    context = {
        "page": page,
        "study": page.study,
        "result": page.result,
        "saving": saving_words(page.result, page.unit),
        "pictures": [
            {"caption": one.caption, "svg": svg_of(one.scene, prefix=f"study-{one.key}")}
            for one in page.pictures
        ],
        "may_propose": may(person, "edit_rules", page.study.site),
    }
    return render(request, "scheduling/studies/study.html", context)


@require_POST
@politely
def study_rule(request: HttpRequest, study_id: int) -> HttpResponse:
    """Drafting a rule from the age that a study proposes."""
    person = person_of(request)
    page = study_page(person, study_id)
    if page is None:
        raise Http404
    try:
        draft = rule_from_study(made=page.study, person=person, at=timezone.now())
    except Refused as refusal:
        messages.error(request, refusal.sentence)
        return redirect("scheduling:study", study_id)
    messages.success(request, "Drafted. Nothing is due by it until it is approved: try it first.")
    return redirect("scheduling:rule", draft.header_id)


def _need(request: HttpRequest) -> None:
    if not may_anywhere(person_of(request), RIGHT):
        raise NotAllowed("This needs the right “read costs”.")
