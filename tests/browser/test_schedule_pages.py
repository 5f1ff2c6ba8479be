"""The pages of rounds, catch-up plans, exemptions, rules' try-outs and attachments' moves."""

import datetime as dt
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from django.urls import reverse
from django.utils import timezone

from scheduling.actions.catch_up import make_plan
from scheduling.actions.due_dates import refresh_all
from scheduling.actions.exemptions import grant_exemption
from scheduling.actions.inspections import Found, Look
from scheduling.actions.rounds import begin_round, finish_round, look_in_round
from scheduling.actions.rules import propose_rule, revise_rule
from scheduling.models import LifeRuleRevision
from tests import factories as make
from tests.browser.conftest import DESK, NARROWEST, PHONE, Visit
from tests.browser.test_every_page import SPILLED, TOO_SMALL, grave
from tests.db.scheduling.yard import Yard, more_hoses, yard

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def where() -> Yard:
    found = yard(name="Blackmere Quarry with a Name That Goes On for Quite a While")
    more_hoses(found, 5)
    make.position(on=found.machine, place="Auxiliary line")
    rule = make.life_rule(site=found.site, built_months=72)
    old = dt.date(2014, 2, 1)
    type(found.hose).objects.filter(pk=found.hose.pk).update(
        built_earliest_on=old, built_latest_on=old
    )
    refresh_all()
    facts = {"site": found.site, "source": "the site’s own choice", "built_months": 36}
    revise_rule(header=rule.header, facts=facts, person=found.planner, at=make.NOW)
    propose_rule(name="Another", facts=facts, person=found.planner, at=make.NOW)
    return found


def paths(where: Yard) -> list[str]:
    now = timezone.now()
    today = now.date()
    who: dict[str, Any] = {"person": where.planner, "at": now}
    walk = begin_round(machine=where.machine, today=today, **who)
    look_in_round(
        round_=walk,
        assembly=where.hose,
        look=Look(today, client_id="a" * 20),
        found=[Found("weep at the connection", "recheck", today), Found("twisted", "out_now")],
        today=today,
        **who,
    )
    other = make.machine(at=where.site, fleet_number="WA-221")
    make.fitted(on=make.position(on=other), layline="HARROW/2SN/07/10", built_typed="1206")
    register = begin_round(machine=other, purpose="register", today=today, **who)
    done = begin_round(machine=other, occasion="overheating", today=today, **who)
    finish_round(round_=done, **who)
    breaker = make.machine(at=where.site, kind="attachment", fleet_number="BR-3")
    refresh_all()
    plan = make_plan(site=where.site, from_on=today, weeks=5, a_week=2, today=today, **who)
    exemption = grant_exemption(
        covers={"assembly": where.hose},
        triggers=["built"],
        reason="the new one is on its way",
        until_on=today + dt.timedelta(days=20),
        today=today,
        **who,
    )
    header = LifeRuleRevision.objects.filter(state="draft").earliest("pk").header_id
    return [
        *(reverse(f"scheduling:{n}") for n in ("rounds", "catch_ups", "catch_up_add")),
        *(reverse(f"scheduling:{n}") for n in ("exemptions", "exemption_add", "rules", "today")),
        reverse("scheduling:round_begin", args=[other.pk]),
        reverse("scheduling:round", args=[walk.pk]),
        reverse("scheduling:round", args=[register.pk]),
        reverse("scheduling:round", args=[done.pk]),
        reverse("scheduling:round_hose", args=[walk.pk, where.hose.pk]),
        reverse("scheduling:round_finish", args=[walk.pk]),
        reverse("scheduling:register_begin", args=[other.pk]),
        reverse("scheduling:register_place", args=[register.pk]),
        reverse("scheduling:catch_up", args=[plan.pk]),
        reverse("scheduling:exemption", args=[exemption.pk]),
        reverse("scheduling:exemption_hose", args=[where.hose.pk]),
        reverse("scheduling:exemption_position", args=[where.position.pk]),
        reverse("scheduling:hose", args=[where.hose.pk]),
        reverse("scheduling:why", args=[where.hose.pk]),
        reverse("scheduling:machine", args=[breaker.pk]),
        reverse("scheduling:rule", args=[header]),
        reverse("scheduling:rule_try", args=[header]),
        reverse("scheduling:rule_approve", args=[header]),
        reverse("fleet:mount", args=[breaker.pk]),
    ]


@pytest.mark.parametrize(
    ("size", "scheme"), [(NARROWEST, "light"), (PHONE, "light"), (DESK, "dark"), (DESK, "light")]
)
def test_every_page_is_readable_and_silent(
    visit: Callable[..., Visit], where: Yard, size: dict[str, int], scheme: str
) -> None:
    seen = visit(where.planner, size, scheme=scheme)
    wrong: dict[str, object] = {}
    folder = os.environ.get("SCREENSHOTS")
    for number, path in enumerate(paths(where)):
        page = seen.open(path)
        faults = {
            "axe": grave(page),
            "spilled": page.evaluate(SPILLED),
            "small": page.evaluate(TOO_SMALL) if size["width"] < 500 else [],
            "console": [*seen.console],
        }
        if folder:
            name = f"{number:02}-{size['width']}-{scheme}.png"
            page.screenshot(path=str(Path(folder) / name), full_page=True)
        seen.console.clear()
        if any(faults.values()):
            wrong[path] = {name: fault for name, fault in faults.items() if fault}
    assert not wrong
