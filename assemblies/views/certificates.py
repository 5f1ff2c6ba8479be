"""Test certificates: asking for one, its page, its PDF, what its code opens."""

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from assemblies.actions.papers import issue_certificate
from assemblies.calc.certificate_words import SCOPE, standard_lines
from assemblies.forms.papers import PAPERS, PaperForm
from assemblies.models import FrozenPaper
from assemblies.pdf.certificate import draw_certificate
from assemblies.queries.certificates import certified
from assemblies.queries.choices import hose_for
from assemblies.queries.obstacles import Obstacle
from assemblies.queries.paper_pages import certificate_page
from assemblies.queries.papers import certificate_content_of, paper_coded, paper_for, papers_about
from assemblies.views.sheets import address_from, pdf_answer
from fleet.actions.refusals import Refused
from fleet.permissions import READ, require
from fleet.views.gate import person_of, politely

_KIND = FrozenPaper.Kind.CERTIFICATE


@politely
def hose_certificate(request: HttpRequest, hose_id: int) -> HttpResponse:
    """Whether a hose can be certified, and why not; the button issues the certificate."""
    person = person_of(request)
    hose = hose_for(person, hose_id)
    if hose is None:
        raise Http404
    require(person, READ, hose.site)
    found = certified(hose)
    refused = found.sentence if isinstance(found, Obstacle) else ""
    if request.method == "POST" and not refused:
        now, address = timezone.now(), address_from(request)
        try:
            paper = issue_certificate(hose=hose, address=address, person=person, at=now)
        except Refused as refusal:
            refused = refusal.sentence
        else:
            return redirect("assemblies:certificate", paper.pk)
    context = {"hose": hose, "refused": refused, "papers": papers_about(person, assembly=hose)}
    return render(request, "assemblies/papers/certificate_ask.html", context)


@politely
def certificate(request: HttpRequest, paper_id: int) -> HttpResponse:
    """A certificate as a page."""
    paper = _paper(request, paper_id)
    content = certificate_content_of(paper)
    context = {
        "paper": paper,
        "content": content,
        "page": certificate_page(content),
        "papers": PAPERS,
        "standards": standard_lines(content),
        "scope": SCOPE,
    }
    return render(request, "assemblies/papers/certificate.html", context)


@politely
def certificate_pdf(request: HttpRequest, paper_id: int) -> HttpResponse:
    """A certificate as a paper, drawn from its stored content."""
    paper = _paper(request, paper_id)
    size = PaperForm({"page": request.GET.get("page", "a4")}).size()
    pdf = draw_certificate(certificate_content_of(paper), page=size)
    return pdf_answer(pdf, f"certificate-{paper.site.code}-{paper.number}")


@politely
def certificate_by_code(request: HttpRequest, site_id: int, number: int) -> HttpResponse:
    """What the code on a certificate opens: its own page."""
    paper = paper_coded(person_of(request), _KIND, site_id, number)
    if paper is None:
        raise Http404
    return redirect("assemblies:certificate", paper.pk)


def _paper(request: HttpRequest, paper_id: int) -> FrozenPaper:
    found = paper_for(person_of(request), _KIND, paper_id)
    if found is None:
        raise Http404
    return found
