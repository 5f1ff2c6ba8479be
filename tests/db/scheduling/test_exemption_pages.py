import datetime as dt
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from scheduling.actions.due_dates import refresh_all
from scheduling.actions.exemptions import NAMES, end_exemption, grant_exemption
from scheduling.forms.exemptions import SCOPE, ReasonForm, ScopeForm
from scheduling.models import Due, Exemption
from scheduling.queries.exemptions import exemption_line, exemptions_of, exemptions_seen
from tests import factories as make
from tests.db.scheduling.yard import Yard, yard

pytestmark = pytest.mark.django_db
NOW, TODAY = make.NOW, make.TODAY
UNTIL = dt.date(2099, 6, 30)


@pytest.fixture
def where() -> Yard:
    """Two hoses over their six years, and one that no exemption is granted for."""
    found = yard()
    make.life_rule(site=found.site)
    old = dt.date(2019, 1, 1)
    type(found.hose).objects.update(built_earliest_on=old, built_latest_on=old)
    steering = make.position(on=found.machine, circuit="steering")
    make.fitted(on=steering, built_earliest_on=old, built_latest_on=old, owner_mark="STEER")
    refresh_all()
    return found


def granted(where: Yard, **covers: Any) -> Exemption:
    return grant_exemption(
        covers=covers or {"assembly": where.hose},
        triggers=["built"],
        reason="the new one is on its way",
        until_on=UNTIL,
        today=TODAY,
        person=where.planner,
        at=NOW,
    )


def test_says_how_many_it_covers_and_how_many_days_it_moves(where: Yard) -> None:
    own = exemption_line(granted(where), today=TODAY)
    assert own.put_off is not None
    assert (own.put_off.covered, own.put_off.moved) == (1, 1)
    scoped = granted(where, site=where.site, circuit="steering")
    line = exemption_line(scoped, today=TODAY)
    assert line.put_off is not None
    assert (line.put_off.covered, line.put_off.moved) == (1, 1)
    assert line.covers == f"steering circuits at {where.site}"


def test_moves_nothing_where_another_trigger_is_sooner(where: Yard) -> None:
    found = grant_exemption(
        covers={"assembly": where.hose},
        triggers=["hours_total"],
        reason="the meter was read wrongly",
        until_on=UNTIL,
        today=TODAY,
        person=where.planner,
        at=NOW,
    )
    put_off = exemption_line(found, today=TODAY).put_off
    assert put_off is not None
    assert (put_off.covered, put_off.moved) == (1, 0)


def test_lists_the_soonest_end_first_and_what_is_gone_last(where: Yard) -> None:
    first = granted(where)
    ended = granted(where, position=where.position)
    end_exemption(exemption=ended, person=where.planner, at=NOW)
    lines = exemptions_seen(where.planner, today=TODAY)
    assert [(line.exemption_id, line.state) for line in lines] == [
        (first.pk, "standing"),
        (ended.pk, "ended"),
    ]
    assert lines[0].put_off is not None
    assert lines[0].put_off.moved == 1
    later = exemptions_seen(where.planner, today=UNTIL + dt.timedelta(days=1))
    assert {line.state for line in later} == {"over", "ended"}


def test_the_list_asks_as_much_for_many_as_for_few(
    where: Yard, django_assert_max_num_queries: Any
) -> None:
    for _ in range(9):
        granted(where, site=where.site, circuit="steering")
    with django_assert_max_num_queries(14):
        assert len(exemptions_seen(where.planner, today=TODAY)) == 9


def test_a_hose_and_its_why_page_name_what_covers_it(client: Client, where: Yard) -> None:
    granted(where, site=where.site)
    assert len(exemptions_of(where.hose, today=TODAY)) == 1
    client.force_login(where.planner)
    for name in ("hose", "why"):
        page = client.get(reverse(f"scheduling:{name}", args=[where.hose.pk])).content.decode()
        assert "the new one is on its way" in page
    other = make.fitted(on=make.position(on=make.machine(at=make.site())))
    assert exemptions_of(other, today=TODAY) == ()


