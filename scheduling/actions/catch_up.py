"""Plans to catch up with what a fleet is behind with. They put no date off."""

import datetime as dt

from django.db import IntegrityError, transaction

from fleet import audit
from fleet.actions.refusals import Refused
from fleet.models import Person, Site
from fleet.permissions import require
from scheduling.calc.catch_up import CatchUpHose, DoesNotFit, Placed, catch_up, in_order
from scheduling.models import CatchUpLine, CatchUpPlan
from scheduling.queries.catch_up import WEEK, hoses_to_catch_up

MOST_WEEKS = 260
MOST_A_WEEK = 500
RIGHT = "edit_rules"
_CONSEQUENCES = {
    "hurts": "a failure hurts someone",
    "stops": "a failure stops the machine",
    "pollutes": "a failure pollutes",
    "nuisance": "a failure is a nuisance",
}
_CONDITIONS = {
    "out_now": "take out now, do not wait for the week",
    "replace": "a finding says replace",
    "unseen": "not seen yet",
    "recheck": "a finding says look again",
    "seen": "nothing grave found",
}


@transaction.atomic
def make_plan(
    *,
    site: Site,
    from_on: dt.date,
    weeks: int,
    a_week: int | None,
    person: Person,
    today: dt.date,
    at: dt.datetime,
) -> CatchUpPlan:
    """Plan what a site must catch up with, so many hoses a week. Atomic; of two at once one wins.

    Without a number a week the hoses are spread evenly over the weeks. Refuses: weeks_wrong,
    a_week_wrong, from_past, nothing_to_catch_up, does_not_fit, plan_open. Needs `edit_rules` at
    the site. No due date is changed by it.
    """
    require(person, RIGHT, site)
    _refuse(from_on, weeks, a_week, today)
    hoses = hoses_to_catch_up(site, today)
    if not hoses:
        raise Refused("nothing_to_catch_up", f"Nothing at {site} is overdue or of unknown age.")
    bears = a_week or -(-len(hoses) // weeks)
    try:
        placed = catch_up(hoses, weeks=weeks, a_week=bears)
    except DoesNotFit as error:
        raise Refused("does_not_fit", str(error), field="weeks") from error
    plan = CatchUpPlan(
        **{"site": site, "from_on": from_on, "weeks": weeks, "a_week": bears},
        **{"made_at": at, "made_by": person},
    )
    try:
        with transaction.atomic():
            plan.save(force_insert=True)
    except IntegrityError as error:
        raise Refused("plan_open", f"{site} has a plan: end it before another is made.") from error
    CatchUpLine.objects.bulk_create(_lines(plan, hoses, placed), batch_size=2000)
    after = {"from": from_on, "weeks": weeks, "a_week": bears, "hoses": len(hoses)}
    audit.record(audit.Deed("planned a catch-up", plan, site, {}, after), actor=person, at=at)
    return plan


@transaction.atomic
def end_plan(*, plan: CatchUpPlan, person: Person, at: dt.datetime) -> CatchUpPlan:
    """End a plan; it stays to be seen. Atomic, safe to repeat. Needs `edit_rules` at the site."""
    require(person, RIGHT, plan.site_id)
    found = CatchUpPlan.objects.select_for_update(of=("self",)).select_related("site")
    locked = found.get(pk=plan.pk)
    if locked.ended_at is not None:
        return locked
    locked.ended_at, locked.ended_by = at, person
    locked.save(update_fields=["ended_at", "ended_by"])
    audit.record(audit.Deed("ended a catch-up", locked, locked.site), actor=person, at=at)
    return locked


def _refuse(from_on: dt.date, weeks: int, a_week: int | None, today: dt.date) -> None:
    if not 1 <= weeks <= MOST_WEEKS:
        raise Refused("weeks_wrong", f"A plan has 1 to {MOST_WEEKS} weeks.", field="weeks")
    if a_week is not None and not 1 <= a_week <= MOST_A_WEEK:
        raise Refused("a_week_wrong", f"A week bears 1 to {MOST_A_WEEK} hoses.", field="a_week")
    if from_on < today:
        raise Refused("from_past", f"{from_on} is past: begin today or later.", field="from_on")


def _lines(
    plan: CatchUpPlan, hoses: tuple[CatchUpHose, ...], placed: tuple[Placed, ...]
) -> list[CatchUpLine]:
    by_rank = in_order(hoses)
    return [
        CatchUpLine(
            plan=plan,
            assembly_id=place.hose_id,
            week_on=plan.from_on + place.week * WEEK,
            rank=place.rank,
            why=_why(by_rank[place.rank], pulled=place.pulled),
        )
        for place in placed
    ]


def _why(hose: CatchUpHose, *, pulled: bool) -> str:
    """Why a hose comes where it does, in words."""
    days = hose.overdue_days
    age = "its age is not known" if days is None else f"{days} days overdue"
    words = [
        _CONSEQUENCES.get(hose.consequence, "what a failure does is not judged"),
        _CONDITIONS[hose.condition],
        age if days is None or days > 0 else "not overdue",
        *(["taken with a neighbour"] if pulled else []),
    ]
    return "; ".join(words)[:200]
