"""The workshop's tools: the list, one with its calibration, added, changed, withdrawn."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from assemblies.actions.workshop import add_tool, calibrate_tool, change_tool, withdraw_tool
from assemblies.forms.tools import CalibrationForm, ToolForm
from assemblies.queries.stock import sites_to_keep
from assemblies.queries.workshop import KINDS, tool_for, tool_lines, tool_page
from assemblies.views.shared_things import do_and_return, reader_of
from fleet.actions.refusals import Refused
from fleet.navigation import deeds_for
from fleet.permissions import NotAllowed, may, require
from fleet.views.forms import refuse, tried
from fleet.views.gate import day_at, person_of, politely, today_of


@politely
@require_safe
def tools(request: HttpRequest) -> HttpResponse:
    """Crimpers and instruments of the person's sites, what is due first."""
    person = reader_of(request)
    today = today_of(person)
    shelves = [(kind, tool_lines(person, slug, today=today)) for slug, kind in KINDS.items()]
    context = {
        "shelves": shelves,
        "keeps": bool(sites_to_keep(person)),
        "anything": any(lines for _, lines in shelves),
    }
    return render(request, "assemblies/tools/list.html", context)


@politely
@require_safe
def tool(request: HttpRequest, kind: str, tool_id: int) -> HttpResponse:
    """One tool: its calibration, what its dial is off, what was changed."""
    person, found = person_of(request), _tool(request, kind, tool_id)
    keeps = may(person, "keep_stock", found.site_id)
    context = {
        "page": tool_page(person, kind, tool_id, today=day_at(found.site)),
        "kind": KINDS[kind],
        "keeps": keeps,
        "may_withdraw": keeps or may(person, "withdraw", found.site_id),
        "deeds": deeds_for(kind, tool_id, person=person, site_id=found.site_id),
    }
    return render(request, "assemblies/tools/tool.html", context)


@politely
def tool_add(request: HttpRequest, kind: str) -> HttpResponse:
    """A tool that came to the workshop."""
    person, now = person_of(request), timezone.now()
    sites = sites_to_keep(person)
    if not sites:
        raise NotAllowed("This needs the right “keep stock” at one of your sites.")
    form = ToolForm(request.POST or None, sites=sites, adding=True)
    if request.method == "POST" and form.is_valid():
        site, model = form.chosen_site, KINDS[kind].model
        by: dict[str, Any] = {"person": person, "at": now, "today": day_at(site, now)}
        made = tried(form, lambda: add_tool(kind=model, site=site, facts=form.facts(), **by))
        if made is not None:
            messages.success(request, f"The {KINDS[kind].noun} {made} is in the workshop.")
            return redirect(f"assemblies:{kind}", made.pk)
    context = {"form": form, "kind": KINDS[kind]}
    return render(request, "assemblies/tools/form.html", context)


@politely
def tool_change(request: HttpRequest, kind: str, tool_id: int) -> HttpResponse:
    """What is said of a tool, changed."""
    person, found = person_of(request), _tool(request, kind, tool_id)
    require(person, "keep_stock", found.site_id)
    names = ("code", "description", "calibrated_on", "calibration_due_on")
    initial = {name: getattr(found, name) for name in names}
    form = ToolForm(request.POST or None, sites=[found.site], adding=False, initial=initial)
    if request.method == "POST" and form.is_valid():
        now = timezone.now()
        by: dict[str, Any] = {"person": person, "at": now, "today": day_at(found.site, now)}
        if tried(form, lambda: change_tool(tool=found, facts=form.facts(), **by)):
            messages.success(request, f"{form.cleaned_data['code']} is changed.")
            return redirect(f"assemblies:{kind}", tool_id)
    context = {"form": form, "kind": KINDS[kind], "tool": found}
    return render(request, "assemblies/tools/form.html", context)


@politely
def tool_calibrate(request: HttpRequest, kind: str, tool_id: int) -> HttpResponse:
    """A calibration that was done."""
    person, found = person_of(request), _tool(request, kind, tool_id)
    require(person, "keep_stock", found.site_id)
    form, now = CalibrationForm(request.POST or None), timezone.now()
    if request.method == "POST" and form.is_valid():
        given, today = form.cleaned_data, day_at(found.site, now)
        try:
            calibrate_tool(tool=found, **given, person=person, at=now, today=today)
        except Refused as refusal:
            here = "due_on" if refusal.field == "calibration_due_on" else refusal.field
            refuse(form, Refused(refusal.code, refusal.sentence, field=here))
        else:
            messages.success(request, f"{found} is calibrated until {given['due_on']}.")
            return redirect(f"assemblies:{kind}", tool_id)
    context = {"form": form, "kind": KINDS[kind], "tool": found}
    return render(request, "assemblies/tools/calibrate.html", context)


@politely
@require_POST
def tool_withdraw(request: HttpRequest, kind: str, tool_id: int) -> HttpResponse:
    """Withdrawing a tool, for a reason."""
    person, found = person_of(request), _tool(request, kind, tool_id)
    reason = request.POST.get("reason", "")
    return do_and_return(
        request,
        lambda: withdraw_tool(tool=found, reason=reason, person=person, at=timezone.now()),
        done=f"{found} is withdrawn: nothing new is made or measured with it.",
        back=reverse(f"assemblies:{kind}", args=[tool_id]),
    )


def _tool(request: HttpRequest, kind: str, tool_id: int) -> Any:
    found = tool_for(person_of(request), kind, tool_id)
    if found is None:
        raise Http404
    return found
