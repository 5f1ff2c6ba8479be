"""Papers about one hose or one place, as they were issued: fitting-up sheets and certificates."""

import datetime as dt
import json
from dataclasses import dataclass, replace

from assemblies.calc import certificate, fitting_sheet
from assemblies.calc.certificate import CertificateContent
from assemblies.calc.fitting_sheet import FittingContent
from assemblies.models import Assembly, FrozenPaper, Position
from fleet.models import Person

Content = FittingContent | CertificateContent
_MOST = 20


@dataclass(frozen=True, slots=True)
class PaperLine:
    """One issued paper in a list."""

    paper_id: int
    kind: str
    words: str
    issued_at: dt.datetime
    issued_by: str


def paper_for(person: Person, kind: str, paper_id: int) -> FrozenPaper | None:
    """The paper of a kind, where the person may see it."""
    found = FrozenPaper.objects.visible_to(person).filter(kind=kind, pk=paper_id)
    paper: FrozenPaper | None = found.select_related(
        *("site", "assembly", "position__machine", "issued_by")
    ).first()
    return paper


def paper_coded(person: Person, kind: str, site_id: int, number: int) -> FrozenPaper | None:
    """The paper that a code speaks of: a kind and number at a site."""
    found = FrozenPaper.objects.visible_to(person)
    paper: FrozenPaper | None = found.filter(kind=kind, site=site_id, number=number).first()
    return paper


def fitting_content_of(paper: FrozenPaper) -> FittingContent:
    """What a fitting-up sheet said when it was issued."""
    return fitting_sheet.from_json(json.dumps(paper.content))


def certificate_content_of(paper: FrozenPaper) -> CertificateContent:
    """What a certificate said when it was issued."""
    return certificate.from_json(json.dumps(paper.content))


def content_of_paper(paper: FrozenPaper) -> Content:
    """What a paper said when it was issued."""
    if paper.kind == FrozenPaper.Kind.FITTING_UP:
        return fitting_content_of(paper)
    return certificate_content_of(paper)


def bare(content: Content) -> Content:
    """A content without its number, day and code: what two papers that say the same share."""
    plain = replace(content, number="", drawn_on=dt.date.min, link="")
    return replace(plain, replaces="") if isinstance(plain, CertificateContent) else plain


def papers_about(
    person: Person, *, assembly: Assembly | None = None, position: Position | None = None
) -> tuple[PaperLine, ...]:
    """The last papers about a hose or a place that the person may see, the newest first."""
    found = FrozenPaper.objects.visible_to(person)
    if assembly is not None:
        found = found.filter(assembly=assembly)
    if position is not None:
        found = found.filter(position=position)
    rows = found.select_related("site", "issued_by").order_by("-issued_at", "-id")[:_MOST]
    return tuple(_line(row) for row in rows)


def _line(row: FrozenPaper) -> PaperLine:
    words = f"{row.get_kind_display()} {row.site.code} {row.number}"
    return PaperLine(row.pk, row.kind, words, row.issued_at, str(row.issued_by or ""))
