"""Rounds as the pages show them: the list, and one round place by place."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from django.db.models import Q

from assemblies.models import Assembly, Position, Stay
from fleet.models import Machine, Person
from fleet.queries.photos import PhotoShown, shown_photos
from scheduling.calc.checklist import at_once
from scheduling.calc.standing import Standing, standing, what_is_due
from scheduling.models import Due, Finding, Inspection, InspectionPhoto, Round
from scheduling.queries.due_facts import dates_of, hose_label, hose_words
from scheduling.queries.round_places import answers_of, places_in_order

MOST = 40
_TODO = {"recheck": "look again by", "replace": "replace by"}


@dataclass(frozen=True, slots=True)
class RoundListed:
    """One round of the list."""

    round_id: int
    machine: str
    machine_id: int
    purpose: str
    occasion: str
    begun_at: dt.datetime
    begun_by: str
    finished_at: dt.datetime | None
    zone: str
    left_out: int


@dataclass(frozen=True, slots=True)
class Answer:
    """What was told of a hose in the round: `kind` is fine, found or not_seen."""

    look_id: int
    kind: str
    told_by: str
    told_at: dt.datetime
    note: str
    found: tuple[str, ...]
    at_once: tuple[str, ...]
    photos: tuple[PhotoShown, ...]
    may_take_back: bool


@dataclass(frozen=True, slots=True)
class RoundLine:
    """One place of the walk. `hose_id` is None where nothing is known to be fitted."""

    number: int
    position_id: int
    place: str
    on_part: str
    consequence: str
    hose_id: int | None
    label: str
    words: str
    tagged: bool
    standing: Standing | None
    due_on: dt.date | None
    due_what: str
    open_before: tuple[str, ...]
    told_empty: bool
    answer: Answer | None

    @property
    def is_done(self) -> bool:
        return self.answer is not None or self.told_empty


@dataclass(frozen=True, slots=True)
class RoundPage:
    """A round, place by place, and how far it is."""

    round: Round
    lines: tuple[RoundLine, ...]
    competent: str
    late: int = field(default=0)

    @property
    def open(self) -> bool:
        return self.round.finished_at is None

    @property
    def to_do(self) -> tuple[RoundLine, ...]:
        """The hoses that nobody has answered for."""
        return tuple(line for line in self.lines if line.hose_id and line.answer is None)

    @property
    def asked(self) -> int:
        return sum(line.hose_id is not None for line in self.lines)

    @property
    def done(self) -> int:
        """The places that were told, those without a hose among them."""
        return sum(line.is_done for line in self.lines)

    @property
    def answered(self) -> int:
        return sum(line.answer is not None for line in self.lines)


def round_for(person: Person, round_id: int) -> Round | None:
    """The round, where the person may see it."""
    found = Round.objects.visible_to(person).filter(pk=round_id)
    return found.select_related("machine__site", "site", "begun_by", "finished_by").first()


def look_for(person: Person, look_id: int) -> Inspection | None:
    """The look, where the person may see it."""
    found = Inspection.objects.visible_to(person).filter(pk=look_id)
    return found.select_related("round").first()


def rounds_seen(person: Person) -> tuple[RoundListed, ...]:
    """The open rounds at the person's sites, the newest first, then those finished last."""
    seen = Round.objects.visible_to(person).select_related("machine", "site", "begun_by")
    still = list(seen.filter(finished_at=None).order_by("-begun_at", "-id")[:MOST])
    over = seen.exclude(finished_at=None).order_by("-begun_at", "-id")[:MOST]
    return tuple(_listed(one) for one in (*still, *over))


def open_round_of(machine: Machine, purpose: str) -> Round | None:
    """The machine's open round of this purpose."""
    found = Round.objects.filter(machine=machine, purpose=purpose, finished_at=None)
    return found.select_related("begun_by").first()


def round_page(person: Person, held: Round, *, today: dt.date) -> RoundPage:
    """One round place by place. The queries do not grow with the hoses."""
    places, answers = places_in_order(held.machine), answers_of(held)
    stays = Stay.objects.filter(position__in=places, is_open=True).select_related("assembly__hose")
    hoses = {stay.position_id: stay.assembly for stay in stays}
    ids = [hose.pk for hose in hoses.values()]
    facts = _Facts(
        person=person,
        held=held,
        today=today,
        dues={due.assembly_id: due for due in Due.objects.filter(assembly__in=ids)},
        findings=_findings(ids, answers),
        photos=_photos(person, answers),
    )
    lines = tuple(
        facts.line(number, place, hoses.get(place.pk), answers)
        for number, place in enumerate(places, 1)
    )
    late = sum(1 for look in answers.values() if _came_late(held, look))
    return RoundPage(held, lines, _competent(answers.values(), held), late)


