"""What the machines of one page become: readings where they are matched, else known by name."""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

from fleet.actions.readings import ReadingGiven, record_readings
from fleet.actions.telematics_matches import last_reading
from fleet.calc.snapshots import Identity, Told
from fleet.models import HourMeter, Machine, TelematicsMatch, TelematicsSource

BATCH = 200
Known = dict[tuple[str, str], TelematicsMatch]
_SHOWN = ("maker", "model", "equipment_ref", "serial_number", "pin")
_LAST = ("last_seen_at", "last_reading_h", "last_typed", "last_read_at", "last_zone_known")


@dataclass(frozen=True)
class PageSeen:
    """What came of a page in figures, and a sentence for each machine that told no use."""

    equipment: int
    recorded: int
    doubtful: int
    known: int
    unmatched: int
    unusable: int
    problems: tuple[str, ...]


def take_machines(
    *, source: TelematicsSource, machines: Sequence[Told], at: dt.datetime
) -> PageSeen:
    """Record the machines of a page, inside the transaction of the page. Queries do not grow.

    A machine of another site than the source's, one that was sold, and one without a meter keep
    their last figure here and are told of, until a person sees to it.
    """
    known = _known(source, machines, at)
    metered = _metered(known.values())
    given: list[ReadingGiven] = []
    problems: list[str] = []
    unmatched: set[int] = set()
    for told in machines:
        seen = known[told.identity.kind, told.identity.key] if told.identity else None
        wrong = _note(source, seen, told, metered, at)
        if wrong:
            problems.append(wrong)
        elif seen is not None and seen.machine_id is not None:
            given.append(last_reading(seen))
        elif seen is not None and not seen.set_aside_reason:
            unmatched.add(seen.pk)
    TelematicsMatch.objects.bulk_update(
        known.values(), [*_SHOWN, *_LAST, "last_problem"], batch_size=BATCH
    )
    new = record_readings(readings=given, person=None, at=at)
    return PageSeen(
        equipment=len(machines),
        recorded=len(new),
        doubtful=sum(bool(reading.doubt) for reading in new),
        known=len(given) - len(new),
        unmatched=len(unmatched),
        unusable=len(problems),
        problems=tuple(problems),
    )


def _known(source: TelematicsSource, machines: Iterable[Told], at: dt.datetime) -> Known:
    """Each machine of the page as it is known here, the new ones made."""
    told = {(m.identity.kind, m.identity.key): m.identity for m in machines if m.identity}
    found = _stored(source, told)
    new = [
        TelematicsMatch(
            source=source, kind=kind, identity_key=key, first_seen_at=at, last_seen_at=at
        )
        for kind, key in told
        if (kind, key) not in found
    ]
    TelematicsMatch.objects.bulk_create(new, batch_size=BATCH, ignore_conflicts=True)
    return {**found, **_stored(source, {(m.kind, m.identity_key): 1 for m in new})}


def _stored(source: TelematicsSource, keys: Mapping[tuple[str, str], Any]) -> Known:
    texts, found = sorted({key for _, key in keys}), {}
    for start in range(0, len(texts), BATCH):
        rows = TelematicsMatch.objects.filter(
            source=source, identity_key__in=texts[start : start + BATCH]
        )
        for row in rows.select_related("machine__site"):
            row.source = source
            if (row.kind, row.identity_key) in keys:
                found[row.kind, row.identity_key] = row
    return found


def _metered(known: Iterable[TelematicsMatch]) -> set[tuple[int, str]]:
    ids = sorted({seen.machine_id for seen in known if seen.machine_id is not None})
    found: set[tuple[int, str]] = set()
    for start in range(0, len(ids), BATCH):
        meters = HourMeter.objects.filter(machine__in=ids[start : start + BATCH], to_on=None)
        found |= set(meters.values_list("machine_id", "counts"))
    return found


def _note(
    source: TelematicsSource,
    seen: TelematicsMatch | None,
    told: Told,
    metered: set[tuple[int, str]],
    at: dt.datetime,
) -> str:
    """Keep what was told with the machine; the sentence where it is of no use, else nothing."""
    if seen is None or told.identity is None:
        return told.problem
    _describe(seen, told.identity)
    seen.last_seen_at = at
    if told.usable:
        seen.last_reading_h, seen.last_typed = told.hours, told.typed
        seen.last_read_at, seen.last_zone_known = _moment(told.read_at), told.zone_known
    wrong = told.problem or _out_of_reach(source, seen, metered)
    seen.last_problem = wrong[:300]
    return f"{seen.machine or seen}: {wrong}" if wrong else ""


def _describe(seen: TelematicsMatch, identity: Identity) -> None:
    for name in _SHOWN:
        setattr(seen, name, getattr(identity, name))


def _moment(read_at: dt.datetime | None) -> dt.datetime | None:
    """A time without a zone is kept as it was written; `last_zone_known` says so."""
    if read_at is None or read_at.tzinfo is not None:
        return read_at
    return read_at.replace(tzinfo=ZoneInfo("UTC"))


def _out_of_reach(
    source: TelematicsSource, seen: TelematicsMatch, metered: set[tuple[int, str]]
) -> str:
    machine = seen.machine
    if machine is None:
        return ""
    if source.site_id not in (None, machine.site_id):
        return f"it has left {source.site}: a source of its site must tell its hours now."
    if machine.withdrawn_at is not None or machine.status == Machine.Status.SOLD:
        return "it is no machine of ours any more: take the match back."
    if (machine.pk, seen.counts) not in metered:
        return f"it has no meter that counts {seen.get_counts_display()} hours."
    return ""
