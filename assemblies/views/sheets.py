"""Build sheets: asking for one, its page for the phone, its PDF, and what its codes open."""

import datetime as dt
import re
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from assemblies.actions.sheets import issue_sheet
from assemblies.calc.sheet import SheetContent
from assemblies.forms.papers import PAPERS, PaperForm, SheetForm, SiteSheetForm
from assemblies.models import FrozenSheet, SpecRevision
from assemblies.pdf.build_sheet import draw_build_sheet
from assemblies.queries.bench import still_to_begin
from assemblies.queries.choices import hose_for, position_for
from assemblies.queries.sheet_pages import sheet_page
from assemblies.queries.sheets import (
    SheetOrder,
    approved_spec_of,
    content_of,
    sheet_for,
    spec_for_hose,
    spec_revision_coded,
    spec_revision_numbered,
)
from assemblies.queries.specs import spec_page
from assemblies.queries.withdrawn import withdrawn_recipes_of
from assemblies.views.shared_things import reader_of
from fleet.actions.refusals import Refused
from fleet.models import Person, Site
from fleet.navigation import address_of
from fleet.permissions import READ, may, require
from fleet.queries.reach import sites_where
from fleet.views.forms import refuse
from fleet.views.gate import person_of, politely


@politely
def spec_sheet(request: HttpRequest, spec_id: int) -> HttpResponse:
    """A sheet of a spec's approved revision, for a site."""
    person = reader_of(request)
    page = spec_page(person, spec_id)
    if page is None:
        raise Http404
    sites = sites_where(person, READ)
    form = SiteSheetForm(request.POST or None, sites=sites, initial={"site": sites.first()})
    spec = spec_revision_numbered(spec_id)
    if request.method == "POST" and form.is_valid():
        order = _order(form, form.cleaned_data["site"])
        if sheet := _issued(request, form, spec, order):
            return _to(sheet)
    up = {"up_url": address_of("spec", spec_id), "up": page.code}
    return _ask(request, form, spec, {"lead": f"{page.code} {page.title}", **up})


@politely
def position_sheet(request: HttpRequest, position_id: int) -> HttpResponse:
    """A sheet of what a position requires."""
    person = person_of(request)
    position = position_for(person, position_id)
    if position is None:
        raise Http404
    site = position.machine.site
    require(person, READ, site)
    form = SheetForm(request.POST or None)
    spec = approved_spec_of(position)
    if request.method == "POST" and form.is_valid():
        order = _order(form, site, position=position)
        if sheet := _issued(request, form, spec, order):
            return _to(sheet)
    up = {"up_url": address_of("position", position.pk), "up": str(position)}
    return _ask(request, form, spec, {"lead": f"{position.machine}, {position}", **up})


@politely
def hose_sheet(request: HttpRequest, hose_id: int) -> HttpResponse:
    """A sheet to build another hose like this one."""
    person = person_of(request)
    hose = hose_for(person, hose_id)
    if hose is None:
        raise Http404
    require(person, READ, hose.site)
    form = SheetForm(request.POST or None)
    spec, position = spec_for_hose(hose)
    if request.method == "POST" and form.is_valid():
        order = _order(form, hose.site, position=position)
        if sheet := _issued(request, form, spec, order):
            return _to(sheet)
    up = {"up_url": address_of("hose", hose.pk), "up": str(hose)}
    return _ask(request, form, spec, {"lead": f"another like {hose}", **up})


@politely
def sheet(request: HttpRequest, site_id: int, number: int) -> HttpResponse:
    """A sheet as a page, for the phone at the bench."""
    found, content = _sheet(person_of(request), site_id, number)
    context = {"sheet": found, "content": content, "page": sheet_page(content), "papers": PAPERS}
    context |= {
        "withdrawn": withdrawn_recipes_of(found),
        "may_begin": content.can_be_crimped and may(person_of(request), "build", found.site_id),
        "still": still_to_begin(found),
    }
    return render(request, "assemblies/papers/sheet.html", context)


@politely
def sheet_pdf(request: HttpRequest, site_id: int, number: int) -> HttpResponse:
    """A sheet as a paper, drawn from its stored content."""
    found, content = _sheet(person_of(request), site_id, number)
    size = PaperForm({"page": request.GET.get("page", "a4")}).size()
    return pdf_answer(draw_build_sheet(content, page=size), f"sheet-{found.site.code}-{number}")


@politely
def spec_by_code(request: HttpRequest, revision_id: int) -> HttpResponse:
    """What the first code on a sheet opens: the spec's revision."""
    reader_of(request)
    found = spec_revision_coded(revision_id)
    if found is None:
        raise Http404
    return redirect("assemblies:spec_revision", found.header_id, found.number)


@politely
def sheet_by_code(request: HttpRequest, site_id: int, number: int) -> HttpResponse:
    """What the second code on a sheet opens: the sheet's own page."""
    found, _ = _sheet(person_of(request), site_id, number)
    return _to(found)


def address_from(request: HttpRequest) -> str:
    """The register's own address, as this person reached it."""
    return request.build_absolute_uri("/").rstrip("/")


def pdf_answer(pdf: bytes, name: str) -> HttpResponse:
    """A PDF for the browser to show."""
    answer = HttpResponse(pdf, content_type="application/pdf")
    answer["Content-Disposition"] = f'inline; filename="{_file_name(name)}.pdf"'
    return answer


def _file_name(name: str) -> str:
    return re.sub(r"[^A-Za-z0-9_-]", "-", name)


def _order(form: SheetForm, site: Site, **facts: Any) -> SheetOrder:
    given = form.cleaned_data
    return SheetOrder(site, given["quantity"], need_by=given["need_by"], job=given["job"], **facts)


def _issued(
    request: HttpRequest, form: SheetForm, spec: SpecRevision | None, order: SheetOrder
) -> FrozenSheet | None:
    now: dt.datetime = timezone.now()
    if spec is None:
        return None
    try:
        return issue_sheet(
            spec=spec,
            order=order,
            address=address_from(request),
            person=person_of(request),
            at=now,
        )
    except Refused as refusal:
        refuse(form, refusal)
        return None


def _ask(
    request: HttpRequest, form: SheetForm, spec: SpecRevision | None, words: dict[str, str]
) -> HttpResponse:
    context = {"form": form, "spec": spec, **words}
    return render(request, "assemblies/papers/sheet_ask.html", context)


def _sheet(person: Person, site_id: int, number: int) -> tuple[FrozenSheet, SheetContent]:
    found = sheet_for(person, site_id, number)
    if found is None:
        raise Http404
    return found, content_of(found)


def _to(sheet: FrozenSheet) -> HttpResponse:
    return redirect("assemblies:sheet", sheet.site_id, sheet.number)
