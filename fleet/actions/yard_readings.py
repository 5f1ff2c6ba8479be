"""A whole yard’s readings at once: the good are recorded, the rest come back with their reason."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from django.db import transaction

from fleet.actions.corrections import correct_reading
from fleet.actions.readings import ReadingGiven, record_readings
from fleet.actions.refusals import Refused
from fleet.models import HourReading, Person

CORRECTED = "typed again in the yard’s list"
Told = tuple[int, str, dt.datetime, object]


@dataclass(frozen=True)
class YardLine:
    """One reading of the list; `corrects` is the doubtful one that it was typed in place of."""

    given: ReadingGiven
    corrects: HourReading | None = None


@dataclass(frozen=True)
class YardOutcome:
    """What became of a line: the reading that stands, or the sentence why there is none."""

    reading: HourReading | None
    refusal: str = ""


@transaction.atomic
def record_yard(*, lines: Sequence[YardLine], person: Person, at: dt.datetime) -> list[YardOutcome]:
    """Record a list of readings; gives what became of each line, in order. Atomic.

    A line that is refused keeps none of the others back. Safe to repeat: what stands already is
    given back. Needs `record_reading` at each machine's site. Sends `reading_recorded`.
    """
    fresh = [line.given for line in lines if line.corrects is None]
    refused: dict[int, str] = {}
    try:
        with transaction.atomic():
            record_readings(readings=fresh, person=person, at=at)
    except Refused:
        refused = _one_by_one(fresh, person, at)
    outcomes = [
        _corrected(line, person, at) if line.corrects is not None else None for line in lines
    ]
    standing = _standing([line.given for line in lines])
    return [
        outcome or YardOutcome(standing.get(_told(line.given)), refused.get(id(line.given), ""))
        for line, outcome in zip(lines, outcomes, strict=True)
    ]


def _one_by_one(given: Sequence[ReadingGiven], person: Person, at: dt.datetime) -> dict[int, str]:
    """Where one of them was refused, each by itself: the refusals by line."""
    refused = {}
    for one in given:
        try:
            with transaction.atomic():
                record_readings(readings=[one], person=person, at=at)
        except Refused as refusal:
            refused[id(one)] = refusal.sentence
    return refused


def _corrected(line: YardLine, person: Person, at: dt.datetime) -> YardOutcome:
    wrong, given = line.corrects, line.given
    assert wrong is not None
    try:
        with transaction.atomic():
            reading = correct_reading(
                reading=wrong,
                reading_h=given.reading_h,
                read_at=given.read_at,
                typed=given.typed,
                reason=CORRECTED,
                person=person,
                at=at,
            )
    except Refused as refusal:
        same = refusal.code == "nothing_differs"
        return YardOutcome(wrong if same else None, "" if same else refusal.sentence)
    return YardOutcome(reading)


def _standing(given: Sequence[ReadingGiven]) -> dict[Told, HourReading]:
    machines = {one.machine.pk for one in given}
    if not machines:
        return {}
    found = HourReading.objects.filter(
        meter__machine__in=machines,
        read_at__gte=min(one.read_at for one in given),
        read_at__lte=max(one.read_at for one in given),
        set_aside_at=None,
    )
    return {
        (r.meter.machine_id, r.meter.counts, r.read_at, r.reading_h): r
        for r in found.select_related("meter")
    }


def _told(given: ReadingGiven) -> Told:
    return (given.machine.pk, given.counts, given.read_at, given.reading_h)
