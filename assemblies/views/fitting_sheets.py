"""Fitting-up sheets: asking for one, its page for the phone at the machine, its PDF, its code."""

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone

from assemblies.actions.papers import issue_fitting_sheet
from assemblies.calc.injection_card import CARD_TITLE
from assemblies.forms.fitting_sheets import FittingSheetForm
from assemblies.forms.papers import PAPERS, PaperForm
from assemblies.models import FrozenPaper, Position
from assemblies.pdf.fitting_sheet import draw_fitting_sheet
from assemblies.queries.choices import held_by, hose_for, position_for
from assemblies.queries.fitting_sheets import FittingOrder, place_of, places_for
from assemblies.queries.paper_pages import fitting_page
from assemblies.queries.papers import fitting_content_of, paper_coded, paper_for, papers_about
from assemblies.views.sheets import address_from, pdf_answer
from fleet.actions.refusals import Refused
from fleet.permissions import READ, may, require
from fleet.views.forms import refuse
from fleet.views.gate import person_of, politely

_KIND = FrozenPaper.Kind.FITTING_UP


@politely
def position_fitting_sheet(request: HttpRequest, position_id: int) -> HttpResponse:
    """Ask for the sheet of a position; `?new=` names the hose that goes on."""
    person = person_of(request)
    position = position_for(person, position_id)
    if position is None:
        raise Http404
    require(person, READ, position.machine.site)
    first = {"picked": request.GET.get("new", "")}
    typed = request.POST if request.method == "POST" else None
    form = FittingSheetForm(typed, person=person, position=position, initial=first)
    if request.method == "POST" and form.is_valid():
        paper = _issued(request, form, position)
        if paper is not None:
            return redirect("assemblies:fitting_sheet", paper.pk)
    context = {
        "form": form,
        "position": position,
        "held": held_by(position),
        "papers": papers_about(person, position=position),
    }
    return render(request, "assemblies/papers/fitting_ask.html", context)


@politely
def hose_fitting_sheet(request: HttpRequest, hose_id: int) -> HttpResponse:
    """From a hose: the position it is on, else where it could go."""
    person = person_of(request)
    hose = hose_for(person, hose_id)
    if hose is None:
        raise Http404
    require(person, READ, hose.site)
    place = place_of(hose)
    if place is not None:
        return position_fitting_sheet(request, place.pk)
    context = {"hose": hose, "places": places_for(hose)}
    return render(request, "assemblies/papers/fitting_where.html", context)


@politely
def fitting_sheet(request: HttpRequest, paper_id: int) -> HttpResponse:
    """A sheet as a page, for the phone at the machine."""
    paper = _paper(request, paper_id)
    content = fitting_content_of(paper)
    context = {
        "paper": paper,
        "content": content,
        "page": fitting_page(content),
        "papers": PAPERS,
        "card_title": CARD_TITLE,
        "record": _record(request, paper.position),
    }
    return render(request, "assemblies/papers/fitting.html", context)


@politely
def fitting_sheet_pdf(request: HttpRequest, paper_id: int) -> HttpResponse:
    """A sheet as a paper, drawn from its stored content."""
    paper = _paper(request, paper_id)
    size = PaperForm({"page": request.GET.get("page", "a4")}).size()
    pdf = draw_fitting_sheet(fitting_content_of(paper), page=size)
    return pdf_answer(pdf, f"fitting-up-{paper.site.code}-{paper.number}")


@politely
def fitting_sheet_by_code(request: HttpRequest, site_id: int, number: int) -> HttpResponse:
    """What the code on a sheet opens: the sheet's own page."""
    paper = paper_coded(person_of(request), _KIND, site_id, number)
    if paper is None:
        raise Http404
    return redirect("assemblies:fitting_sheet", paper.pk)


def _record(request: HttpRequest, position: Position | None) -> dict[str, str]:
    """The way to write the fitting down, for who may; nothing where there is no place."""
    if position is None or not may(person_of(request), "fit_hoses", position.machine.site_id):
        return {}
    route, words = ("swap", "Record the swap") if held_by(position) else ("fit", "Record the fit")
    return {"url": reverse(f"assemblies:{route}", args=[position.pk]), "words": words}


def _issued(request: HttpRequest, form: FittingSheetForm, position: Position) -> FrozenPaper | None:
    order = FittingOrder(position, form.hose, form.cleaned_data["job"])
    try:
        return issue_fitting_sheet(
            order=order,
            address=address_from(request),
            person=person_of(request),
            at=timezone.now(),
        )
    except Refused as refusal:
        refuse(form, refusal)
        return None


def _paper(request: HttpRequest, paper_id: int) -> FrozenPaper:
    found = paper_for(person_of(request), _KIND, paper_id)
    if found is None:
        raise Http404
    return found
