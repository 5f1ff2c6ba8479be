"""Issuing papers about one hose or one place: frozen with a number and a checksum, once."""

import datetime as dt
import json
from collections.abc import Callable
from dataclasses import dataclass

from django.db import transaction

from assemblies.calc.certificate import with_tools_of
from assemblies.models import Assembly, FrozenPaper, Position
from assemblies.queries.certificates import certificate_content, certified
from assemblies.queries.fitting_obstacles import fitting_obstacles
from assemblies.queries.fitting_sheets import FittingOrder, fitting_content
from assemblies.queries.obstacles import Obstacle
from assemblies.queries.papers import Content, bare, certificate_content_of, content_of_paper
from fleet import audit
from fleet.actions.paper_numbers import hold_numbers, next_number
from fleet.actions.refusals import Refused
from fleet.calc.frozen import to_json
from fleet.calc.local_days import local_day
from fleet.models import Person, Site
from fleet.permissions import READ, require

_LOOKED_BACK = 5
_PATHS = {FrozenPaper.Kind.FITTING_UP: "F", FrozenPaper.Kind.CERTIFICATE: "C"}


@dataclass(frozen=True, slots=True)
class PaperDraft:
    """What a paper is about, and how its content is made once its number is known.

    `content` takes the number as printed, the day and the link of its code, and the paper before
    it about the same, if there is one.
    """

    kind: FrozenPaper.Kind
    site: Site
    content: Callable[[str, dt.date, str, FrozenPaper | None], Content]
    assembly: Assembly | None = None
    position: Position | None = None


@transaction.atomic
def issue_paper(
    *, draft: PaperDraft, address: str, person: Person | None, at: dt.datetime
) -> FrozenPaper:
    """Freeze a paper with its number and checksum. Atomic.

    Safe to repeat: where one of the last papers about the same thing says the same in all but
    its number and day, that one is given; two at once get one. Refuses what the draft's content
    refuses. Needs `read_register` at the site.
    """
    if person is not None:
        require(person, READ, draft.site)
    counter = hold_numbers(draft.site, draft.kind.value)
    last = _last(draft)
    today = local_day(at, draft.site.time_zone)
    wanted = bare(draft.content("", today, "", _first(last)))
    for paper in last:
        if paper.site_id == draft.site.pk and bare(content_of_paper(paper)) == wanted:
            return paper
    number = next_number(counter)
    link = f"{address}/{_PATHS[draft.kind]}/{draft.site.pk}/{number}"
    named = f"{draft.site.code} {number}"
    return _freeze(draft, number, draft.content(named, today, link, _first(last)), person, at)


def issue_fitting_sheet(
    *, order: FittingOrder, address: str, person: Person | None, at: dt.datetime
) -> FrozenPaper:
    """Freeze a fitting-up sheet of a position and the hose that goes on. Atomic.

    Safe to repeat, as `issue_paper`. Refuses: already_there, and what forbids fitting that hose
    there (`fitting_obstacles`). Needs `read_register` at the site of the machine.
    """
    position, new = order.position, order.new
    site = position.machine.site
    if new is not None:
        _refuse_new(order, on=local_day(at, site.time_zone))
    draft = PaperDraft(
        FrozenPaper.Kind.FITTING_UP,
        site,
        lambda number, day, link, _: fitting_content(order, number=number, drawn_on=day, link=link),
        assembly=new,
        position=position,
    )
    return issue_paper(draft=draft, address=address, person=person, at=at)


def issue_certificate(
    *, hose: Assembly, address: str, person: Person | None, at: dt.datetime
) -> FrozenPaper:
    """Freeze the test certificate of a signed and tested build. Atomic.

    Safe to repeat, as `issue_paper`. An amendment since gives another that names the one before,
    which stays as it was. Refuses: no_build, build_unsigned, scrapped, proof_failed, not_tested,
    pressure_unknown, proof_too_low. Needs `read_register` at the hose's site.
    """
    piece = certified(hose)
    if isinstance(piece, Obstacle):
        raise Refused(piece.code, piece.sentence)

    def content(number: str, day: dt.date, link: str, before: FrozenPaper | None) -> Content:
        former = certificate_content_of(before) if before is not None else None
        replaces = f"{former.number} of {former.drawn_on.isoformat()}" if former else ""
        made = certificate_content(piece, number=number, drawn_on=day, link=link, replaces=replaces)
        return with_tools_of(made, former) if former else made

    draft = PaperDraft(FrozenPaper.Kind.CERTIFICATE, hose.site, content, assembly=hose)
    return issue_paper(draft=draft, address=address, person=person, at=at)


def _refuse_new(order: FittingOrder, *, on: dt.date) -> None:
    position, new = order.position, order.new
    if new is None:
        return
    if new.stays.filter(is_open=True, position=position).exists():
        raise Refused("already_there", f"{new} is on {position} already.", field="named")
    for obstacle in fitting_obstacles(new, position, on=on):
        raise Refused(obstacle.code, obstacle.sentence, field="named")


def _last(draft: PaperDraft) -> list[FrozenPaper]:
    """The last papers of the kind about the same place or hose, of whatever site."""
    found = FrozenPaper.objects.filter(kind=draft.kind).select_related("site")
    if draft.position is not None:
        found = found.filter(position=draft.position)
    else:
        found = found.filter(assembly=draft.assembly)
    return list(found.order_by("-id")[:_LOOKED_BACK])


def _first(papers: list[FrozenPaper]) -> FrozenPaper | None:
    return papers[0] if papers else None


def _freeze(
    draft: PaperDraft, number: int, content: Content, person: Person | None, at: dt.datetime
) -> FrozenPaper:
    paper = FrozenPaper.objects.create(
        site=draft.site,
        kind=draft.kind,
        number=number,
        assembly=draft.assembly,
        position=draft.position,
        content=json.loads(to_json(content)),
        checksum=content.checksum,
        issued_at=at,
        issued_by=person,
    )
    kind = paper.get_kind_display()
    deed = audit.Deed(f"issued a {kind}", paper, draft.site, {}, {"checksum": paper.checksum})
    audit.record(deed, actor=person, at=at)
    return paper
