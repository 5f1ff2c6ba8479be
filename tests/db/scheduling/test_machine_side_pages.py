"""Work at the machine told through the pages: fitting, swapping, taking off, tags, looks."""

import datetime as dt
import re
from collections.abc import Iterator
from decimal import Decimal
from typing import Any

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from assemblies.actions.tags import draw_lot
from assemblies.models import Assembly, Stay
from fleet.models import HourReading
from scheduling.models import Finding, Inspection
from tests import factories
from tests.db.scheduling.yard import Yard, yard

pytestmark = pytest.mark.django_db
TODAY = factories.TODAY.isoformat()


@pytest.fixture
def where(client: Client) -> Iterator[Yard]:
    with time_machine.travel(factories.NOW, tick=False):
        found = yard()
        client.force_login(found.planner)
        yield found


def post(client: Client, route: str, thing_id: int, **facts: Any) -> Any:
    return client.post(reverse(route, args=[thing_id]), facts, follow=True)


def held(where: Yard) -> Assembly | None:
    stay = Stay.objects.filter(position=where.position, is_open=True).first()
    return stay.assembly if stay else None


def test_a_swap_fits_the_named_hose_and_scraps_the_old_one(client: Client, where: Yard) -> None:
    new = factories.stored(at=where.site, owner_mark="NEW 1")
    answer = post(
        client,
        "assemblies:swap",
        where.position.pk,
        named="new 1",
        removal="due",
        to="scrapped",
        reading="12 450,5 h",
        on=TODAY,
    )
    assert "NEW 1 is on Boom lift, rod side" in answer.content.decode()
    assert held(where) == new
    assert Stay.objects.get(assembly=where.hose, is_open=True).place == "scrapped"


def test_a_swap_records_the_meter_and_counts_hours_from_it(client: Client, where: Yard) -> None:
    factories.stored(at=where.site, owner_mark="NEW 1")
    facts = {"named": "NEW 1", "removal": "due", "to": "store", "reading": "500", "on": TODAY}
    post(client, "assemblies:swap", where.position.pk, **facts)
    assert HourReading.objects.get().typed == "500"
    assert Stay.objects.get(position=where.position, is_open=True).from_machine_h == Decimal(500)


def test_a_hose_is_picked_from_the_store(client: Client, where: Yard) -> None:
    place = factories.position(on=where.machine)
    hose = factories.stored(at=where.site)
    post(client, "assemblies:fit", place.pk, picked=hose.pk, on=TODAY)
    assert Stay.objects.get(position=place, is_open=True).assembly == hose


def test_a_hose_of_another_site_can_not_be_picked(client: Client, where: Yard) -> None:
    place = factories.position(on=where.machine)
    strange = factories.stored(owner_mark="FAR 1")
    for facts in ({"picked": strange.pk}, {"named": "FAR 1"}):
        answer = post(client, "assemblies:fit", place.pk, on=TODAY, **facts)
        assert answer.context["form"].errors
    assert not Stay.objects.filter(position=place).exists()


def test_fitting_where_a_hose_sits_is_refused_in_words(client: Client, where: Yard) -> None:
    hose = factories.stored(at=where.site)
    answer = post(client, "assemblies:fit", where.position.pk, picked=hose.pk, on=TODAY)
    assert "holds a hose already" in answer.content.decode()


def test_a_day_that_could_be_two_is_asked_about(client: Client, where: Yard) -> None:
    facts = {"removal": "due", "to": "scrapped", "on": "9/3/2026"}
    answer = post(client, "assemblies:take_off", where.position.pk, **facts)
    assert "could be two days" in answer.content.decode()
    assert held(where) == where.hose


def test_taking_off_empties_the_position(client: Client, where: Yard) -> None:
    facts = {"removal": "access", "to": "bench", "on": TODAY, "note": "pump out"}
    post(client, "assemblies:take_off", where.position.pk, **facts)
    assert held(where) is None


def test_a_printed_tag_is_bound(client: Client, where: Yard) -> None:
    lot = draw_lot(site=where.site, size=1, person=where.planner, at=factories.NOW)
    code = lot.tags.get().code
    post(client, "assemblies:tag", where.hose.pk, tag=f"http://localhost/t/{code}".lower())
    where.hose.refresh_from_db()
    assert where.hose.tag_id == code


