"""The hoses that come from a source: where each is now and when it falls due, and how many."""

import datetime as dt
import hashlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from django.db.models import Count, FilteredRelation, Q

from assemblies.models import Assembly, Stay
from assemblies.queries.trace_links import hoses_from
from assemblies.queries.trace_subjects import Subject
from fleet.models import Person, Posting, Site
from fleet.permissions import may_anywhere
from fleet.queries.keyset import Order, Page, page_of
from scheduling.calc.standing import Standing, standing, what_is_due
from scheduling.models import Due, Finding
from scheduling.queries.due_facts import dates_of, hose_label, hose_words

if TYPE_CHECKING:
    from django.db.models import QuerySet

MOST_COUNTED: Final = 10_000
MOST_TOLD: Final = 4
PLACES: Final[Mapping[str, str]] = {
    **{place.value: place.label for place in Stay.Place},
    "": "no place recorded",
}
TELL: Final = ("recall", "withdraw", "release_conditionally")


@dataclass(frozen=True, slots=True)
class TracedLine:
    """One hose, where it is now, and when it falls due. No machine where it is not fitted."""

    hose_id: int
    label: str
    tag: str
    owner_mark: str
    words: str
    site_code: str
    where: str
    machine_id: int | None
    machine: str
    position_id: int | None
    place: str
    consequence: str
    scrapped: bool
    standing: Standing | None
    what: str
    due_on: dt.date | None


@dataclass(frozen=True, slots=True)
class Elsewhere:
    """How many hoses another site has, and whom to tell there. No hose is named."""

    site: str
    hoses: int
    tell: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Spread:
    """How many hoses come from a source, scrapped ones and other sites' among them.

    `places` are own sites' by site and place; `elsewhere` is for who may recall alone. `more`
    says that there are more than were counted. `mark` is the same as long as the hoses are.
    """

    all_hoses: int
    own: int
    scrapped: int
    places: tuple[tuple[str, str, int], ...]
    elsewhere: tuple[Elsewhere, ...] | None
    more: bool
    mark: str = ""

    @property
    def other_sites_hoses(self) -> int:
        return sum(one.hoses for one in self.elsewhere or ())


def traced(
    person: Person,
    subject: Subject,
    *,
    after: tuple[int] | None,
    size: int,
    today: dt.date,
    scrapped: bool = True,
) -> Page[TracedLine]:
    """A page of the hoses that come from a source, those the person may see. A few queries."""
    found = _hoses(person, subject).select_related("site", "hose")
    if not scrapped:
        found = found.filter(withdrawn_at=None)
    page = page_of(found, order=Order("id"), after=after, size=size)
    return Page(lines_of(page.rows, today=today), page.after)


def traced_lines(person: Person, subject: Subject, *, today: dt.date) -> Iterator[TracedLine]:
    """All of them, read a chunk at a time."""
    after: tuple[int] | None = None
    while True:
        page = traced(person, subject, after=after, size=1000, today=today)
        yield from page.rows
        if page.after is None:
            return
        after = (page.after[0],)


def lines_of(hoses: Sequence[Assembly], *, today: dt.date) -> tuple[TracedLine, ...]:
    """Some hoses with where they are and their dues. Three queries.

    A finding that says take out now shows at once, before the dues are worked out again.
    """
    ids = [hose.pk for hose in hoses]
    stays = Stay.objects.filter(assembly__in=ids, is_open=True)
    held = {stay.assembly_id: stay for stay in stays.select_related("position__machine")}
    dues = {due.assembly_id: due for due in Due.objects.filter(assembly__in=ids)}
    grave = Finding.objects.filter(assembly__in=ids, verdict="out_now", dealt_with_at=None)
    out = set(grave.values_list("assembly_id", flat=True))
    lines = [_line(hose, held.get(hose.pk), dues.get(hose.pk), today) for hose in hoses]
    return tuple(replace(one, standing="out") if one.hose_id in out else one for one in lines)


