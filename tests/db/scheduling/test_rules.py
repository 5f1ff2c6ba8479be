import datetime as dt
from typing import Any

import pytest

from fleet.actions.refusals import Refused
from fleet.models import Errand, Person, Site, TrailEntry
from fleet.permissions import NotAllowed
from scheduling.actions.rules import (
    RULE,
    apply_preset,
    approve_rule,
    change_rule_draft,
    propose_rule,
    revise_rule,
    withdraw_rule,
)
from scheduling.actions.stale import work_off_marks
from scheduling.models import Due, LifeRuleRevision
from tests import factories as make

pytestmark = pytest.mark.django_db
NOW = make.NOW
BUILT = {"built_earliest_on": dt.date(2024, 1, 1), "built_latest_on": dt.date(2024, 1, 1)}


@pytest.fixture
def site() -> Site:
    return make.site()


@pytest.fixture
def boss(site: Site) -> Person:
    return make.person("planner", at=site)


def _proposed(boss: Person, site: Site | None, **facts: Any) -> LifeRuleRevision:
    facts = {"site": site, "source": "the site's own", "built_months": 24, **facts}
    return propose_rule(name="Two years", facts=facts, person=boss, at=NOW)


def _approved(draft: LifeRuleRevision, boss: Person) -> LifeRuleRevision:
    return approve_rule(revision=draft, seen=RULE.fingerprint(draft), person=boss, at=NOW)


def test_a_draft_counts_for_nothing_until_it_is_approved(boss: Person, site: Site) -> None:
    place = make.position(on=make.machine(at=site))
    hose = make.fitted(on=place, **BUILT)
    draft = _proposed(boss, site)
    work_off_marks()
    assert not Due.objects.filter(assembly=hose, replace_on__isnull=False).exists()
    _approved(draft, boss)
    assert Errand.objects.filter(kind="stale dues").count() == 1
    work_off_marks()
    assert Due.objects.get(assembly=hose).replace_on == dt.date(2026, 1, 1)


def test_approving_a_revision_replaces_the_one_before(boss: Person, site: Site) -> None:
    first = _approved(_proposed(boss, site), boss)
    facts = {"site": site, "source": "again", "built_months": 36}
    second = revise_rule(header=first.header, facts=facts, person=boss, at=NOW)
    _approved(second, boss)
    first.refresh_from_db()
    assert (first.state, second.number) == ("replaced", 2)
    assert LifeRuleRevision.objects.get(state="approved").built_months == 36


def test_a_changed_draft_is_not_approved_unseen(boss: Person, site: Site) -> None:
    draft = _proposed(boss, site)
    seen = RULE.fingerprint(draft)
    facts = {"built_months": 12}
    change_rule_draft(revision=draft, facts=facts, seen=seen, person=boss, at=NOW)
    with pytest.raises(Refused, match="meanwhile"):
        approve_rule(revision=draft, seen=seen, person=boss, at=NOW)


def test_a_withdrawn_rule_counts_no_more(boss: Person, site: Site) -> None:
    hose = make.fitted(on=make.position(on=make.machine(at=site)), **BUILT)
    rule = _approved(_proposed(boss, site), boss)
    withdraw_rule(header=rule.header, reason="a better one stands", person=boss, at=NOW)
    work_off_marks()
    assert Due.objects.get(assembly=hose).replace_on is None
    with pytest.raises(Refused, match="withdrawn already"):
        withdraw_rule(header=rule.header, reason="again", person=boss, at=NOW)


def test_a_preset_becomes_the_sites_own_rule(boss: Person, site: Site) -> None:
    rule = apply_preset(preset="din-20066-increased", site=site, person=boss, at=NOW)
    assert (rule.state, rule.site, rule.fitted_months, rule.built_months) == (
        "approved",
        site,
        24,
        72,
    )
    assert rule.source.startswith("DIN 20066")
    assert TrailEntry.objects.filter(deed="approved life rule").exists()
    with pytest.raises(Refused, match="already"):
        apply_preset(preset="din-20066-increased", site=site, person=boss, at=NOW)
    with pytest.raises(Refused, match="choose one of din-20066-normal"):
        apply_preset(preset="din-1", site=site, person=boss, at=NOW)


@pytest.mark.parametrize(
    ("facts", "code"),
    [
        ({"source": " "}, "source_missing"),
        ({"built_months": None}, "limit_missing"),
        ({"built_months": -1}, "field_wrong"),
        ({"built_months": 1201}, "limit_too_long"),
        ({"circuit": "lymphatic"}, "field_wrong"),
    ],
)
def test_refuses_a_rule_that_says_nothing(
    boss: Person, site: Site, facts: dict[str, Any], code: str
) -> None:
    with pytest.raises(Refused) as refused:
        _proposed(boss, site, **facts)
    assert refused.value.code == code


def test_refuses_a_rule_without_a_name(boss: Person, site: Site) -> None:
    with pytest.raises(Refused, match="needs a name"):
        propose_rule(name=" ", facts={"site": site}, person=boss, at=NOW)


def test_a_rule_for_all_sites_needs_the_right_at_all(boss: Person, site: Site) -> None:
    everywhere = make.person("planner")
    _proposed(everywhere, None)
    with pytest.raises(NotAllowed):
        _proposed(boss, None)
    with pytest.raises(NotAllowed):
        _proposed(boss, make.site())
    with pytest.raises(NotAllowed):
        _proposed(boss, None, machine=make.machine())


def test_one_site_does_not_loosen_anothers_rule(boss: Person, site: Site) -> None:
    theirs = _proposed(make.person("planner"), make.site())
    facts = {"site": site, "source": "mine", "built_months": 500}
    with pytest.raises(NotAllowed):
        revise_rule(header=theirs.header, facts=facts, person=boss, at=NOW)


def test_a_fitter_proposes_nothing(site: Site) -> None:
    with pytest.raises(NotAllowed):
        _proposed(make.person("fitter", at=site), site)
