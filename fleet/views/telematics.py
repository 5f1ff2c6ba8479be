"""Sources of telematics: the list, adding and changing one, asking it now, its last runs."""

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from fleet.actions.refusals import Refused
from fleet.actions.telematics import add_source, ask_source_now, change_source, withdraw_source
from fleet.forms.telematics import BY_HAND, DAILY, EVERY_SITE, ReasonForm, SourceForm
from fleet.models import Person, TelematicsSource
from fleet.permissions import NotAllowed, may, may_anywhere, require
from fleet.queries.reach import sites_where
from fleet.queries.telematics import last_runs, source_line, sources_of
from fleet.views.forms import refuse
from fleet.views.gate import person_of, politely

RIGHT = "edit_machines"


@politely
def telematics(request: HttpRequest) -> HttpResponse:
    """The sources with how each of them does."""
    person = person_of(request)
    context = {
        "sources": sources_of(person, at=timezone.now()),
        "may_add": may_anywhere(person, RIGHT),
    }
    return render(request, "fleet/telematics/sources.html", context)


@politely
def source(request: HttpRequest, source_id: int) -> HttpResponse:
    """One source: what it is, what its last runs brought, what went wrong."""
    person = person_of(request)
    line = source_line(person, source_id, at=timezone.now())
    if line is None:
        raise Http404
    context = {
        "line": line,
        "source": line.source,
        "runs": last_runs(line.source),
        "may_change": may(person, RIGHT, line.source.site) and line.source.is_current,
    }
    return render(request, "fleet/telematics/source.html", context)


@politely
def source_add(request: HttpRequest) -> HttpResponse:
    """A new source."""
    person = person_of(request)
    form = _form(request, person)
    if request.method == "POST" and form.is_valid():
        try:
            made = add_source(facts=form.facts(), person=person, at=timezone.now())
        except Refused as refusal:
            refuse(form, refusal)
        else:
            how = "once a day; or ask it now" if made.asked_daily else "by hand alone: ask it now"
            messages.success(request, f"{made} is added. It is asked {how}.")
            return redirect("fleet:source", made.pk)
    return render(request, "fleet/telematics/source_form.html", {"form": form})


@politely
def source_change(request: HttpRequest, source_id: int) -> HttpResponse:
    """Another address, name or credential; matches and readings stay."""
    person, found = person_of(request), _source(request, source_id)
    names = ("name", "address", "form", "credential_variable")
    first = {name: getattr(found, name) for name in names}
    first["asked"] = DAILY if found.asked_daily else BY_HAND
    form = _form(request, person, site=str(found.site_id or EVERY_SITE), **first)
    if request.method == "POST" and form.is_valid():
        try:
            change_source(source=found, facts=form.facts(), person=person, at=timezone.now())
        except Refused as refusal:
            refuse(form, refusal)
        else:
            messages.success(request, f"{found} is changed.")
            return redirect("fleet:source", found.pk)
    context = {"form": form, "source": found}
    return render(request, "fleet/telematics/source_form.html", context)


@politely
def source_withdraw(request: HttpRequest, source_id: int) -> HttpResponse:
    """A source that is asked no more."""
    found = _source(request, source_id)
    form = ReasonForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        person, reason = person_of(request), form.cleaned_data["reason"]
        try:
            withdraw_source(source=found, reason=reason, person=person, at=timezone.now())
        except Refused as refusal:
            refuse(form, refusal)
        else:
            messages.success(request, f"{found} is asked no more. What it told stays.")
            return redirect("fleet:telematics")
    return render(request, "fleet/telematics/withdraw.html", {"form": form, "source": found})


@require_POST
@politely
def source_ask(request: HttpRequest, source_id: int) -> HttpResponse:
    """Asking a source now; it is done outside the request."""
    person, found = person_of(request), _source(request, source_id)
    try:
        ask_source_now(source=found, person=person, at=timezone.now())
    except Refused as refusal:
        messages.error(request, refusal.sentence)
    else:
        messages.info(request, f"{found} is being asked. You may leave this page and come back.")
    return redirect("fleet:source", found.pk)


def _source(request: HttpRequest, source_id: int) -> TelematicsSource:
    """The source, where the person may see it and change it."""
    person = person_of(request)
    found = TelematicsSource.objects.visible_to(person).filter(pk=source_id).first()
    if found is None:
        raise Http404
    require(person, RIGHT, found.site_id)
    return found


def _form(request: HttpRequest, person: Person, **first: str) -> SourceForm:
    sites, every = list(sites_where(person, RIGHT)), may(person, RIGHT, None)
    if not sites and not every:
        raise NotAllowed("This needs the right “edit machines” at a site.")
    first = first or {"site": EVERY_SITE if every else str(sites[0].pk), "form": "xml"}
    return SourceForm(request.POST or None, sites=sites, every_site=every, initial=first)