def spread(person: Person, subject: Subject, *, most: int | None = MOST_COUNTED) -> Spread:
    """How many there are by site and place, counted up to `most`. Other sites' as numbers."""
    ids = hoses_from(subject.kind, subject.key).order_by("id").values("pk")
    counted = Assembly.objects.filter(pk__in=ids if most is None else ids[:most])
    now = FilteredRelation("stays", condition=Q(stays__is_open=True))
    rows = counted.annotate(now=now).values_list("site_id", "now__place").order_by()
    counts = [(site, place or "", n) for site, place, n in rows.annotate(n=Count("pk"))]
    total = sum(n for _, _, n in counts)
    sites = Site.objects.visible_to(person)
    names = dict(sites.values_list("pk", "name"))
    places = sorted((names[s], PLACES[place], n) for s, place, n in counts if s in names)
    return Spread(
        all_hoses=total,
        own=sum(n for _, _, n in places),
        scrapped=sum(n for _, place, n in counts if place == Stay.Place.SCRAPPED),
        places=tuple(places),
        elsewhere=elsewhere(person, counts),
        more=most is not None and total == most and len(ids[: most + 1]) > most,
        mark="" if most is not None else _mark(subject),
    )


def _mark(subject: Subject) -> str:
    """What tells these hoses from others, be they as many: a digest of which they are."""
    ids = hoses_from(subject.kind, subject.key).order_by("id").values_list("pk", flat=True)
    summed = hashlib.sha256()
    for pk in ids.iterator(chunk_size=5000):
        summed.update(b"%d " % pk)
    return summed.hexdigest()[:20]


def elsewhere(
    person: Person, counts: Sequence[tuple[int, str, int]]
) -> tuple[Elsewhere, ...] | None:
    """Other sites' hoses as numbers, with whom to tell, for who may recall; else None."""
    if not may_anywhere(person, "recall"):
        return None
    seen = Site.objects.visible_to(person).values("pk")
    others = list(Site.objects.filter(pk__in={s for s, _, _ in counts}).exclude(pk__in=seen))
    tell = _whom_to_tell([site.pk for site in others])
    return tuple(
        Elsewhere(site.name, sum(n for s, _, n in counts if s == site.pk), tell.get(site.pk, ()))
        for site in sorted(others, key=lambda site: site.code_key)
    )


def _whom_to_tell(site_ids: Sequence[int]) -> dict[int, tuple[str, ...]]:
    """A few people at each site who may recall, withdraw or release there."""
    posts = Posting.objects.filter(
        site__in=site_ids, ended_at=None, role__permissions__codename__in=TELL
    )
    found: dict[int, dict[str, None]] = {}
    for post in posts.select_related("person").order_by("role__name", "pk").distinct():
        if post.site_id is not None and post.person.is_active:
            found.setdefault(post.site_id, {})[str(post.person)] = None
    return {site: tuple(names)[:MOST_TOLD] for site, names in found.items()}


def _hoses(person: Person, subject: Subject) -> "QuerySet[Assembly]":
    ids = hoses_from(subject.kind, subject.key).order_by().values("pk")
    return Assembly.objects.visible_to(person).filter(pk__in=ids)


def _line(hose: Assembly, stay: Stay | None, due: Due | None, today: dt.date) -> TracedLine:
    place, dates = stay.position if stay else None, dates_of(due)
    scrapped = hose.withdrawn_at is not None
    return TracedLine(
        hose_id=hose.pk,
        label=hose_label(hose),
        tag=hose.tag_id or "",
        owner_mark=hose.owner_mark,
        words=hose_words(hose),
        site_code=hose.site.code,
        where=PLACES[stay.place if stay else ""],
        machine_id=place.machine_id if place else None,
        machine=str(place.machine) if place else "",
        position_id=place.pk if place else None,
        place=str(place) if place else "",
        consequence=place.get_consequence_display() if place else "",
        scrapped=scrapped,
        standing=None if scrapped else standing(dates, today),
        what=what_is_due(dates) if dates and not scrapped else "",
        due_on=due.due_on if due and not scrapped else None,
    )
