"""Reels: received with what their marks say, dated better, withdrawn; lots and tools likewise."""

import datetime as dt
from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest
from django.utils import timezone

from assemblies.actions.reels import Delivery, date_reel, receive_reel, withdraw_reel
from assemblies.actions.stores import Parts, receive_parts, set_level, withdraw_lot
from assemblies.actions.workshop import add_tool, calibrate_tool, change_tool, withdraw_tool
from assemblies.calc.day_ranges import month_of, quarter_of
from assemblies.models import BuildRecord, Crimper, Instrument, Reel, StockItem
from assemblies.queries.proofs import balances_add_up
from assemblies.queries.stock import lots_for, reels_for
from assemblies.signals import assembly_changed
from fleet.actions.refusals import Refused
from fleet.models import Person, Site, TrailEntry
from fleet.permissions import NotAllowed
from tests import factories as make
from tests.db.assemblies import spec_shop as shop
from tests.db.assemblies import store

pytestmark = pytest.mark.django_db
TODAY, NOW = make.TODAY, make.NOW
SPRING = quarter_of(2025, 2, "quarter-year")


@pytest.fixture
def site() -> Site:
    return make.site()


@pytest.fixture
def keeper(site: Site) -> Person:
    return make.person("storeman", at=site)


def delivery(**facts: Any) -> Delivery:
    hose = facts.pop("hose", None) or make.hose().header
    return Delivery(
        **{"hose": hose, "delivered_m": Decimal(60), "received_on": TODAY, "made": SPRING, **facts}
    )


def receive(site: Site, by: Person, **facts: Any) -> Reel:
    return receive_reel(site=site, delivery=delivery(**facts), person=by, at=NOW, today=TODAY)


def test_a_reel_comes_in_with_its_day_and_its_first_movement(site: Site, keeper: Person) -> None:
    reel = receive(site, keeper, code="R-1", layline="Harrow/EN 853/2SN/DN 12/2Q25")
    item = store.item_of(reel)
    assert (item.balance, item.unit, item.movements.get().kind) == (60, "metre", "received")
    assert (reel.made_earliest_on, reel.made_latest_on) == (SPRING.earliest, SPRING.latest)
    assert (reel.made_precision, reel.made_pattern) == ("quarter", "quarter-year")
    assert (reel.made_confirmed_by, reel.made_typed) == (keeper, "Harrow/EN 853/2SN/DN 12/2Q25")
    assert TrailEntry.objects.filter(deed="received reel").count() == 1
    assert list(balances_add_up()) == []


def test_a_reel_without_a_code_gets_the_next_free_number(site: Site, keeper: Person) -> None:
    receive(site, keeper, code=f"{site.code}-R0001")
    codes = [receive(site, keeper).code for _ in range(2)]
    assert codes == [f"{site.code}-R0002", f"{site.code}-R0003"]


def test_a_reel_of_a_watched_hose_is_watched_too(site: Site, keeper: Person) -> None:
    first = receive(site, keeper)
    set_level(item=store.item_of(first), level=Decimal(15), person=keeper, at=NOW)
    second = receive(site, keeper, hose=first.hose)
    assert store.item_of(second).reorder_at == 15


REFUSED_REELS: list[tuple[dict[str, Any], str, str, str]] = [
    ({"delivered_m": Decimal(0)}, "length_missing", "delivered_m", "length above nought"),
    ({"delivered_m": Decimal(10_001)}, "field_wrong", "delivered_m", "less than or equal"),
    (
        *({"received_on": TODAY + dt.timedelta(days=1)}, "received_to_come", "received_on"),
        "still to come",
    ),
    (
        *({"made": month_of(2026, 4, "m")}, "made_after_received", "made_typed"),
        "Made Apr 2026, received 2026-03-09",
    ),
    (
        *({"layline": "Harrow/EN 857/2SC/DN 12/2Q25"}, "not_this_hose", "looked"),
        "The layline says 2SC, the catalogue 2SN",
    ),
    (
        *({"layline": "Harrow/EN 853/2SN/DN 10/2Q25"}, "not_this_hose", "looked"),
        "the catalogue DN12",
    ),
    ({"code": "R-taken"}, "code_taken", "code", "has a reel r-TAKEN already"),
    ({"code": "R" * 41}, "field_wrong", "code", "at most 40"),
    ({"supplier": "s" * 121}, "field_wrong", "supplier", "at most 120"),
    ({"layline": "x" * 201}, "field_wrong", "layline", "at most 200"),
    (
        *({"reinforcement_mm": Decimal(501)}, "field_wrong", "reinforcement_diameter_mm"),
        "less than or equal",
    ),
]