def test_a_tag_opens_its_hose_in_any_writing(client: Client, where: Yard) -> None:
    post(client, "assemblies:tag", where.hose.pk, tag="")
    where.hose.refresh_from_db()
    code = where.hose.tag_id or ""
    for typed in (code, code.lower(), f"{code[:4]}-{code[4:]}"):
        assert client.get(reverse("scheduling:hose_by_tag", args=[typed])).status_code == 200


def test_another_sites_tag_answers_like_an_unknown_one(client: Client, where: Yard) -> None:
    post(client, "assemblies:tag", where.hose.pk, tag="")
    where.hose.refresh_from_db()
    client.force_login(factories.person("planner", at=factories.site()))
    ours = client.get(reverse("scheduling:hose_by_tag", args=[where.hose.tag_id]))
    unknown = client.get(reverse("scheduling:hose_by_tag", args=["ZZZZZZZZ"]))
    assert ours.status_code == unknown.status_code == 404
    assert _without_token(ours.content) == _without_token(unknown.content)


def _without_token(page: bytes) -> bytes:
    return re.sub(rb'name="csrfmiddlewaretoken" value="\w+"', b"", page)


def test_the_tag_box_leads_straight_to_the_one_hose(client: Client, where: Yard) -> None:
    answer = client.get(reverse("scheduling:find"), {"q": "bq 17"})
    assert answer.headers["Location"] == reverse("scheduling:hose", args=[where.hose.pk])


def test_a_doubtful_reading_is_kept_told_and_decided(client: Client, where: Yard) -> None:
    post(
        client,
        "fleet:reading_add",
        where.machine.pk,
        counts="engine",
        reading="900",
        read_on="2026-03-01",
    )
    answer = post(
        client, "fleet:reading_add", where.machine.pk, counts="engine", reading="100", read_on=TODAY
    )
    assert "Kept, but doubtful" in answer.content.decode()
    doubted = HourReading.objects.exclude(doubt="").get()
    post(client, "fleet:reading_decide", doubted.pk, verdict="aside", reason="misread")
    doubted.refresh_from_db()
    assert doubted.set_aside_reason == "misread"


def test_a_look_that_finds_nothing_is_recorded(client: Client, where: Yard) -> None:
    post(client, "scheduling:inspect", where.hose.pk, verdict="keep", on=TODAY)
    assert Inspection.objects.get().inspected_on == factories.TODAY
    assert not Finding.objects.exists()


def test_a_finding_is_recorded_shown_and_settled(client: Client, where: Yard) -> None:
    facts = {"verdict": "recheck", "what": "light cover wear", "by_on": "2026-04-01", "on": TODAY}
    page = post(client, "scheduling:inspect", where.hose.pk, **facts).content.decode()
    assert "light cover wear" in page
    finding = Finding.objects.get()
    assert finding.by_on == dt.date(2026, 4, 1)
    page = post(client, "scheduling:deal_with", finding.pk, how="tightened").content.decode()
    assert "light cover wear" not in page


@pytest.mark.parametrize(
    ("facts", "said"),
    [
        ({"verdict": "out_now"}, "Say what was found."),
        ({"verdict": "replace", "what": "brittle or cracked"}, "Say by which day."),
        ({"verdict": "not_seen", "what": "brittle or cracked"}, "then nothing was found"),
        ({"verdict": "keep", "on": "2026-03-10"}, "still to come"),
        ({"verdict": "listed"}, "Say what was found."),
        ({"verdict": "listed", "what": "something else"}, "The checklist has no answer"),
        ({"verdict": "keep", "what": "twisted"}, "The checklist is stricter"),
    ],
)
def test_a_look_that_does_not_fit_together_says_why(
    client: Client, where: Yard, facts: dict[str, str], said: str
) -> None:
    answer = post(client, "scheduling:inspect", where.hose.pk, **{"on": TODAY, **facts})
    assert said in answer.content.decode()
    assert not Inspection.objects.exists()


def test_a_look_takes_the_checklists_verdict_unless_a_person_says_otherwise(
    client: Client, where: Yard
) -> None:
    facts = {"verdict": "listed", "what": "light cover wear", "on": TODAY}
    post(client, "scheduling:inspect", where.hose.pk, **facts)
    found = Finding.objects.get()
    assert (found.verdict, str(found.by_on)) == ("recheck", "2026-06-07")
