"""Sources of telematics with their runs, and the machines that they tell of."""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Count, Max, Q, QuerySet

from fleet.calc.keys import text_key
from fleet.models import Machine, Person, TelematicsMatch, TelematicsRun, TelematicsSource
from fleet.queries.keyset import Order, Page, page_of

BY_ID = Order("id")
LAST_RUNS = 12
QUIET_AFTER = dt.timedelta(days=2)
FOUND_AT_MOST = 20


@dataclass(frozen=True, slots=True)
class RunLine:
    """One run in figures and words."""

    run_id: int
    state: str
    began_at: dt.datetime
    ended_at: dt.datetime | None
    not_before_at: dt.datetime | None
    tries: int
    pages: int
    equipment: int
    recorded: int
    doubtful: int
    known: int
    unmatched: int
    unusable: int
    problems: tuple[str, ...]
    error: str
    asked_by: str


@dataclass(frozen=True, slots=True)
class SourceLine:
    """A source with its last run, and when it last told something whole."""

    source: TelematicsSource
    last: RunLine | None
    well_at: dt.datetime | None
    matched: int
    unmatched: int
    quiet: bool

    @property
    def state(self) -> str:
        if self.last is None:
            return "never"
        return "quiet" if self.quiet and self.last.state != "open" else self.last.state

    @property
    def in_trouble(self) -> bool:
        """Whether it told nothing whole when it was asked last."""
        return self.state in ("failed", "quiet") or bool(self.last and self.last.error)


@dataclass(frozen=True, slots=True)
class Proposal:
    """A machine of ours that it may be, and what agrees."""

    machine_id: int
    number: str
    what: str
    why: str


@dataclass(frozen=True, slots=True)
class SeenLine:
    """A machine as a provider names it, with what it told last and which of ours it may be."""

    seen: TelematicsMatch
    proposals: tuple[Proposal, ...]

    @property
    def last_h(self) -> Decimal | None:
        last: Decimal | None = self.seen.last_reading_h
        return last


def sources_of(person: Person, *, at: dt.datetime) -> tuple[SourceLine, ...]:
    """The sources that stand and the person sees, by name. Four queries."""
    found = TelematicsSource.objects.visible_to(person).filter(withdrawn_at=None)
    return _lines(list(found.select_related("site")), at)


def source_line(person: Person, source_id: int, *, at: dt.datetime) -> SourceLine | None:
    """One source, withdrawn or not, where the person may see it."""
    found = TelematicsSource.objects.visible_to(person).filter(pk=source_id)
    return next(iter(_lines(list(found.select_related("site")), at)), None)


def last_runs(source: TelematicsSource) -> tuple[RunLine, ...]:
    """The last runs of a source, the newest first."""
    runs = source.runs.select_related("asked_by").order_by("-id")[:LAST_RUNS]
    return tuple(_run(run) for run in runs)


def seen_machines(
    person: Person, *, matched: bool, after: tuple[object, ...] | None, size: int
) -> Page[SeenLine]:
    """The machines that sources tell of: those that wait for a match, or those that have one."""
    found = TelematicsMatch.objects.visible_to(person).filter(source__withdrawn_at=None)
    found = found.select_related("source__site", "machine__site", "decided_by")
    if matched:
        found = found.filter(machine__isnull=False)
    else:
        found = found.filter(machine=None, set_aside_reason="")
    page = page_of(found, order=BY_ID, after=after, size=size)
    proposed = {} if matched else _proposals(person, page.rows)
    return Page(tuple(SeenLine(row, proposed.get(row.pk, ())) for row in page.rows), page.after)


def seen_for(person: Person, seen_id: int) -> SeenLine | None:
    """One machine that a source tells of, where the person may see it."""
    found = TelematicsMatch.objects.visible_to(person).filter(pk=seen_id)
    row = found.select_related("source__site", "machine__site", "decided_by").first()
    return None if row is None else SeenLine(row, _proposals(person, [row]).get(row.pk, ()))


def machines_like(person: Person, source: TelematicsSource, text: str) -> tuple[Proposal, ...]:
    """Machines whose number, serial number or PIN holds a text, where the source may tell of them.

    The first twenty by number.
    """
    if not text.strip():
        return ()
    wanted = (
        Q(number_key__contains=text_key(text))
        | Q(serial_number__icontains=text.strip())
        | Q(pin__icontains=text.strip())
    )
    found = _machines(person, source).filter(wanted).order_by("number_key", "id")
    return tuple(_proposal(machine, "") for machine in found[:FOUND_AT_MOST])


