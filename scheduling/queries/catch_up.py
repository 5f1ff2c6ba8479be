"""What a fleet has to catch up with, and how far its plan is: true dates beside planned weeks."""

import datetime as dt
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import Exists, F, OuterRef, Q, QuerySet

from assemblies.models import Position, Stay
from fleet.models import Person, Site
from scheduling.calc.catch_up import CatchUpHose
from scheduling.calc.inputs import Flag
from scheduling.calc.standing import Standing, standing, what_is_due
from scheduling.models import CatchUpLine, CatchUpPlan, Due, Finding, Inspection
from scheduling.queries.due_facts import age_start, dates_of, hose_label, hose_words

WEEK = dt.timedelta(days=7)
_ASKING = Flag.UNKNOWN_AGE | Flag.TAKE_OUT_NOW
_VERDICTS = ("out_now", "replace", "recheck")  # the gravest first


@dataclass(frozen=True, slots=True)
class PlannedHose:
    """One hose of a plan, with its true age and date beside the week it is put in."""

    rank: int
    hose_id: int
    label: str
    words: str
    machine_id: int | None
    machine: str
    position_id: int | None
    place: str
    week_on: dt.date
    why: str
    aged_from_on: dt.date | None
    aged_from: str
    due_on: dt.date | None
    due_what: str
    standing: Standing
    done: bool


@dataclass(frozen=True, slots=True)
class WeekCount:
    """One week of a plan: how many hoses, and how many of them are done."""

    week_on: dt.date
    hoses: int
    done: int
    is_now: bool
    is_past: bool

    @property
    def left(self) -> int:
        return self.hoses - self.done


@dataclass(frozen=True, slots=True)
class PlanPage:
    """A plan week by week, and the hoses of the week that is looked at."""

    plan: CatchUpPlan
    weeks: tuple[WeekCount, ...]
    shown_on: dt.date
    lines: tuple[PlannedHose, ...]
    truly_overdue: int
    whole: bool

    @property
    def hoses(self) -> int:
        return sum(week.hoses for week in self.weeks)

    @property
    def done(self) -> int:
        return sum(week.done for week in self.weeks)

    @property
    def behind(self) -> int:
        return sum(week.left for week in self.weeks if week.is_past)


def hoses_to_catch_up(site: Site, today: dt.date) -> tuple[CatchUpHose, ...]:
    """The fitted hoses of a site that are due before today, undated, of unknown age or grave."""
    stays = Stay.objects.filter(site=site, is_open=True, place="position")
    still = stays.filter(assembly__due__in=_open_dues(today).filter(site=site))
    rows = still.select_related("assembly__due", "position").order_by("assembly_id")
    return _conditioned([row for row in rows if row.position is not None], today)


def _conditioned(stays: Sequence[Stay], today: dt.date) -> tuple[CatchUpHose, ...]:
    ids = [stay.assembly_id for stay in stays]
    verdicts, seen = _verdicts(ids), _seen(ids)
    found = []
    for stay in stays:
        place, due = stay.position, stay.assembly.due
        assert place is not None  # asked for above
        unknown = bool(due.flags & Flag.UNKNOWN_AGE) or due.due_on is None
        found.append(
            CatchUpHose(
                stay.assembly_id,
                place.machine_id,
                place.consequence,
                verdicts.get(stay.assembly_id)
                or ("seen" if stay.assembly_id in seen else "unseen"),
                None if unknown else (today - due.due_on).days,
            )
        )
    return tuple(found)


def plan_for(person: Person, plan_id: int) -> CatchUpPlan | None:
    """The plan, where the person may see it."""
    found = CatchUpPlan.objects.visible_to(person).filter(pk=plan_id)
    return found.select_related("site", "made_by", "ended_by").first()


def plans_seen(person: Person) -> tuple[CatchUpPlan, ...]:
    """The plans at the person's sites, the open ones first, then the latest."""
    found = CatchUpPlan.objects.visible_to(person).select_related("site", "made_by")
    return tuple(found.order_by(F("ended_at").desc(nulls_first=True), "-id")[:40])


def plan_page(
    plan: CatchUpPlan, *, today: dt.date, week_on: dt.date | None, whole: bool = False
) -> PlanPage:
    """A plan week by week, with the hoses of one week: the one asked for, else this one.

    `whole` gives the hoses of all weeks, for paper.
    """
    weeks = _weeks(plan, today)
    days = [week.week_on for week in weeks]
    still = [week.week_on for week in weeks if week.is_now or (not week.is_past and week.left)]
    chosen = week_on if week_on in days else next(iter(still), days[-1])
    overdue = Due.objects.filter(site=plan.site, due_on__lt=today).count()
    lines = planned_hoses(plan, today, week_on=None if whole else chosen)
    return PlanPage(plan, weeks, chosen, lines, overdue, whole)


