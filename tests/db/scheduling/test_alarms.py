"""Take-out-now findings and standing releases stand on every page and paper of a machine."""

import datetime as dt
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import URLPattern, URLResolver, get_resolver, reverse

from assemblies.calc.tags import draw_tag
from assemblies.models import ConditionalRelease, FrozenSheet, Tag
from assemblies.queries.hose_books import book_plan
from fleet.actions.errands import ask_errand
from fleet.models import HourReading, Mount
from fleet.navigation import alarms_for, led_by
from fleet.permissions import ROLES
from scheduling.models import Finding, Round
from scheduling.queries.alarms import alarms_of
from tests import factories
from tests.db.assemblies import spec_shop as shop
from tests.db.scheduling.yard import Yard, more_hoses, yard

pytestmark = pytest.mark.django_db

TAG = draw_tag(lambda choices: choices[-1])
# Parts of addresses whose pages are about no one machine or hose, and why.
ABOUT_OTHER_THINGS = {
    "slug": "a shelf of the catalogue",
    "item_id": "an item of the catalogue",
    "number": "a revision, where no site stands before it",
    "spec_id": "a spec, for many positions",
    "recipe_id": "a recipe, for many hoses",
    "revision_id": "the code on a sheet: leads on to the spec",
    "trial_id": "a trial piece, fitted nowhere",
    "file_id": "a register that was sent in",
    "form": "the kind of a file",
    "lot_id": "a lot of blank tags, or of parts",
    "rule_id": "a life rule, for many hoses",
    "key_id": "a key of another program",
    "photo_id": "a picture, no page",
    "reel_id": "a reel, for many hoses",
    "tool_id": "a crimper or a gauge, for many hoses",
    "source_id": "where hours are fetched from, for many machines",
    "study_id": "a study of many hoses’ lives",
    "seen_id": "a machine as another system names it, before it is matched",
    "plan_id": "a catch-up plan, for a whole site",
    "kind": "a kind of source that hoses are traced to",
    "key": "a source, for many hoses",
    "own_id": "a source by its row, for many hoses",
    "recall_id": "a recall, for many hoses",
}


def put_alarms(where: Yard) -> tuple[Finding, ConditionalRelease]:
    """A finding that says take out now and a conditional release, each on a hose of the machine."""
    finding = Finding.objects.create(
        assembly=where.hose,
        site=where.site,
        what="cover worn to wire",
        verdict="out_now",
        found_on=factories.TODAY,
    )
    other = factories.fitted(
        on=factories.position(on=where.machine, place="Dipper"), owner_mark="BQ 44"
    )
    return finding, release(other)


def release(hose: Any, **facts: Any) -> ConditionalRelease:
    return ConditionalRelease.objects.create(
        **{
            "assembly": hose,
            "authority": factories.person(display_name="A. Authority"),
            "released_at": factories.NOW,
            "reason": "Breakdown at night.",
            "limits": "180 bar, dipper only",
            "replace_by_on": dt.date(2026, 3, 12),
            **facts,
        }
    )


def page_routes() -> list[tuple[str, tuple[str, ...]]]:
    """Every named page of the three apps, with the parts of its address."""
    return sorted(
        (f"{app.namespace}:{pattern.name}", tuple(pattern.pattern.converters))
        for app in get_resolver().url_patterns
        if isinstance(app, URLResolver) and app.namespace in {"fleet", "assemblies", "scheduling"}
        for pattern in app.url_patterns
        if isinstance(pattern, URLPattern) and pattern.name
    )


def values_for(where: Yard, finding: Finding) -> dict[str, Any]:
    """A row for each part of an address that leads to the machine."""
    where.machine.kind = "attachment"  # has all pages of a machine, and its carrier's
    where.machine.save()
    where.hose.tag = Tag.objects.create(code=TAG)
    where.hose.save()
    reading = HourReading.objects.create(
        meter=where.machine.meters.get(),
        site=where.site,
        read_at=factories.NOW,
        read_on=factories.TODAY,
        reading_h=5,
        machine_h=5,
        doubt="It goes back.",
        recorded_at=factories.NOW,
    )
    walk = Round.objects.create(
        machine=where.machine, site=where.site, begun_at=factories.NOW, begun_by=where.planner
    )
    return {
        "machine_id": where.machine.pk,
        "position_id": where.position.pk,
        "hose_id": where.hose.pk,
        "reading_id": reading.pk,
        "finding_id": finding.pk,
        "round_id": walk.pk,
        "typed": TAG,
    }


# Addresses that name a machine beside something else, and why none of them shows a page.
NO_PAGE = {"fleet:match_proposed": "a button that matches a machine, and leads back"}
BOUND = ("machine_id", "position_id", "hose_id", "reading_id", "finding_id", "round_id", "typed")


def test_every_page_bound_to_a_machine_shows_its_alarms(client: Client) -> None:
    where = yard()
    finding, _ = put_alarms(where)
    values = values_for(where, finding)
    client.force_login(factories.person(*ROLES, at=where.site))
    routes = [one for one in page_routes() if set(one[1]) & set(BOUND) and one[0] not in NO_PAGE]
    silent = {}
    for name, parts in routes:
        url = reverse(name, kwargs={part: values[part] for part in parts})
        answer = client.get(url, follow=True)
        if answer.status_code == 405 or "html" not in answer["Content-Type"]:
            continue
        words = answer.content.decode()
        if not ("Take out now:" in words and "Released conditionally:" in words):
            silent[name] = answer.status_code
    assert len(routes) > 20
    assert silent == {}


