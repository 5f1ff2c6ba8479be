"""Making a life study, and putting the age that it found before the planner as a rule's draft."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from decimal import ROUND_FLOOR, Decimal
from typing import Any, Final

from django.db import transaction

from fleet import audit
from fleet.actions.refusals import Refused
from fleet.models import Machine, MachineClass, Person, Site
from fleet.permissions import NotAllowed, may
from scheduling.actions.rules import propose_rule
from scheduling.calc.life.installations import (
    CAUSE_GROUPS,
    Clock,
    LifeTable,
    failures_by_group,
    lives_of,
)
from scheduling.calc.life.kept import kept
from scheduling.calc.life.records import StudyRefused
from scheduling.calc.life.replacement import Costs
from scheduling.calc.life.study import study
from scheduling.models import LifeRuleRevision, LifeStudy
from scheduling.queries.histories import scope_trend
from scheduling.queries.lifetimes import LifeScope, lifetimes
from scheduling.queries.todays_limit import todays_limit

RIGHT: Final = "read_costs"
ROUND_H, DAYS_A_MONTH = 50, Decimal("30.4375")


@dataclass(frozen=True)
class Asked:
    """What a study is of: a scope, a clock, a group of causes (empty: all), money.

    `planned` and `failure` are what a planned change and a failure cost, in the register's
    currency; `today_age` is the age at which such hoses are changed today (None: by the strictest
    approved rule).
    """

    title: str
    scope: LifeScope
    clock: Clock
    causes: str = ""
    planned: Decimal | None = None
    failure: Decimal | None = None
    today_age: Decimal | None = None


def make_study(*, asked: Asked, person: Person, today: dt.date, at: dt.datetime) -> LifeStudy:
    """Study the lives of a scope and keep what came out, for good. Atomic.

    Refuses: title_missing, cost_missing (one of the two is given alone), cost_below_zero,
    nothing_to_study. Needs `read_costs` at the scope's site, or at every site for all of them.
    """
    site = Site.objects.filter(pk=asked.scope.site_id).first() if asked.scope.site_id else None
    if not may(person, RIGHT, site):
        raise NotAllowed("This needs the right “read costs” there.")
    if not asked.title.strip():
        raise Refused("title_missing", "Give the study a name.", field="title")
    table = lifetimes(person, asked.scope, asked.clock, today=today)
    causes = CAUSE_GROUPS[asked.causes] if asked.causes else None
    try:
        group = lives_of(table, causes=causes)
    except StudyRefused as refused:
        raise Refused(refused.code, refused.sentence) from refused
    costs = _costs(asked)
    result = kept(study(group, costs), group, costs, _today(asked)) | {
        "trend": scope_trend(person, asked.scope, causes)
    }
    with transaction.atomic():
        made = LifeStudy.objects.create(
            site=site,
            title=asked.title.strip()[:200],
            clock=asked.clock.value,
            group={**asdict(asked.scope), "causes": asked.causes},
            counts=_counts(table),
            result=result,
            made_on=today,
            made_at=at,
            made_by=person,
        )
        after = {"failures": result["failures"], "lives": result["total"]}
        deed = audit.Deed("made a life study", made, site, {}, after)
        audit.record(deed, actor=person, at=at)
    return made


def _counts(table: LifeTable) -> dict[str, Any]:
    """What went in, what was left out and why, and by what the lives failed."""
    return {
        "lives": len(table.rows),
        "all": table.total,
        "left_out": table.left_out,
        "causes": failures_by_group(table),
    }


def _today(asked: Asked) -> tuple[float, str] | None:
    """The age at which such hoses are changed today, and who says so."""
    if asked.today_age:
        return float(asked.today_age), "as was said for this study"
    limit = todays_limit(asked.scope, asked.clock)
    return (float(limit.age), limit.words) if limit else None


def _costs(asked: Asked) -> Costs | None:
    if asked.planned is None and asked.failure is None:
        return None
    if asked.planned is None or asked.failure is None:
        raise Refused(
            "cost_missing",
            "Say both costs: of a planned change and of a failure, time down with it.",
            field="failure" if asked.failure is None else "planned",
        )
    if asked.planned <= 0 or asked.failure <= 0:
        raise Refused(
            "cost_below_zero", "Each costs something: more than nothing.", field="planned"
        )
    return Costs(float(asked.planned), float(asked.failure))


@transaction.atomic
def rule_from_study(*, made: LifeStudy, person: Person, at: dt.datetime) -> LifeRuleRevision:
    """Draft a life rule from the age that a study proposes; the planner approves it or not.

    Atomic. All matching rules apply and the strictest wins, so the draft can only tighten what a
    document sets. Refuses: nothing_proposed, proposed_already, and what `propose_rule` refuses.
    Needs `read_costs` and `edit_rules` at the study's site, or at every site.
    """
    locked = LifeStudy.objects.select_for_update().get(pk=made.pk)
    if not may(person, RIGHT, locked.site):
        raise NotAllowed("This needs the right “read costs” there.")
    age = locked.result["proposed"]
    if age is None:
        raise Refused("nothing_proposed", "The data carry no age: there is nothing to propose.")
    if locked.proposal_id is not None:
        raise Refused("proposed_already", "A rule was drafted from this study already.")
    draft = propose_rule(
        name=f"{locked.title} ({locked.made_on})"[:120],
        facts=_facts(locked, Decimal(repr(age))),
        person=person,
        at=at,
    )
    locked.proposal = draft
    locked.save(update_fields=["proposal"])
    return draft


def _facts(made: LifeStudy, age: Decimal) -> Mapping[str, Any]:
    group: Mapping[str, Any] = made.group
    texts = ("circuit", "hose_type", "consequence", "exposure")
    scope: dict[str, Any] = {name: group.get(name) or "" for name in texts}
    scope["site"] = made.site
    scope["machine_class"] = _named(MachineClass, group.get("machine_class_id"))
    scope["machine"] = _named(Machine, group.get("machine_id"))
    result = made.result
    source = (
        f"Life study no. {made.pk} of {made.made_on}: {result['failures']} failures in "
        f"{result['total']} lives"
    )
    return {**scope, **_limit(made, age), "source": source}


def _named(model: Any, row_id: int | None) -> Any:
    return None if row_id is None else model.objects.get(pk=row_id)


def _limit(made: LifeStudy, age: Decimal) -> Mapping[str, Any]:
    """The age as a limit, rounded down: hours to fifties, days to whole months."""
    if made.clock == LifeStudy.Clock.HOURS:
        hours = (age / ROUND_H).to_integral_value(ROUND_FLOOR) * ROUND_H
        return {"hours_total": max(hours, Decimal(ROUND_H))}
    months = int((age / DAYS_A_MONTH).to_integral_value(ROUND_FLOOR))
    return {"fitted_months": max(months, 1)}
