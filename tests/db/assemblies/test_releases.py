"""Conditional release: by a named authority, within limits, until a day; what it lets be fitted."""

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest
from django.db import IntegrityError, transaction

from assemblies.actions.releases import MOST_DAYS, Limits
from assemblies.models import BuildRecord, ConditionalRelease, Position
from assemblies.queries.choices import hoses_to_fit
from assemblies.queries.releases import standing_releases
from assemblies.queries.unmatched import unmatched_among
from fleet.actions.refusals import Refused
from fleet.models import Person, Site, TrailEntry
from fleet.permissions import NotAllowed
from scheduling.models import Due, Finding
from tests import factories as make
from tests.db.assemblies import spec_shop as shop
from tests.db.assemblies.release_bench import (
    BY,
    NOW,
    TODAY,
    fit,
    held,
    refused,
    release,
    unmatched,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def spot() -> Position:
    return make.position(pressure_bar=Decimal(150))


@pytest.fixture
def site(spot: Position) -> Site:
    return spot.machine.site


@pytest.fixture
def manager(site: Site) -> Person:
    return make.person("manager", at=site, display_name="M. Anager")


def test_a_release_names_who_until_when_and_within_what(site: Site, manager: Person) -> None:
    hose = held(site)
    made = release(hose, manager)
    assert (made.authority, made.replace_by_on) == (manager, BY)
    assert made.limits == "at most 180\u00a0bar, only at EX-014, dipper"
    told = TrailEntry.objects.get(deed="released conditionally")
    assert (told.reason, told.subject_label) == ("Boom down in the pit, no spare.", "H 1")


def test_the_due_counts_the_release_s_day(site: Site, manager: Person) -> None:
    hose = held(site)
    release(hose, manager)
    assert Due.objects.get(assembly=hose).replace_on == BY


def test_a_held_hose_goes_on_only_once_it_is_released(
    site: Site, spot: Position, manager: Person
) -> None:
    hose = held(site)
    assert refused(hose, spot) == "not_usable"
    release(hose, manager)
    assert [choice.hose_id for choice in hoses_to_fit(spot)] == [hose.pk]
    fit(hose, spot)
    (standing,) = standing_releases([spot.machine_id])
    assert (standing.assembly, standing.position, standing.authority) == (
        "H 1",
        str(spot),
        "M. Anager",
    )


def test_a_release_whose_day_is_past_lets_nothing_on(
    site: Site, spot: Position, manager: Person
) -> None:
    hose = held(site)
    release(
        hose, manager, today=TODAY - dt.timedelta(days=9), replace_by_on=TODAY - dt.timedelta(1)
    )
    assert refused(hose, spot) == "not_usable"


def test_a_release_does_not_go_past_its_own_pressure(
    site: Site, spot: Position, manager: Person
) -> None:
    hose = held(site)
    release(hose, manager, limits=Limits(Decimal(149), "EX-014, dipper"))
    assert refused(hose, spot) == "above_release"


def test_no_release_lifts_a_finding_that_says_take_out_now(
    site: Site, spot: Position, manager: Person
) -> None:
    hose = held(site)
    release(hose, manager)
    Finding.objects.create(
        assembly=hose, site=site, what="recalled", verdict="out_now", found_on=TODAY
    )
    assert refused(hose, spot) == "take_out_now"


def test_an_unsigned_build_goes_on_only_once_it_is_released(
    site: Site, spot: Position, manager: Person
) -> None:
    hose = make.stored(at=site)
    BuildRecord.objects.create(assembly=hose, site=site, spec=shop.draft(), built_on=TODAY)
    assert refused(hose, spot) == "build_unsigned"
    release(hose, manager)
    fit(hose, spot)


@pytest.mark.parametrize(
    ("place", "kept_out"),
    [
        ({"consequence": "hurts"}, True),
        ({"circuit": "steering"}, True),
        ({"circuit": "brakes", "consequence": "nuisance"}, True),
        ({"consequence": "stops"}, False),
        ({"consequence": "unknown"}, False),
    ],
)
def test_unmatched_parts_are_kept_from_where_a_failure_hurts_someone(
    site: Site, spot: Position, place: dict[str, str], kept_out: bool
) -> None:
    hose, grave = unmatched(site), make.position(on=spot.machine, **place)
    if kept_out:
        assert refused(hose, grave) == "unmatched_where_it_hurts"
    else:
        fit(hose, grave)


def test_only_a_release_that_says_so_lifts_that(
    site: Site, spot: Position, manager: Person
) -> None:
    grave = make.position(on=spot.machine, circuit="steering")
    silent, told = unmatched(site), held(site)
    release(silent, manager)
    assert refused(silent, grave) == "unmatched_where_it_hurts"
    release(told, manager, limits=Limits(Decimal(180), "EX-014, steering", where_it_hurts=True))
    fit(told, grave)
    (standing,) = standing_releases([grave.machine_id])
    assert standing.limits.endswith("allowed where a failure hurts someone")


def test_a_hose_of_which_nothing_is_known_is_not_called_unmatched(site: Site) -> None:
    found, bought = make.stored(at=site), make.stored(at=site, origin="bought")
    mixed = unmatched(site)
    assert unmatched_among([found.pk, bought.pk, mixed.pk]) == {mixed.pk: "end A crimped by trial"}


# What is refused, by the field that it is said at: what is wrong, the code, words of the sentence.
CASES: list[tuple[str, dict[str, Any], str, str]] = [
    ("reason", {"reason": "  "}, "reason_missing", "Say why it can't wait."),
    ("place", {"limits": Limits(Decimal(90), " ")}, "place_missing", "Say the one place"),
    ("pressure_bar", {"limits": Limits(None, "x")}, "pressure_missing", "State the pressure"),
    ("pressure_bar", {"limits": Limits(Decimal(0), "x")}, "pressure_missing", "State the pressure"),
    ("pressure_bar", {"limits": Limits(Decimal(276), "x")}, "above_rating", "bear 275\u00a0bar"),
    ("replace_by_on", {"replace_by_on": TODAY - dt.timedelta(1)}, "day_past", "is past already"),
    (
        "replace_by_on",
        {"replace_by_on": TODAY + dt.timedelta(MOST_DAYS + 1)},
        "day_too_far",
        "for 14 days at most: replace it by 2026-03-23",
    ),
]


@pytest.mark.parametrize(("field", "wrong", "code", "words"), CASES)
def test_refuses_terms_that_are_wrong(
    site: Site, manager: Person, field: str, wrong: dict[str, Any], code: str, words: str
) -> None:
    hose = held(site, working_pressure_bar=Decimal(275))
    with pytest.raises(Refused) as refusal:
        release(hose, manager, **wrong)
    assert (refusal.value.code, refusal.value.field) == (code, field)
    assert words in refusal.value.sentence
    assert not ConditionalRelease.objects.exists()


def test_refuses_limits_that_its_place_asks_more_than(
    site: Site, spot: Position, manager: Person
) -> None:
    hose = make.fitted(on=spot, owner_mark="F 1")
    with pytest.raises(Refused, match="which asks 150") as refusal:
        release(hose, manager, limits=Limits(Decimal(149), "EX-014"))
    assert (refusal.value.code, refusal.value.field) == ("place_asks_more", "pressure_bar")
    assert release(hose, manager, limits=Limits(Decimal(150), "EX-014")).pressure_bar == 150


def test_refuses_to_pass_over_that_its_place_hurts(
    site: Site, spot: Position, manager: Person
) -> None:
    hose = unmatched(site)
    fit(hose, spot)
    Position.objects.filter(pk=spot.pk).update(circuit="brakes")
    with pytest.raises(Refused) as refusal:
        release(hose, manager)
    assert (refusal.value.code, refusal.value.field) == ("place_hurts", "where_it_hurts")
    assert release(hose, manager, limits=Limits(Decimal(180), "brakes", where_it_hurts=True))


def test_the_last_day_allowed_is_allowed(site: Site, manager: Person) -> None:
    last = TODAY + dt.timedelta(MOST_DAYS)
    assert release(held(site), manager, replace_by_on=last).replace_by_on == last


@pytest.mark.parametrize(
    ("build", "code"),
    [
        ({"proof_passed": False}, "proof_failed"),
        ({"scrapped_reason": "cut too short"}, "build_scrapped"),
    ],
)
def test_refuses_a_piece_that_failed(
    site: Site, manager: Person, build: dict[str, Any], code: str
) -> None:
    hose = held(site)
    signed = {"signed_at": NOW, "signed_by": manager} if "scrapped_reason" in build else {}
    facts = {"site": site, "spec": shop.draft(), "built_on": TODAY, **build, **signed}
    BuildRecord.objects.create(assembly=hose, **facts)
    with pytest.raises(Refused) as refusal:
        release(hose, manager)
    assert refusal.value.code == code


def test_refuses_a_scrapped_hose(site: Site, manager: Person) -> None:
    hose = make.stored(at=site, condition="scrap", withdrawn_at=NOW)
    with pytest.raises(Refused, match="never used again"):
        release(hose, manager)


def test_refuses_a_second_release_while_the_first_is_open(
    site: Site, spot: Position, manager: Person
) -> None:
    hose = held(site)
    release(hose, manager)
    fit(hose, spot)
    for today in (TODAY, BY + dt.timedelta(5)):
        with pytest.raises(Refused, match="exemption") as refusal:
            release(hose, manager, today=today, replace_by_on=BY + dt.timedelta(6))
        assert refusal.value.code == "released_already"


def test_one_that_never_went_on_may_be_released_again_after_its_day(
    site: Site, manager: Person
) -> None:
    hose, later = held(site), BY + dt.timedelta(1)
    release(hose, manager)
    release(hose, manager, today=later, replace_by_on=later)
    assert ConditionalRelease.objects.filter(assembly=hose).count() == 2


@pytest.mark.parametrize("role", ["planner", "fitter", "inspector", "storeman", "safety officer"])
def test_only_who_holds_the_right_may_release(site: Site, role: str) -> None:
    with pytest.raises(NotAllowed):
        release(held(site), make.person(role, at=site))


def test_a_release_is_never_changed(site: Site, manager: Person) -> None:
    made = release(held(site), manager)
    with pytest.raises(IntegrityError), transaction.atomic():
        ConditionalRelease.objects.filter(pk=made.pk).update(limits="no limits")