def test_every_part_of_an_address_leads_to_a_machine_or_is_said_not_to() -> None:
    known = {name for names in led_by() for name in names} | set(ABOUT_OTHER_THINGS)
    assert {part for _, parts in page_routes() for part in parts} - known == set()


def require_a_spec(where: Yard) -> None:
    hose, near, far = factories.hose(), shop.end(), shop.end()
    for end in (near, far):
        shop.approved_recipe(hose, end)
    where.position.required_spec = shop.approved("S-1", hose=hose, near=near, far=far).header
    where.position.save()


def test_a_sheet_made_for_its_position_shows_them_and_holds_them_frozen(client: Client) -> None:
    where = yard()
    put_alarms(where)
    require_a_spec(where)
    client.force_login(where.planner)
    url = reverse("assemblies:position_sheet", args=[where.position.pk])
    words = client.post(url, {"quantity": "1"}, follow=True).content.decode()
    assert "Take out now:" in words
    assert "Released conditionally" in words
    assert FrozenSheet.objects.get().content["alerts"] == [
        "TAKE OUT NOW on this machine: BQ 17 at Boom lift, rod side; cover worn to wire, "
        "found 2026-03-09",
        "CONDITIONAL RELEASE on this machine: BQ 44 at Dipper, replace by "
        "2026-03-12; 180 bar, dipper only",
    ]


def test_a_hose_book_shows_them_on_its_page_and_on_its_first_paper(client: Client) -> None:
    where = yard()
    put_alarms(where)
    book = ask_errand(
        kind="hose_book",
        at=factories.NOW,
        payload={"machine_id": where.machine.pk},
        person=where.planner,
    )
    client.force_login(where.planner)
    words = client.get(reverse("assemblies:book", args=[book.pk])).content.decode()
    assert "Take out now:" in words
    remarks = book_plan(where.machine).head(as_of_on=factories.TODAY).remarks
    assert [text.split(" on this")[0] for text in remarks] == [
        "TAKE OUT NOW",
        "CONDITIONAL RELEASE",
    ]


def test_the_carrier_shows_the_alarms_of_what_it_carries(client: Client) -> None:
    where = yard()
    carrier = factories.machine(at=where.site)
    Mount.objects.create(part=where.machine, carrier=carrier, from_on=factories.TODAY)
    put_alarms(where)
    client.force_login(where.planner)
    words = client.get(reverse("scheduling:machine", args=[carrier.pk])).content.decode()
    assert "Take out now:" in words
    assert "Released conditionally" in words


def test_another_sites_alarms_are_shown_to_nobody_else(client: Client) -> None:
    where = yard()
    put_alarms(where)
    client.force_login(factories.person(*ROLES, at=factories.site()))
    answer = client.get(reverse("scheduling:machine", args=[where.machine.pk]))
    assert answer.status_code == 404
    assert "Take out now:" not in answer.content.decode()


def test_a_hose_that_was_taken_off_keeps_its_finding_to_itself(client: Client) -> None:
    where = yard()
    put_alarms(where)
    stored = factories.stored(at=where.site, owner_mark="BQ 50")
    Finding.objects.create(
        assembly=stored, site=where.site, what="crack", verdict="out_now", found_on=factories.TODAY
    )
    client.force_login(where.planner)
    assert "crack" in client.get(reverse("scheduling:inspect", args=[stored.pk])).content.decode()
    assert "crack" not in {one.what for one in alarms_of(where.machine.pk).out_now}


def test_what_is_dealt_with_or_replaced_is_silent() -> None:
    where = yard()
    finding, released = put_alarms(where)
    Finding.objects.filter(pk=finding.pk).update(dealt_with_at=factories.NOW)
    released.assembly.stays.update(is_open=False, to_on=factories.TODAY)
    assert alarms_for(where.machine.pk) == ()


def test_only_the_last_release_of_a_hose_stands() -> None:
    where = yard()
    release(where.hose)
    release(where.hose, limits="90 bar", replace_by_on=dt.date(2026, 3, 20))
    (standing,) = alarms_of(where.machine.pk).releases
    assert (standing.limits, standing.replace_by_on) == ("90 bar", dt.date(2026, 3, 20))


def test_a_release_whose_day_is_past_says_so(client: Client) -> None:
    where = yard()
    release(where.hose, replace_by_on=dt.date(2020, 1, 1))
    client.force_login(where.planner)
    words = client.get(reverse("scheduling:why", args=[where.hose.pk])).content.decode()
    assert "that day has passed" in words


def test_many_alarms_are_folded_after_the_first_few(client: Client) -> None:
    where = yard()
    for hose in more_hoses(where, 9):
        release(hose)
    client.force_login(where.planner)
    words = client.get(reverse("scheduling:machine", args=[where.machine.pk])).content.decode()
    assert "Released conditionally: 9 hoses" in words
    assert words.count("Replace by") == 9
    assert "7 more" in words


def test_the_queries_for_alarms_do_not_grow_with_them() -> None:
    where = yard()
    put_alarms(where)
    with CaptureQueriesContext(connection) as few:
        alarms_for(where.machine.pk)
    for hose in more_hoses(where, 7):
        release(hose)
    with CaptureQueriesContext(connection) as many:
        assert len(alarms_for(where.machine.pk)) == 9
    assert len(many) == len(few)
