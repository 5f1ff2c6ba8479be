import datetime as dt
from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from fleet.actions.errands import run_errand
from fleet.models import Errand, Person, Site
from fleet.models.fields import EPOCH
from scheduling.actions import tryouts as asking
from scheduling.actions.due_dates import refresh_all
from scheduling.actions.rules import RULE, approve_rule, propose_rule, revise_rule, withdraw_rule
from scheduling.calc.tryout import Effect
from scheduling.models import Due, LifeRuleRevision
from scheduling.queries import tryouts
from scheduling.queries.tryouts import as_plain, from_plain, sites_touched, try_draft
from tests import factories as make

pytestmark = pytest.mark.django_db
NOW, TODAY = make.NOW, make.TODAY


@pytest.fixture
def site() -> Site:
    """Sixty hoses of all ages, some of no known age, on two machines, one of them costed."""
    site = make.site()
    kind = make.machine_class(down_cost_per_hour_minor=9_000)
    machines = [make.machine(at=site, machine_class=kind), make.machine(at=site)]
    for n in range(60):
        built = TODAY - dt.timedelta(days=n * 61) if n % 7 else None
        place = make.position(
            on=machines[n % 2],
            circuit="steering" if n % 3 else "travel",
            labour_h=Decimal("1.5") if n % 2 == 0 else None,
        )
        make.fitted(
            on=place,
            hose_type="2SN",
            built_earliest_on=built,
            built_latest_on=built,
            owner_mark=str(n),
        )
    make.life_rule(site=site, built_months=72)
    refresh_all()
    return site


@pytest.fixture
def boss(site: Site) -> Person:
    return make.person("planner", at=site)


def drafted(boss: Person, site: Site, **facts: Any) -> LifeRuleRevision:
    given = {"site": site, "source": "the site's own", "built_months": 30, **facts}
    return propose_rule(name="Thirty months", facts=given, person=boss, at=NOW)


def approve(draft: LifeRuleRevision, boss: Person) -> None:
    approve_rule(revision=draft, seen=RULE.fingerprint(draft), person=boss, at=NOW)
    refresh_all()


def standing() -> dict[int, dt.date | None]:
    return dict(Due.objects.values_list("assembly_id", "due_on"))


def counted(before: dict[int, dt.date | None], after: dict[int, dt.date | None]) -> dict[str, int]:
    """The try-out's counts by another road: from the stored rows, one at a time."""
    end, late = TODAY + dt.timedelta(days=365), dt.date.max
    found = dict.fromkeys(("newly_overdue", "newly_within_year", "earlier", "later"), 0)
    for hose, then in after.items():
        was, then = before[hose] or late, then or late  # noqa: PLW2901  # no date is the latest
        found["newly_overdue"] += then < TODAY <= was
        found["newly_within_year"] += TODAY <= then < end <= was
        found["earlier"] += then < was
        found["later"] += then > was
    return found


def totals(effect: Effect) -> dict[str, int]:
    names = ("newly_overdue", "newly_within_year", "earlier", "later")
    return {name: getattr(effect, name) for name in names}


@pytest.mark.parametrize(
    "facts",
    [
        {},
        {"circuit": "steering"},
        {"hose_type": "2SN", "built_months": 45},
        {"built_months": None, "inspect_months": 6},
        {"built_months": None, "hours_fitting": Decimal(2000)},
        {"consequence": "hurts"},
    ],
)
def test_counts_what_a_real_approval_then_changes(
    boss: Person, site: Site, facts: dict[str, Any]
) -> None:
    before, draft = standing(), drafted(boss, site, **facts)
    found = try_draft(draft, [site.pk], today=TODAY, chunk=7)
    assert standing() == before  # nothing was written by trying
    approve(draft, boss)
    after = standing()
    assert totals(found.total) == counted(before, after)
    assert found.total.tried.overdue == Due.objects.filter(due_on__lt=TODAY).count()
    first = [(one.hose_id, EPOCH + dt.timedelta(days=one.then_on)) for one in found.first]
    assert first == sorted(first, key=lambda pair: (pair[1], pair[0]))
    assert all(after[hose] == on for hose, on in first)


def test_a_revision_is_tried_in_the_place_of_the_one_it_replaces(boss: Person, site: Site) -> None:
    first = drafted(boss, site)
    approve(first, boss)
    before = standing()
    facts = {"site": site, "source": "longer", "built_months": 60}
    second = revise_rule(header=first.header, facts=facts, person=boss, at=NOW)
    found = try_draft(second, [site.pk], today=TODAY)
    approve(second, boss)
    assert totals(found.total) == counted(before, standing())
    assert found.total.later > 0


