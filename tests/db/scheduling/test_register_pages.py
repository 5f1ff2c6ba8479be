"""Making and changing machines, positions and life rules through the pages."""

from collections.abc import Iterator
from decimal import Decimal
from typing import Any

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from assemblies.models import Position
from fleet.models import Machine
from scheduling.calc.presets import presets
from scheduling.models import LifeRule, LifeRuleRevision
from tests import factories
from tests.db.scheduling.yard import Yard, yard

pytestmark = pytest.mark.django_db

MACHINE = {"fleet_number": "WL-900", "kind": "machine", "status": "in_service"}
PLACE = {
    "place": "Arm, rod side",
    "place_no": "1",
    "circuit": "working",
    "counts": "engine",
    "consequence": "stops",
    "exposure": "normal",
    "people": "1",
}


@pytest.fixture
def where(client: Client) -> Iterator[Yard]:
    with time_machine.travel(factories.NOW, tick=False):
        found = yard()
        client.force_login(found.planner)
        yield found


def post(client: Client, route: str, *ids: int, **facts: Any) -> Any:
    return client.post(reverse(route, args=ids), facts, follow=True)


def test_a_machine_is_added_with_its_cost_in_minor_units(client: Client, where: Yard) -> None:
    facts = {**MACHINE, "machine_class": where.machine.machine_class_id, "site": where.site.pk}
    post(client, "fleet:machine_add", **facts, down_cost_per_hour="185,50")
    assert Machine.objects.get(fleet_number="WL-900").down_cost_per_hour_minor == 18550


def test_a_machine_is_not_added_at_another_site(client: Client, where: Yard) -> None:
    far = factories.site()
    facts = {**MACHINE, "machine_class": where.machine.machine_class_id, "site": far.pk}
    assert post(client, "fleet:machine_add", **facts).context["form"].errors["site"]
    assert not Machine.objects.filter(site=far).exists()


def test_a_number_that_is_taken_is_refused_at_its_field(client: Client, where: Yard) -> None:
    facts = {**MACHINE, "machine_class": where.machine.machine_class_id, "site": where.site.pk}
    answer = post(client, "fleet:machine_add", **{**facts, "fleet_number": "ex-014"})
    assert "already" in answer.context["form"].errors["fleet_number"][0]


def test_a_change_made_on_an_old_page_is_refused(client: Client, where: Yard) -> None:
    facts = {**MACHINE, "machine_class": where.machine.machine_class_id, "maker": "Tarn"}
    first = post(client, "fleet:machine_change", where.machine.pk, **facts, version=1)
    assert first.status_code == 200
    late = post(client, "fleet:machine_change", where.machine.pk, **facts, version=1)
    assert "Someone else changed this machine" in late.content.decode()


def test_a_position_is_added_last_with_its_pressure_in_bar(client: Client, where: Yard) -> None:
    post(client, "assemblies:position_add", where.machine.pk, **PLACE, pressure_bar="28 MPa")
    place = Position.objects.get(place="Arm, rod side")
    assert place.pressure_bar == Decimal(280)
    assert place.walk_order > where.position.walk_order


def test_a_position_is_changed(client: Client, where: Yard) -> None:
    facts = {**PLACE, "place": where.position.place, "consequence": "hurts", "version": 1}
    post(client, "assemblies:position_change", where.position.pk, **facts)
    where.position.refresh_from_db()
    assert where.position.consequence == "hurts"


def test_published_limits_are_taken_over_for_a_site(client: Client, where: Yard) -> None:
    chosen = presets()[0]
    post(client, "scheduling:rules", site=where.site.pk, preset=chosen.code)
    rule = LifeRuleRevision.objects.get(header__preset=chosen.code)
    assert (rule.site, rule.state) == (where.site, "approved")


def test_a_rule_is_written_approved_revised_and_withdrawn(client: Client, where: Yard) -> None:
    facts = {"source": "the site's own choice", "site": where.site.pk, "built_months": "60"}
    post(client, "scheduling:rule_add", name="Five years", **facts)
    header = LifeRule.objects.get(name="Five years")
    page = client.get(reverse("scheduling:rule_approve", args=[header.pk]))
    post(client, "scheduling:rule_approve", header.pk, seen=page.context["seen"])
    assert header.revisions.get().state == "approved"
    post(client, "scheduling:rule_revise", header.pk, **{**facts, "built_months": "48"})
    assert header.revisions.get(state="draft").built_months == 48
    post(client, "scheduling:rule_withdraw", header.pk, reason="too short")
    header.refresh_from_db()
    assert header.withdrawal_reason == "too short"


def test_a_rule_without_a_limit_is_refused(client: Client, where: Yard) -> None:
    facts = {"source": "the site's own choice", "site": where.site.pk}
    answer = post(client, "scheduling:rule_add", name="Nothing", **facts)
    assert "at least one limit" in answer.content.decode()


def test_another_sites_rule_is_not_found(client: Client, where: Yard) -> None:
    far = factories.life_rule(site=factories.site())
    for name in ("rule_revise", "rule_approve", "rule_withdraw"):
        url = reverse(f"scheduling:{name}", args=[far.header_id])
        assert client.get(url).status_code == 404
    assert far.header.name not in client.get(reverse("scheduling:rules")).content.decode()


def test_the_queries_of_the_rules_do_not_grow(client: Client, where: Yard) -> None:
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    counts = []
    for _ in range(2):
        factories.life_rule(site=where.site)
        client.get(reverse("scheduling:rules"))
        with CaptureQueriesContext(connection) as seen:
            client.get(reverse("scheduling:rules"))
        counts.append(len(seen))
    assert counts[0] == counts[1]