@pytest.mark.parametrize(("facts", "code", "field", "words"), REFUSED_REELS)
def test_refuses_a_reel_that_can_not_be(
    facts: dict[str, Any], code: str, field: str, words: str, site: Site, keeper: Person
) -> None:
    store.reel(site, code="r-TAKEN")
    with pytest.raises(Refused) as refused:
        receive(site, keeper, **facts)
    assert (refused.value.code, refused.value.field) == (code, field)
    assert words.casefold() in refused.value.sentence.casefold()
    assert Reel.objects.count() == 1


def test_refuses_hose_withdrawn_from_the_catalogue(site: Site, keeper: Person) -> None:
    hose = make.hose().header
    hose.withdrawn_at = timezone.now()
    hose.save()
    with pytest.raises(Refused, match="withdrawn from the catalogue"):
        receive(site, keeper, hose=hose)


def test_a_layline_that_differs_is_taken_once_looked_at(site: Site, keeper: Person) -> None:
    reel = receive(site, keeper, layline="Harrow/EN 857/2SC/DN 12/2Q25", looked=True)
    assert TrailEntry.objects.get(subject_id=reel.pk, deed="received reel").after["looked"] is True


def test_a_better_day_goes_to_the_hoses_built_from_the_reel(site: Site, keeper: Person) -> None:
    reel = receive(site, keeper)
    day = {"made_earliest_on": SPRING.earliest, "made_latest_on": SPRING.latest}
    built, other = make.stored(at=site, **day), make.stored(at=site)
    for hose in (built, other):
        spec = make.spec().revisions.get()
        BuildRecord.objects.create(assembly=hose, site=site, spec=spec, reel=reel, built_on=TODAY)
    told: list[int] = []

    def hear(assembly_ids: list[int], **_: Any) -> None:
        told.extend(assembly_ids)

    assembly_changed.connect(hear)
    try:
        date_reel(
            reel=reel, made=month_of(2025, 5, "month-year"), typed="05/2025", person=keeper, at=NOW
        )
    finally:
        assembly_changed.disconnect(hear)
    built.refresh_from_db()
    other.refresh_from_db()
    assert (built.made_earliest_on, built.made_typed) == (dt.date(2025, 5, 1), "05/2025")
    assert (other.made_earliest_on, told) == (None, [built.pk])
    assert TrailEntry.objects.filter(deed="dated hose by its reel").count() == 1


def test_refuses_a_day_after_the_reel_came_in(site: Site, keeper: Person) -> None:
    reel = receive(site, keeper)
    late = month_of(2026, 4, "month-year")
    with pytest.raises(Refused, match="one of the two is wrong"):
        date_reel(reel=reel, made=late, typed="04/2026", person=keeper, at=NOW)


@pytest.mark.parametrize("role", ["storeman", "planner", "safety officer"])
def test_a_withdrawn_reel_is_offered_to_nobody(role: str, site: Site, keeper: Person) -> None:
    reel = receive(site, keeper)
    offered: dict[str, Any] = {"site": site, "hose": reel.hose, "on": TODAY}
    assert [one.code for one in reels_for(keeper, **offered)] == [reel.code]
    withdraw_reel(reel=reel, reason="cracked", person=make.person(role, at=site), at=NOW)
    assert reels_for(keeper, **offered) == ()
    with pytest.raises(Refused, match="withdrawn already"):
        withdraw_reel(reel=reel, reason="again", person=keeper, at=NOW)


def test_refuses_to_withdraw_without_a_reason_or_the_right(site: Site, keeper: Person) -> None:
    reel = receive(site, keeper)
    with pytest.raises(Refused, match="Say why"):
        withdraw_reel(reel=reel, reason=" ", person=keeper, at=NOW)
    for stranger in (make.person("fitter", at=site), make.person("storeman", at=make.site())):
        with pytest.raises(NotAllowed):
            withdraw_reel(reel=reel, reason="cracked", person=stranger, at=NOW)


def test_reels_are_offered_the_oldest_first_and_the_too_old_last(
    site: Site, keeper: Person
) -> None:
    make.life_rule(reel_age_months=48, source="DIN 20066")
    hose = make.hose().header
    for code, made in (("new", 2025), ("old", 2023), ("past", 2021)):
        quarter = quarter_of(made, 2, "quarter-year")
        days: dict[str, Any] = {
            "made_earliest_on": quarter.earliest,
            "made_latest_on": quarter.latest,
        }
        store.reel(site, hose=hose, code=code, **days)
    store.reel(site, hose=hose, code="undated", made_earliest_on=None, made_latest_on=None)
    store.reel(site, hose=hose, code="empty", metres="10")
    StockItem.objects.filter(reel__code="empty").update(balance=0)
    offered = reels_for(keeper, site=site, hose=hose, on=TODAY)
    assert [one.code for one in offered] == ["old", "new", "undated", "past"]
    assert offered[-1].too_old.startswith("Too old to build from since 2025-04-01")
    assert "DIN 20066" in offered[-1].too_old
    assert offered[2].age_words == "age not known: nobody has read when it was made"


