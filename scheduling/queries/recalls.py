"""Recalls and how far each has come: own sites' hoses by name, other sites' as numbers."""

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from django.db.models import Count, Exists, OuterRef, Q

from assemblies.queries.trace_subjects import Subject
from fleet.models import Person
from fleet.permissions import may, may_anywhere
from fleet.queries.keyset import Order, Page, page_of
from scheduling.models import Finding, Recall
from scheduling.queries.traced import Elsewhere, TracedLine, elsewhere, lines_of

if TYPE_CHECKING:
    from django.db.models import QuerySet


@dataclass(frozen=True, slots=True)
class Progress:
    """How many hoses a recall reached, and of how many it is not dealt with yet."""

    hoses: int
    open: int

    @property
    def dealt_with(self) -> int:
        return self.hoses - self.open


@dataclass(frozen=True, slots=True)
class RecallLine:
    """One recall; `others` is for who may recall alone."""

    recall_id: int
    label: str
    says: str
    verdict: str
    by_on: dt.date | None
    reason: str
    made_on: dt.date
    made_by: str
    ended_at: dt.datetime | None
    kind: str
    key: str
    own: Progress
    others: Progress | None


@dataclass(frozen=True, slots=True)
class RecalledLine:
    """One hose of a recall, where it is, and what was done about it."""

    finding_id: int
    hose: TracedLine
    dealt_with_at: dt.datetime | None
    dealt_with_by: str
    how: str


def recall_list(person: Person, *, after: tuple[int] | None, size: int) -> Page[RecallLine]:
    """The recalls that concern the person, the newest first. A fixed number of queries."""
    found = _concerning(person).select_related("made_by")
    page = page_of(found, order=Order("id", down=True), after=after, size=size)
    return Page(_lines(person, page.rows), page.after)


def recall_for(person: Person, recall_id: int) -> RecallLine | None:
    """One recall, where it concerns the person."""
    found = _concerning(person).filter(pk=recall_id).select_related("made_by").first()
    return _lines(person, [found])[0] if found else None


def may_end(person: Person, recall_id: int) -> Recall | None:
    """The recall, where the person may end it and it is open."""
    recall = Recall.objects.filter(pk=recall_id, ended_at=None).first()
    if recall is None:
        return None
    if recall.site_id is None:
        return recall if may_anywhere(person, "recall") else None
    return recall if may(person, "recall", recall.site_id) else None


def open_recall_of(person: Person, subject: Subject) -> RecallLine | None:
    """The open recall of a source, where it concerns the person."""
    found = _concerning(person).filter(subject=subject.kind, subject_id=subject.key, ended_at=None)
    rows = list(found.select_related("made_by"))
    return _lines(person, rows)[0] if rows else None


def recalled(
    person: Person,
    recall_id: int,
    *,
    still_open: bool | None,
    after: tuple[int] | None,
    size: int,
    today: dt.date,
) -> Page[RecalledLine]:
    """A page of a recall's hoses at the person's sites; open ones, settled ones, or all."""
    found = _seen(person).filter(recall=recall_id)
    if still_open is not None:
        found = found.filter(dealt_with_at__isnull=still_open)
    joined = found.select_related("assembly__site", "assembly__hose", "dealt_with_by")
    page = page_of(joined, order=Order("id"), after=after, size=size)
    hoses = lines_of([row.assembly for row in page.rows], today=today)
    rows = zip(page.rows, hoses, strict=True)
    return Page(tuple(_recalled(row, hose) for row, hose in rows), page.after)


def recalled_lines(person: Person, recall_id: int, *, today: dt.date) -> Iterator[RecalledLine]:
    """All of a recall's hoses at the person's sites, read a chunk at a time."""
    after: tuple[int] | None = None
    while True:
        page = recalled(person, recall_id, still_open=None, after=after, size=1000, today=today)
        yield from page.rows
        if page.after is None:
            return
        after = (page.after[0],)


def told_elsewhere(person: Person, recall_id: int) -> tuple[Elsewhere, ...] | None:
    """Other sites with open findings of a recall: how many, and whom to tell."""
    still_open = Finding.objects.filter(recall=recall_id, dealt_with_at=None)
    rows = still_open.values_list("assembly__site").annotate(n=Count("pk")).order_by()
    counts = [(site, "", n) for site, n in rows]
    return elsewhere(person, counts)


def _seen(person: Person) -> "QuerySet[Finding]":
    """Findings on hoses that are at the person's sites now, wherever they were found."""
    if person.sees_every_site:
        return Finding.objects.all()
    return Finding.objects.filter(assembly__site__in=person.seen_site_ids)


def _concerning(person: Person) -> "QuerySet[Recall]":
    """All of them for who may recall; for others those that reached a hose of theirs."""
    if may_anywhere(person, "recall") or person.sees_every_site:
        return Recall.objects.all()
    own = _seen(person).filter(recall=OuterRef("pk"))
    return Recall.objects.filter(Exists(own))


def _lines(person: Person, recalls: Sequence[Recall]) -> tuple[RecallLine, ...]:
    still_open = Count("pk", filter=Q(dealt_with_at=None))
    rows = Finding.objects.filter(recall__in=recalls).order_by()
    counts = list(
        rows.values_list("recall", "assembly__site").annotate(n=Count("pk"), open=still_open)
    )
    told = may_anywhere(person, "recall")
    return tuple(_line(person, one, counts, told) for one in recalls)


def _line(
    person: Person, one: Recall, counts: Sequence[tuple[int, int, int, int]], told: bool
) -> RecallLine:
    own = [row for row in counts if row[0] == one.pk and _sees(person, row[1])]
    others = [row for row in counts if row[0] == one.pk and not _sees(person, row[1])]
    verdict = Finding.Verdict(one.verdict)
    return RecallLine(
        recall_id=one.pk,
        label=one.subject_label,
        says=verdict.label,
        verdict=one.verdict,
        by_on=one.by_on,
        reason=one.reason,
        made_on=one.made_on,
        made_by=str(one.made_by),
        ended_at=one.ended_at,
        kind=one.subject,
        key=one.subject_id,
        own=_sum(own),
        others=_sum(others) if told else None,
    )


def _sum(rows: Sequence[tuple[int, int, int, int]]) -> Progress:
    return Progress(sum(row[2] for row in rows), sum(row[3] for row in rows))


def _sees(person: Person, site_id: int) -> bool:
    return person.sees_every_site or site_id in person.seen_site_ids


def _recalled(row: Finding, hose: TracedLine) -> RecalledLine:
    by = str(row.dealt_with_by) if row.dealt_with_by else ""
    return RecalledLine(row.pk, hose, row.dealt_with_at, by, row.dealt_with_how)
