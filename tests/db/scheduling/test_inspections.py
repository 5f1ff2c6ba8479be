import datetime as dt
from typing import Any

import pytest

from assemblies.models import Assembly
from fleet.actions.people import post_person
from fleet.actions.refusals import Refused
from fleet.models import Person
from fleet.permissions import NotAllowed
from scheduling.actions.inspections import Found, Look, deal_with_finding, record_inspection
from scheduling.calc.inputs import Flag
from scheduling.models import Due, Finding, Inspection
from tests import factories as make

pytestmark = pytest.mark.django_db
NOW, TODAY = make.NOW, make.TODAY


@pytest.fixture
def hose() -> Assembly:
    return make.fitted()


def _look(hose: Assembly, *found: Found, **facts: Any) -> Inspection:
    look = Look(**{"on": TODAY, **{k: facts.pop(k) for k in list(facts) if k != "person"}})
    person = facts.get("person") or make.person("inspector", at=hose.site)
    return record_inspection(
        assembly=hose, look=look, found=found, person=person, today=TODAY, at=NOW
    )


def test_a_look_gives_a_hose_of_unknown_age_a_new_day(hose: Assembly) -> None:
    made = _look(hose)
    assert Due.objects.get(assembly=hose).inspect_on == dt.date(2027, 3, 9)
    assert made.position is not None


def test_a_hose_that_could_not_be_seen_stays_due(hose: Assembly) -> None:
    _look(hose, not_seen=True)
    assert Due.objects.get(assembly=hose).inspect_on == TODAY


def test_a_take_out_now_finding_is_due_at_once(hose: Assembly) -> None:
    _look(hose, Found("cover worn to the wire", "out_now"))
    due = Due.objects.get(assembly=hose)
    assert due.replace_on == TODAY
    assert Flag.TAKE_OUT_NOW in Flag(due.flags)


def test_dealing_with_a_finding_takes_its_day_away(hose: Assembly) -> None:
    _look(hose, Found("weep", "replace", dt.date(2026, 4, 1)))
    finding, person = Finding.objects.get(), make.person("inspector", at=hose.site)
    deal_with_finding(finding=finding, how="seal changed", person=person, at=NOW)
    assert Due.objects.get(assembly=hose).replace_on is None
    with pytest.raises(Refused, match="before"):
        deal_with_finding(finding=finding, how="again", person=person, at=NOW)


def test_a_look_settles_what_asked_for_it(hose: Assembly) -> None:
    _look(hose, Found("light cover wear", "recheck", dt.date(2026, 4, 1)))
    assert Due.objects.get(assembly=hose).inspect_on == dt.date(2026, 4, 1)
    _look(hose, not_seen=True)
    assert Finding.objects.get().dealt_with_at is None
    _look(hose)
    assert Finding.objects.get().dealt_with_how == "looked at again on 2026-03-09"


def test_names_a_competent_person(hose: Assembly) -> None:
    plain = make.person("inspector", at=hose.site)
    assert not _look(hose, person=plain).competent_person
    marked = Person.objects.create(username="marked")
    post_person(person=marked, role="inspector", site=hose.site, by=None, at=NOW)
    marked.postings.update(competent_person=True)
    made = _look(hose, person=Person.objects.get(pk=marked.pk))
    assert (made.competent_person, made.inspector_name) == (True, "marked")


@pytest.mark.parametrize(
    ("found", "facts", "code"),
    [
        ([], {"on": dt.date(2026, 3, 10)}, "in_the_future"),
        ([Found("weep", "keep")], {"not_seen": True}, "not_seen_with_findings"),
        ([Found("weep", "shrug")], {}, "verdict_unknown"),  # type: ignore[arg-type]  # so it is
        ([Found("twisted", "keep")], {}, "milder_without_reason"),
        ([Found("weep", "recheck")], {}, "day_missing"),
        ([Found("weep", "replace", dt.date(2026, 3, 1))], {}, "day_before_look"),
        ([Found(" ", "keep")], {}, "what_missing"),
        ([Found("weep", "keep")] * 41, {}, "too_many"),
    ],
)
def test_refuses_a_look_that_cannot_be(
    hose: Assembly, found: list[Found], facts: dict[str, Any], code: str
) -> None:
    with pytest.raises(Refused) as refused:
        _look(hose, *found, **facts)
    assert refused.value.code == code
    assert not Inspection.objects.exists()


def test_refuses_a_scrapped_hose() -> None:
    with pytest.raises(Refused, match="scrapped"):
        _look(make.stored(withdrawn_at=NOW))


def test_needs_the_right_at_the_hoses_site(hose: Assembly) -> None:
    for stranger in (make.person("inspector", at=make.site()), make.person("storeman")):
        with pytest.raises(NotAllowed):
            _look(hose, person=stranger)
    _look(hose, Found("weep", "recheck", TODAY))
    with pytest.raises(NotAllowed):
        deal_with_finding(
            finding=Finding.objects.get(), how="x", person=make.person("storeman"), at=NOW
        )