@dataclass(frozen=True)
class _Facts:
    """What the lines of a round are put together from."""

    person: Person
    held: Round
    today: dt.date
    dues: Mapping[int, Due]
    findings: Mapping[int, Sequence[Finding]]
    photos: Mapping[int, tuple[PhotoShown, ...]]

    def line(
        self, number: int, place: Position, hose: Assembly | None, answers: Mapping[int, Inspection]
    ) -> RoundLine:
        look = answers.get(hose.pk) if hose else None
        dates = dates_of(self.dues.get(hose.pk)) if hose else None
        found = self.findings.get(hose.pk, ()) if hose else ()
        return RoundLine(
            number=number,
            position_id=place.pk,
            place=str(place),
            on_part="" if place.machine_id == self.held.machine_id else str(place.machine),
            consequence=place.consequence,
            hose_id=hose.pk if hose else None,
            label=hose_label(hose) if hose else "",
            words=hose_words(hose) if hose else "",
            tagged=bool(hose and hose.tag_id),
            standing=standing(dates, self.today) if hose else None,
            due_on=dates.due_on if dates else None,
            due_what=what_is_due(dates) if dates else "",
            open_before=tuple(_words(one) for one in found if _asks(one, look)),
            told_empty=hose is None and place.pk in self.held.told_empty,
            answer=self.answer(look, found) if look else None,
        )

    def answer(self, look: Inspection, found: Sequence[Finding]) -> Answer:
        own = [finding for finding in found if finding.inspection_id == look.pk]
        kind = "not_seen" if look.not_seen else "found" if own else "fine"
        return Answer(
            look_id=look.pk,
            kind=kind,
            told_by=str(look.inspected_by or ""),
            told_at=look.recorded_at,
            note=look.note,
            found=tuple(_words(finding) for finding in own),
            at_once=tuple(filter(None, dict.fromkeys(at_once(f.what) for f in own))),
            photos=self.photos.get(look.pk, ()),
            may_take_back=look.inspected_by_id == self.person.pk and self.held.finished_at is None,
        )


def _asks(finding: Finding, look: Inspection | None) -> bool:
    """Whether a finding from before this round's look still asks for something."""
    own = look is not None and finding.inspection_id == look.pk
    return not own and finding.dealt_with_at is None and finding.verdict != Finding.Verdict.KEEP


def _findings(
    hose_ids: Sequence[int], answers: Mapping[int, Inspection]
) -> Mapping[int, Sequence[Finding]]:
    """What is open on each hose, and what the round's looks found whether or not it still is."""
    by_hose: defaultdict[int, list[Finding]] = defaultdict(list)
    still = Q(assembly__in=hose_ids, dealt_with_at=None)
    own = Q(inspection__in=[look.pk for look in answers.values()])
    found = Finding.objects.filter(still | own)
    for finding in found.order_by("id"):
        by_hose[finding.assembly_id].append(finding)
    return by_hose


def _photos(
    person: Person, answers: Mapping[int, Inspection]
) -> Mapping[int, tuple[PhotoShown, ...]]:
    links = InspectionPhoto.objects.filter(inspection__in=[look.pk for look in answers.values()])
    pairs = list(links.order_by("photo_id").values_list("inspection_id", "photo_id"))
    shown = {photo.pk: photo for photo in shown_photos(person, [photo for _, photo in pairs])}
    by_look: defaultdict[int, list[PhotoShown]] = defaultdict(list)
    for look_id, photo_id in pairs:
        if photo_id in shown:
            by_look[look_id].append(shown[photo_id])
    return {look_id: tuple(photos) for look_id, photos in by_look.items()}


def _words(finding: Finding) -> str:
    """A finding in words: what to do, by when, what was found."""
    todo = _TODO.get(finding.verdict, finding.get_verdict_display())
    by = f" {finding.by_on}" if finding.by_on else ""
    note = f" ({finding.note})" if finding.note else ""
    return f"{todo}{by}: {finding.what}{note}"


def _competent(looks: Iterable[Inspection], held: Round) -> str:
    """Who the competent person of the round is, as far as it is named."""
    if held.inspector_name:
        return f"{held.inspector_name}, named by {held.begun_by}"
    marked = {look.inspector_name for look in looks if look.competent_person}
    return ", ".join(sorted(marked))


def _came_late(held: Round, look: Inspection) -> bool:
    return held.finished_at is not None and look.recorded_at > held.finished_at


def _listed(one: Round) -> RoundListed:
    return RoundListed(
        round_id=one.pk,
        machine=str(one.machine),
        machine_id=one.machine_id,
        purpose=one.get_purpose_display(),
        occasion=one.occasion,
        begun_at=one.begun_at,
        begun_by=str(one.begun_by),
        finished_at=one.finished_at,
        zone=one.site.time_zone,
        left_out=len(one.left_out),
    )
