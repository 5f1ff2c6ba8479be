"""A study is made once, kept as it was, and may put a tighter rule before the planner."""

import datetime as dt
from decimal import Decimal
from typing import Any

import numpy as np
import pytest
from django.test import Client
from django.urls import reverse

from assemblies.models import Assembly, Stay
from fleet.actions.refusals import Refused
from fleet.models import Person, Site
from fleet.permissions import NotAllowed
from scheduling.actions.studies import Asked, make_study, rule_from_study
from scheduling.calc.life.installations import Clock
from scheduling.models import Failure, LifeStudy
from scheduling.queries.lifetimes import LifeScope
from scheduling.queries.studies import saving_words
from scheduling.queries.todays_limit import todays_limit
from tests import factories as make

pytestmark = pytest.mark.django_db
NOW, TODAY = make.NOW, make.TODAY
COSTS: dict[str, Any] = {"planned": Decimal(400), "failure": Decimal(4000)}


def worn_out(number: int, *, shape: float = 4.0) -> Site:
    """A site whose hoses lived by a known Weibull life; all failed, by age."""
    place = make.position()
    rng = np.random.default_rng(7)
    for hours in 3000 * rng.weibull(shape, number):
        fitted = dt.date(2024, 1, 1)
        hose: Assembly = make.fitted(
            on=place,
            known_from_on=fitted,
            stay_from_earliest_on=fitted,
            stay_from_latest_on=fitted,
            stay_from_machine_h=Decimal(0),
        )
        stay: Stay = hose.stays.get()
        stay.is_open, stay.to_on, stay.removal = False, dt.date(2025, 1, 1), "failed"
        stay.to_machine_h = Decimal(round(hours, 1)).quantize(Decimal("0.1"))
        stay.save()
        Failure.objects.create(
            assembly=hose,
            stay=stay,
            site=hose.site,
            failed_at=NOW,
            failed_on=stay.to_on,
            mode="burst",
            cause="age",
        )
    return place.machine.site


def studied(site: Site, person: Person | None = None, **facts: Any) -> LifeStudy:
    asked = Asked(
        **{
            "title": "Lift hoses",
            "scope": LifeScope(site_id=site.pk),
            "clock": Clock.HOURS,
            **COSTS,
            **facts,
        }
    )
    person = person or make.person("manager", at=site)
    return make_study(asked=asked, person=person, today=TODAY, at=NOW)


def test_a_study_of_worn_out_hoses_proposes_an_age_inside_its_limits() -> None:
    result = studied(worn_out(20)).result
    assert (result["failures"], result["total"]) == (20, 20)
    assert result["shape"]["low"] > 1
    assert result["best_limits"]["low"] <= result["proposed"] <= result["best_limits"]["high"]


def test_too_few_failures_propose_nothing_and_say_so() -> None:
    result = studied(worn_out(2)).result
    assert result["proposed"] is None
    assert "too few for an estimate" in result["says"][0]


def test_a_group_of_causes_leaves_the_others_as_lives_that_ended() -> None:
    site = worn_out(12)
    assert studied(site, causes="routing").result["failures"] == 0
    assert studied(site, causes="age and work").result["failures"] == 12


def test_what_today_s_age_costs_is_set_beside_the_best() -> None:
    result = studied(worn_out(20), today_age=Decimal(3000)).result
    assert result["today"]["saving"] > 0


def test_an_empty_age_of_today_is_the_strictest_approved_rule_s() -> None:
    site = worn_out(20)
    make.life_rule(hours_total=Decimal(6000))
    strictest = make.life_rule(hours_fitting=Decimal(4500), site=site, source="Mill manual 7.2")
    make.life_rule(hours_total=Decimal(10), circuit="brakes")  # for a part of the scope alone
    make.life_rule(hours_total=Decimal(20), site=make.site())
    make.life_rule(hours_total=Decimal(30), state="draft", approved_at=None, approved_by=None)
    today = studied(site).result["today"]
    assert today["age"] == 4500
    assert f"4500 h on one fitting, by the rule “{strictest.header}” (Mill manual 7.2)" in str(
        today
    )
    assert today["saving"] > 0


def test_days_are_limited_by_rules_in_months() -> None:
    found = todays_limit(LifeScope(), Clock.DAYS)
    assert found is None
    make.life_rule(built_months=72)
    make.life_rule(fitted_months=48, circuit="brakes")
    brakes = todays_limit(LifeScope(circuit="brakes"), Clock.DAYS)
    every = todays_limit(LifeScope(), Clock.DAYS)
    assert brakes is not None
    assert every is not None
    assert [brakes.age, every.age] == [Decimal(1461), Decimal(2192)]
    assert "6 years from assembly built" in every.words


@pytest.mark.parametrize(
    ("facts", "sentences"),
    [
        ({}, ["No approved rule limits all of these hoses", "Best age of change", "Assumed"]),
        (
            {"today_age": Decimal(3000)},
            ["3,000 h at the latest (as was said", "Following the best age would save", "stay"],
        ),
        (
            {"today_age": Decimal(9000)},
            ["can’t be said: no hose was watched to such an age"],
        ),
        (
            {"failure": Decimal(300), "today_age": Decimal(1000)},
            ["Running to failure would save", "against today’s rule"],
        ),
        ({"planned": None, "failure": None}, ["No approved rule"]),
    ],
)
def test_what_it_would_save_is_said_against_today_s_rule(
    facts: dict[str, Any], sentences: list[str]
) -> None:
    said = " ".join(saving_words(studied(worn_out(20), **facts).result, "h"))
    for sentence in sentences:
        assert sentence in said
    assert ("Best age" in said) is ("failure" not in facts)