def planned_hoses(
    plan: CatchUpPlan, today: dt.date, *, week_on: dt.date | None = None
) -> tuple[PlannedHose, ...]:
    """The hoses of a plan, or of one of its weeks, the gravest first."""
    lines = plan.lines.select_related("assembly__hose", "assembly__due")
    if week_on is not None:
        lines = lines.filter(Q(week_on=week_on))
    rows = list(lines.order_by("week_on", "rank"))
    stays = Stay.objects.filter(assembly__in=[row.assembly_id for row in rows], is_open=True)
    held = {s.assembly_id: s for s in stays.select_related("position__machine")}
    return tuple(_planned(row, held.get(row.assembly_id), today) for row in rows)


def lines_to_do(person: Person, today: dt.date) -> "QuerySet[CatchUpLine]":
    """The lines of standing plans, up to this week, whose hoses are not done yet."""
    plans = CatchUpPlan.objects.visible_to(person).filter(ended_at=None)
    return _not_done(CatchUpLine.objects.filter(plan__in=plans, week_on__lte=today), today)


def open_plan_of(person: Person) -> CatchUpPlan | None:
    """The first standing plan of the person's sites."""
    return CatchUpPlan.objects.visible_to(person).filter(ended_at=None).order_by("id").first()


def _not_done(lines: "QuerySet[CatchUpLine]", today: dt.date) -> "QuerySet[CatchUpLine]":
    held = Stay.objects.filter(assembly=OuterRef("assembly"), is_open=True, place="position")
    due = _open_dues(today).filter(assembly=OuterRef("assembly"))  # by its key, line by line
    return lines.filter(Exists(held), Exists(due))


def _open_dues(today: dt.date) -> "QuerySet[Due]":
    still = Q(asking__gt=0) | Q(due_on=None) | Q(due_on__lt=today)
    return Due.objects.annotate(asking=F("flags").bitand(int(_ASKING))).filter(still)


def _weeks(plan: CatchUpPlan, today: dt.date) -> tuple[WeekCount, ...]:
    every: defaultdict[dt.date, int] = defaultdict(int)
    for on in plan.lines.values_list("week_on", flat=True):
        every[on] += 1
    left: defaultdict[dt.date, int] = defaultdict(int)
    for on in _not_done(plan.lines.all(), today).values_list("week_on", flat=True):
        left[on] += 1
    return tuple(
        WeekCount(on, every[on], every[on] - left[on], on <= today < on + WEEK, on + WEEK <= today)
        for on in sorted(every)
    )


def _planned(line: CatchUpLine, stay: Stay | None, today: dt.date) -> PlannedHose:
    hose, place = line.assembly, stay.position if stay else None
    due = getattr(hose, "due", None)
    dates, (since, word) = dates_of(due), age_start(hose, stay)
    return PlannedHose(
        rank=line.rank,
        hose_id=hose.pk,
        label=hose_label(hose),
        words=hose_words(hose),
        machine_id=place.machine_id if place else None,
        machine=str(place.machine) if place else "",
        position_id=place.pk if place else None,
        place=str(place) if place else "",
        week_on=line.week_on,
        why=line.why,
        aged_from_on=since,
        aged_from=word,
        due_on=dates.due_on if dates else None,
        due_what=what_is_due(dates) if dates else "",
        standing=standing(dates, today),
        done=_is_done(due, place, today),
    )


def _is_done(due: Due | None, place: Position | None, today: dt.date) -> bool:
    """Done: off the machine, or in date with a known age and nothing to be taken out."""
    if place is None or due is None:
        return True
    return not due.flags & _ASKING and due.due_on is not None and due.due_on >= today


def _verdicts(hose_ids: Sequence[int]) -> dict[int, str]:
    """The gravest open verdict of each hose."""
    found = Finding.objects.filter(assembly__in=hose_ids, dealt_with_at=None)
    gravest: dict[int, str] = {}
    for hose_id, verdict in found.exclude(verdict="keep").values_list("assembly_id", "verdict"):
        held = gravest.get(hose_id)
        if held is None or _VERDICTS.index(verdict) < _VERDICTS.index(held):
            gravest[hose_id] = verdict
    return gravest


def _seen(hose_ids: Sequence[int]) -> set[int]:
    """The hoses that a look has seen since the register knew of them."""
    looks = Inspection.objects.filter(
        assembly__in=hose_ids,
        not_seen=False,
        taken_back_at=None,
        inspected_on__gte=F("assembly__known_from_on"),
    )
    return set(looks.values_list("assembly_id", flat=True))