def test_a_limit_for_some_places_is_told_beside(site: Site, keeper: Person) -> None:
    make.life_rule(reel_age_months=48, source="DIN 20066")
    make.life_rule(reel_age_months=12, source="our own", consequence="hurts")
    make.life_rule(reel_age_months=6, source="elsewhere", site=make.site())
    make.life_rule(reel_age_months=6, source="another hose", hose_type="4SP")
    reel = store.reel(site, made_earliest_on=dt.date(2025, 1, 1), made_latest_on=None)
    one = reels_for(keeper, site=site, hose=reel.hose, on=TODAY)[0]
    assert one.too_old == ""
    assert len(one.too_old_where) == 1
    assert one.too_old_where[0].startswith("For places where a failure")
    assert "since 2026-01-01" in one.too_old_where[0]


def test_choosing_takes_the_same_queries_for_many_reels(
    site: Site, keeper: Person, django_assert_num_queries: Callable[[int], Any]
) -> None:
    hose = make.hose().header
    for _ in range(6):
        store.reel(site, hose=hose)
    reels_for(keeper, site=site, hose=hose, on=TODAY)  # the person's own rights are read once
    with django_assert_num_queries(3):
        assert len(reels_for(keeper, site=site, hose=hose, on=TODAY)) == 6


def test_pieces_are_added_to_their_lot_however_it_is_typed(site: Site, keeper: Person) -> None:
    fitting = make.fitting().header
    parts = Parts(Decimal(20), fitting=fitting, lot="2603-7a", supplier="Harrow Ends")
    first = receive_parts(site=site, parts=parts, person=keeper, at=NOW)
    again = replace(parts, lot="2603-7A")
    assert receive_parts(site=site, parts=again, person=keeper, at=NOW).pk == first.pk
    offered = lots_for(keeper, site=site, fitting=fitting)
    assert [(one.lot, one.words) for one in offered] == [("2603-7a", "2603-7a: 40 left")]


def test_a_shell_and_a_small_part_come_in_too(site: Site, keeper: Person) -> None:
    shell = shop.shell().header
    receive_parts(site=site, parts=Parts(Decimal(5), shell=shell, lot="S1"), person=keeper, at=NOW)
    for name in ("Plastic cap", "plastic  CAP"):
        receive_parts(site=site, parts=Parts(Decimal(5), name=name), person=keeper, at=NOW)
    assert [one.pieces for one in lots_for(keeper, site=site, shell=shell)] == [5]
    assert StockItem.objects.get(name="Plastic cap").balance == 10


@pytest.mark.parametrize(
    ("facts", "code", "field", "words"),
    [
        ({}, "one_thing", "name", "Name one thing"),
        ({"fitting": True, "name": "cap"}, "one_thing", "name", "Name one thing"),
        ({"fitting": True}, "lot_missing", "lot", "by it a bad lot is found again"),
        ({"fitting": "withdrawn", "lot": "1"}, "part_withdrawn", "fitting", "withdrawn from"),
        ({"fitting": True, "lot": "1" * 41}, "field_wrong", "lot", "at most 40"),
        ({"name": "n" * 121}, "field_wrong", "name", "at most 120"),
        ({"name": "cap", "supplier": "s" * 121}, "field_wrong", "supplier", "at most 120"),
        ({"name": "cap", "pieces": Decimal(0)}, "quantity_wrong", "quantity", "Nothing would"),
        ({"name": "cap", "pieces": Decimal("1.5")}, "quantity_wrong", "quantity", "whole pieces"),
    ],
)
def test_refuses_parts_that_can_not_be(
    facts: dict[str, Any], code: str, field: str, words: str, site: Site, keeper: Person
) -> None:
    if facts.get("fitting"):
        fitting = make.fitting().header
        if facts["fitting"] == "withdrawn":
            fitting.withdrawn_at = NOW
        facts = {**facts, "fitting": fitting}
    with pytest.raises(Refused, match=words) as refused:
        receive_parts(
            site=site, parts=Parts(**{"pieces": Decimal(5), **facts}), person=keeper, at=NOW
        )
    assert (refused.value.code, refused.value.field) == (code, field)
    assert StockItem.objects.count() == 0