def test_other_causes_are_counted_beside_those_studied() -> None:
    site = worn_out(12)
    Failure.objects.filter(pk__in=list(Failure.objects.values_list("pk", flat=True)[:4])).update(
        cause="abrasion"
    )
    made = studied(site, causes="age and work")
    assert made.counts["causes"] == {"age and work": 8, "routing": 4}
    assert made.result["failures"] == 8


def test_whether_failures_come_faster_over_the_machines_hours_is_said() -> None:
    from tests.db.scheduling.test_trends import failures, watched

    place = make.position()
    machine = watched(place)
    failures(place, 1500, 1900, 1960, 1985, 1990)
    days: dict[str, Any] = {"clock": Clock.DAYS}
    assert "it is getting worse" in studied(machine.site, **days).result["trend"]
    assert "no trend can be told" in studied(machine.site, causes="routing", **days).result["trend"]


@pytest.mark.parametrize(
    ("facts", "code", "sentence"),
    [
        ({"title": " "}, "title_missing", "Give the study a name"),
        ({"failure": None}, "cost_missing", "Say both costs"),
        ({"planned": None}, "cost_missing", "Say both costs"),
        ({"planned": Decimal(0)}, "cost_below_zero", "more than nothing"),
        ({"clock": Clock.DAYS, "scope_circuit": "brakes"}, "nothing_to_study", "no life to study"),
    ],
)
def test_refuses_a_study_that_can_t_be(facts: dict[str, Any], code: str, sentence: str) -> None:
    site = worn_out(3)
    circuit = facts.pop("scope_circuit", "")
    scope = LifeScope(site_id=site.pk, circuit=circuit)
    with pytest.raises(Refused, match=sentence) as refused:
        studied(site, **{"scope": scope, **facts})
    assert refused.value.code == code
    assert not LifeStudy.objects.exists()


def test_only_who_reads_costs_there_may_study() -> None:
    site = worn_out(3)
    for person in (make.person("fitter", at=site), make.person("manager", at=make.site())):
        with pytest.raises(NotAllowed):
            studied(site, person)


def test_a_rule_is_drafted_from_it_once_and_is_not_in_force() -> None:
    site = worn_out(20)
    planner = make.person("planner", at=site)
    made = studied(site, planner)
    draft = rule_from_study(made=made, person=planner, at=NOW)
    assert (draft.state, draft.site) == ("draft", site)
    assert draft.hours_total is not None
    assert draft.hours_total <= Decimal(repr(made.result["proposed"]))
    assert draft.hours_total % 50 == 0
    assert f"Life study no. {made.pk}" in draft.source
    with pytest.raises(Refused, match="already"):
        rule_from_study(made=made, person=planner, at=NOW)


def test_no_rule_comes_of_a_study_that_proposes_nothing() -> None:
    site = worn_out(2)
    with pytest.raises(Refused, match="nothing to propose"):
        rule_from_study(made=studied(site), person=make.person("planner", at=site), at=NOW)


def test_a_manager_asks_for_a_study_and_reads_it(client: Client) -> None:
    site = worn_out(12)
    client.force_login(make.person("manager", at=site))
    typed = {
        "title": "All",
        "clock": "hours",
        "site": site.pk,
        "planned": "400",
        "failure": "4000,50",
    }
    sent: Any = client.post(reverse("scheduling:study_add"), typed)
    made = LifeStudy.objects.get()
    assert sent.url == reverse("scheduling:study", args=[made.pk])
    shown = client.get(sent.url).content.decode()
    assert "They wear out" in shown
    assert shown.count("<svg") >= 2
    assert "All" in client.get(reverse("scheduling:studies")).content.decode()
    assert "All" in client.get(reverse("scheduling:report")).content.decode()


@pytest.mark.parametrize(
    ("field", "typed", "sentence"),
    [
        ("title", "", "This field is required"),
        ("title", "x" * 101, "at most 100 characters"),
        ("clock", "moons", "Select a valid choice"),
        ("causes", "gremlins", "Select a valid choice"),
        ("site", "999999", "Select a valid choice"),
        ("machine_class", "999999", "Select a valid choice"),
        ("circuit", "main", "Select a valid choice"),
        ("hose_type", "x" * 41, "at most 40 characters"),
        ("consequence", "none", "Select a valid choice"),
        ("exposure", "moon", "Select a valid choice"),
        ("planned", "dear", "not a plain figure"),
        ("failure", "-5", "not a plain figure"),
        ("today_age", "old", "not a plain figure"),
    ],
)
def test_the_form_refuses(field: str, typed: str, sentence: str, client: Client) -> None:
    site = make.site()
    client.force_login(make.person("manager", at=site))
    whole = {"title": "All", "clock": "hours", "site": site.pk, field: typed}
    answer = client.post(reverse("scheduling:study_add"), whole)
    assert sentence in " ".join(answer.context["form"].errors[field])


def test_every_field_of_the_form_has_a_case() -> None:
    from scheduling.forms.studies import StudyForm

    person = make.person("manager", at=make.site())
    fields = set(StudyForm(person=person, sites=Site.objects.all()).fields)
    marker = next(m for m in test_the_form_refuses.pytestmark if m.name == "parametrize")  # type: ignore[attr-defined]  # pytest keeps its marks there
    assert {case[0] for case in marker.args[1]} == fields


NAMES = ("study", "study_rule")


@pytest.mark.parametrize("name", NAMES)
def test_another_site_s_study_is_not_there(name: str, client: Client) -> None:
    made = studied(worn_out(3))
    client.force_login(make.person("manager", at=make.site()))
    address = reverse(f"scheduling:{name}", args=[made.pk])
    assert (client.post if name == "study_rule" else client.get)(address).status_code == 404
    client.force_login(make.person("fitter", at=made.site))
    if name == "study":
        assert client.get(address).status_code == 403