def test_gives_the_same_in_one_run_and_in_many(boss: Person, site: Site) -> None:
    draft = drafted(boss, site)
    once = try_draft(draft, [site.pk], today=TODAY)
    again = try_draft(draft, [site.pk], today=TODAY, chunk=1)
    assert (once.total.hoses, once.first) == (60, again.first)
    assert replace(once.total, now=again.total.now, tried=again.total.tried) == again.total
    assert once.total.tried.a_year == pytest.approx(again.total.tried.a_year)


def test_says_hoses_a_year_for_good_and_their_machine_time(boss: Person, site: Site) -> None:
    """72 months: one in six years each; 30 months: one in two and a half. 30 hoses are costed."""
    total = try_draft(drafted(boss, site), [site.pk], today=TODAY).total
    assert total.now.a_year == pytest.approx(60 / 6)
    assert total.tried.a_year == pytest.approx(60 / 2.5)
    assert total.costed == 30
    assert total.tried.money_a_year == pytest.approx(30 / 2.5 * 1.5 * 9_000)


def test_keeps_apart_the_sites_and_shows_only_those_the_person_sees(
    boss: Person, site: Site
) -> None:
    other = make.site()
    make.fitted(on=make.position(on=make.machine(at=other)))
    draft = make.life_rule(state="draft", built_months=12, approved_at=None, approved_by=None)
    assert sites_touched(boss, draft) == [site.pk]
    everywhere = make.person("planner")
    assert sites_touched(everywhere, draft) == [site.pk, other.pk]
    found = try_draft(draft, [site.pk, other.pk], today=TODAY)
    assert [(pk, effect.hoses) for pk, effect in found.sites] == [(site.pk, 60), (other.pk, 1)]


def test_an_errand_keeps_it_whole(boss: Person, site: Site) -> None:
    found = try_draft(drafted(boss, site), [site.pk], today=TODAY)
    assert from_plain(as_plain(found)) == found


def test_a_long_one_is_an_errand_with_progress(
    client: Client, boss: Person, site: Site, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(tryouts, "SMALL", 10)
    draft = drafted(boss, site)
    client.force_login(boss)
    url = reverse("scheduling:rule_try", args=[draft.header_id])
    assert "Work it out" in client.get(url).content.decode()
    assert not Errand.objects.filter(kind=asking.TRY).exists()
    assert "data-at-work" in client.post(url, follow=True).content.decode()
    errand = Errand.objects.get(kind=asking.TRY)
    assert run_errand(errand_id=errand.pk, clock=timezone.now)
    errand.refresh_from_db()
    assert (errand.state, errand.progress_total) == ("done", 1)
    page = client.get(url).content.decode()
    assert "Newly overdue" in page
    assert "data-at-work" not in page


def test_a_changed_draft_is_tried_anew(boss: Person, site: Site) -> None:
    draft = drafted(boss, site)
    before = asking.key_of(draft, boss, TODAY)
    draft.built_months = 12
    assert asking.key_of(draft, boss, TODAY) != before


def test_the_page_shows_machine_time_to_who_reads_costs(
    client: Client, boss: Person, site: Site
) -> None:
    draft = drafted(boss, site)
    url = reverse("scheduling:rule_try", args=[draft.header_id])
    client.force_login(boss)
    assert "Machine time a year" in client.get(url).content.decode()


def test_the_rule_page_shows_every_version_and_who_approved_it(
    client: Client, boss: Person, site: Site
) -> None:
    first = drafted(boss, site)
    approve(first, boss)
    facts = {"site": site, "source": "longer", "built_months": 60}
    revise_rule(header=first.header, facts=facts, person=boss, at=NOW)
    withdraw_rule(header=first.header, reason="a better one stands", person=boss, at=NOW)
    client.force_login(boss)
    page = client.get(reverse("scheduling:rule", args=[first.header_id])).content.decode()
    for words in ("Revision 1", "Revision 2", "5 years", "30 months", "a better one stands"):
        assert words in page
    assert "Thirty months" in client.get(reverse("scheduling:rules")).content.decode()


def test_a_stranger_finds_no_rule_of_another_site(client: Client, boss: Person, site: Site) -> None:
    draft = drafted(boss, site)
    pages = [reverse(f"scheduling:{n}", args=[draft.header_id]) for n in ("rule", "rule_try")]
    client.force_login(make.person("planner", at=make.site()))
    assert [client.get(url).status_code for url in pages] == [404, 404]
    client.force_login(make.person("storeman", at=site))
    assert [client.get(url).status_code for url in pages] == [200, 403]
    client.logout()
    assert [client.get(url).status_code for url in pages] == [302, 302]