def test_a_level_is_the_things_and_a_new_lot_inherits_it(site: Site, keeper: Person) -> None:
    fitting = make.fitting().header
    lots = [store.fitting_lot(site, fitting=fitting) for _ in range(2)]
    set_level(item=lots[0], level=Decimal(8), person=keeper, at=NOW)
    third = receive_parts(
        site=site, parts=Parts(Decimal(1), fitting=fitting, lot="new"), person=keeper, at=NOW
    )
    levels = StockItem.objects.filter(fitting=fitting).values_list("reorder_at", flat=True)
    assert (set(levels), third.reorder_at) == ({Decimal(8)}, 8)
    with pytest.raises(Refused, match="A level is 0 to 100,000"):
        set_level(item=lots[0], level=Decimal(-1), person=keeper, at=NOW)


def test_a_withdrawn_lot_is_offered_to_nobody(site: Site, keeper: Person) -> None:
    lot = store.fitting_lot(site)
    assert lot.fitting is not None
    withdraw_lot(item=lot, reason="soft nuts", person=keeper, at=NOW)
    assert lots_for(keeper, site=site, fitting=lot.fitting) == ()
    for reason, words in ((" ", "Say why"), ("again", "withdrawn already")):
        with pytest.raises(Refused, match=words):
            withdraw_lot(item=lot, reason=reason, person=keeper, at=NOW)
    with pytest.raises(Refused, match="withdraw the reel itself"):
        withdraw_lot(item=store.item_of(store.reel(site)), reason="x", person=keeper, at=NOW)


@pytest.mark.parametrize("kind", [Crimper, Instrument])
def test_a_tool_is_added_changed_calibrated_and_withdrawn(
    kind: Any, site: Site, keeper: Person
) -> None:
    facts = {"code": "T-1", "description": "bench"}
    tool = add_tool(kind=kind, site=site, facts=facts, person=keeper, at=NOW, today=TODAY)
    change_tool(tool=tool, facts={"code": "T-2"}, person=keeper, at=NOW, today=TODAY)
    due = TODAY + dt.timedelta(days=365)
    calibrate_tool(tool=tool, calibrated_on=TODAY, due_on=due, person=keeper, at=NOW, today=TODAY)
    withdraw_tool(tool=tool, reason="dropped", person=keeper, at=NOW)
    tool.refresh_from_db()
    assert (tool.code, tool.calibration_due_on, tool.withdrawal_reason) == ("T-2", due, "dropped")
    noun = kind._meta.verbose_name
    deeds = set(TrailEntry.objects.values_list("deed", flat=True))
    assert {f"{what} {noun}" for what in ("added", "changed", "calibrated", "withdrew")} <= deeds
    with pytest.raises(Refused, match="T-2 is withdrawn: dropped"):
        change_tool(tool=tool, facts={"code": "T-3"}, person=keeper, at=NOW, today=TODAY)


@pytest.mark.parametrize(
    ("facts", "code", "field", "words"),
    [
        ({"code": " "}, "code_missing", "code", "the code that stands on it"),
        ({"code": "t-TAKEN"}, "code_taken", "code", "has the instrument t-TAKEN already"),
        ({"code": "c" * 41}, "field_wrong", "code", "at most 40"),
        ({"description": "d" * 121}, "field_wrong", "description", "at most 120"),
        (
            *({"calibrated_on": TODAY + dt.timedelta(days=1)}, "calibrated_to_come"),
            *("calibrated_on", "still to come"),
        ),
        (
            *({"calibrated_on": TODAY, "calibration_due_on": TODAY}, "due_before_calibrated"),
            *("calibration_due_on", "is not after 2026-03-09"),
        ),
    ],
)
def test_refuses_a_tool_that_can_not_be(
    facts: dict[str, Any], code: str, field: str, words: str, site: Site, keeper: Person
) -> None:
    Instrument.objects.create(site=site, code="T-taken")
    with pytest.raises(Refused, match=words) as refused:
        add_tool(
            kind=Instrument,
            site=site,
            facts={"code": "T-1", **facts},
            person=keeper,
            at=NOW,
            today=TODAY,
        )
    assert (refused.value.code, refused.value.field) == (code, field)


def test_another_sites_keeper_adds_and_changes_no_tool(site: Site) -> None:
    stranger, tool = make.person("storeman", at=make.site()), Crimper(site=site, code="C")
    tool.save()
    with pytest.raises(NotAllowed):
        change_tool(tool=tool, facts={"code": "D"}, person=stranger, at=NOW, today=TODAY)
    with pytest.raises(NotAllowed):
        withdraw_tool(tool=tool, reason="mine", person=stranger, at=NOW)
    with pytest.raises(Refused, match="Say why"):
        withdraw_tool(tool=tool, reason="", person=make.person("storeman", at=site), at=NOW)