def test_is_granted_and_ended_on_pages(client: Client, where: Yard) -> None:
    client.force_login(where.planner)
    given = {"triggers": ["built"], "reason": "on its way", "until_on": UNTIL.isoformat()}
    for name, pk in (("hose", where.hose.pk), ("position", where.position.pk)):
        answer = client.post(reverse(f"scheduling:exemption_{name}", args=[pk]), given, follow=True)
        assert "on its way" in answer.content.decode()
    client.post(reverse("scheduling:exemption_add"), {**given, "site": where.site.pk})
    assert Exemption.objects.count() == 3
    assert Due.objects.get(assembly=where.hose).replace_on == UNTIL
    for one in Exemption.objects.all():
        client.post(reverse("scheduling:exemption_end", args=[one.pk]))
    assert not Exemption.objects.filter(ended_at=None).exists()


REFUSED: list[tuple[str, dict[str, Any], str]] = [
    ("triggers", {"triggers": ["take_out"]}, "Select a valid choice"),
    ("reason", {"reason": ""}, "This field is required"),
    ("reason", {"reason": "x" * 501}, "at most 500 characters"),
    ("until_on", {"until_on": ""}, "This field is required"),
    ("until_on", {"until_on": "9/3/2026"}, "could be two days"),
    ("until_on", {"until_on": "soon"}, "is not a day"),
    ("until_on", {"until_on": "2020-01-01"}, "is past already"),
    ("site", {"site": "999999"}, "Select a valid choice"),
    ("machine_class", {"machine_class": "999999"}, "Select a valid choice"),
    ("machine", {"machine": "999999"}, "Select a valid choice"),
    ("circuit", {"circuit": "none such"}, "Select a valid choice"),
    ("consequence", {"consequence": "none such"}, "Select a valid choice"),
    ("exposure", {"exposure": "none such"}, "Select a valid choice"),
    ("hose_type", {"hose_type": "x" * 41}, "at most 40 characters"),
    ("", {"site": "", "circuit": ""}, "every site"),
]


@pytest.mark.parametrize(("field", "typed", "sentence"), REFUSED)
def test_refuses_what_cannot_be_granted(
    client: Client, where: Yard, field: str, typed: dict[str, Any], sentence: str
) -> None:
    client.force_login(where.planner)
    given = {"reason": "on its way", "until_on": UNTIL.isoformat(), "site": where.site.pk, **typed}
    answer = client.post(reverse("scheduling:exemption_add"), given)
    assert not Exemption.objects.exists()
    assert sentence in answer.content.decode() or answer.status_code == 403


def test_every_field_has_its_refusals() -> None:
    fields = set(ScopeForm.base_fields)
    assert {field for field, _, _ in REFUSED if field} == fields
    assert set(ReasonForm.base_fields) | set(SCOPE) == fields
    assert "take_out" not in NAMES


def test_strangers_and_readers_change_nothing(client: Client, where: Yard) -> None:
    one = granted(where)
    urls = [
        reverse("scheduling:exemption", args=[one.pk]),
        reverse("scheduling:exemption_end", args=[one.pk]),
        reverse("scheduling:exemption_hose", args=[where.hose.pk]),
        reverse("scheduling:exemption_position", args=[where.position.pk]),
    ]
    client.force_login(make.person("planner", at=make.site()))
    assert {client.post(url).status_code for url in urls[1:]} == {404}
    assert client.get(urls[0]).status_code == 404
    client.force_login(make.person("storeman", at=where.site))
    assert client.get(urls[0]).status_code == 200
    assert {client.post(url).status_code for url in urls[1:]} == {403}
    client.logout()
    assert {client.get(url).status_code for url in (urls[0], *urls[2:])} == {302}
    one.refresh_from_db()
    assert one.ended_at is None