def _machines(person: Person, source: TelematicsSource) -> "QuerySet[Machine]":
    found = Machine.objects.visible_to(person).filter(withdrawn_at=None).exclude(status="sold")
    if source.site_id is not None:
        found = found.filter(site=source.site_id)
    return found.select_related("machine_class", "site")


def _proposals(person: Person, rows: Iterable[TelematicsMatch]) -> dict[int, tuple[Proposal, ...]]:
    """Machines of ours whose PIN, serial number or fleet number agrees, sign for sign."""
    seen = list(rows)
    pins = {text for row in seen for text in (row.pin, row.pin.upper()) if text}
    serials = {t for row in seen for t in (row.serial_number, row.serial_number.upper()) if t}
    numbers = {text_key(row.equipment_ref) for row in seen if row.equipment_ref}
    agrees = Q(pin__in=pins) | Q(serial_number__in=serials) | Q(number_key__in=numbers)
    machines = Machine.objects.visible_to(person).filter(agrees, withdrawn_at=None)
    ours = list(machines.exclude(status="sold").select_related("machine_class", "site"))
    return {row.pk: _agreeing(row, ours) for row in seen}


def _agreeing(row: TelematicsMatch, ours: list[Machine]) -> tuple[Proposal, ...]:
    found = []
    for machine in ours:
        if row.source.site_id not in (None, machine.site_id):
            continue
        why = [
            words
            for words, theirs, own in (
                ("the PIN agrees", text_key(row.pin), text_key(machine.pin)),
                (
                    "the serial number agrees",
                    text_key(row.serial_number),
                    text_key(machine.serial_number),
                ),
                ("the fleet number agrees", text_key(row.equipment_ref), machine.number_key),
            )
            if theirs and theirs == own
        ]
        if why:
            found.append(_proposal(machine, ", ".join(why)))
    return tuple(found[:3])


def _proposal(machine: Machine, why: str) -> Proposal:
    made = f"{machine.maker} {machine.model}".strip()
    what = f"{made or machine.machine_class}, {machine.site}"
    known = [f"serial {machine.serial_number}"] * bool(machine.serial_number)
    known += [f"PIN {machine.pin}"] * bool(machine.pin)
    return Proposal(machine.pk, machine.fleet_number, ", ".join([what, *known]), why)


def _lines(sources: list[TelematicsSource], at: dt.datetime) -> tuple[SourceLine, ...]:
    runs = TelematicsRun.objects.filter(source__in=sources)
    newest = runs.order_by().values("source").annotate(newest=Max("id")).values("newest")
    last = {run.source_id: run for run in runs.filter(pk__in=newest).select_related("asked_by")}
    well = dict(
        runs.order_by()
        .filter(state="done")
        .values("source")
        .annotate(well_at=Max("ended_at"))
        .values_list("source", "well_at")
    )
    matches = TelematicsMatch.objects.filter(source__in=sources).order_by().values("source")
    counted = matches.annotate(
        matched=Count("id", filter=Q(machine__isnull=False)),
        unmatched=Count("id", filter=Q(machine=None, set_aside_reason="")),
    )
    counts = {row["source"]: (row["matched"], row["unmatched"]) for row in counted}
    return tuple(
        _source(source, last.get(source.pk), well.get(source.pk), counts.get(source.pk, (0, 0)), at)
        for source in sources
    )


def _source(
    source: TelematicsSource,
    run: TelematicsRun | None,
    well_at: dt.datetime | None,
    counts: tuple[int, int],
    at: dt.datetime,
) -> SourceLine:
    since = well_at or source.added_at
    return SourceLine(
        source,
        _run(run) if run else None,
        well_at,
        *counts,
        quiet=source.asked_daily and at - since > QUIET_AFTER,
    )


def _run(run: TelematicsRun) -> RunLine:
    return RunLine(
        run.pk,
        run.state,
        run.began_at,
        run.ended_at,
        run.not_before_at,
        run.tries,
        run.pages,
        run.equipment,
        run.recorded,
        run.doubtful,
        run.known,
        run.unmatched,
        run.unusable,
        tuple(run.problems),
        run.error,
        str(run.asked_by or ""),
    )
