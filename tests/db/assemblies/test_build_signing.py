"""Signing: only what is good by its sheet, sealed, tagged, taken from stock, put in store."""

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest
from django.db import IntegrityError, connection, transaction

from assemblies.actions.build_signing import (
    NotGood,
    Signing,
    sign_build,
)
from assemblies.actions.build_writing import Typed, record_build
from assemblies.actions.recipes import withdraw_recipe_revision
from assemblies.actions.specs import EndChoice, SpecContent, withdraw_spec_revision
from assemblies.actions.tags import draw_lot
from assemblies.models import (
    Assembly,
    BuildEnd,
    RecipeRevision,
    Stay,
    StockItem,
    StockMovement,
    Tag,
)
from assemblies.signals import build_signed
from fleet.actions.refusals import Refused
from fleet.models import TrailEntry
from fleet.permissions import NotAllowed
from scheduling.models import Due
from tests import factories as make
from tests.db.assemblies import build_bench as bb
from tests.db.assemblies import spec_shop as shop
from tests.db.assemblies import store

pytestmark = pytest.mark.django_db
D = Decimal


def test_a_signed_piece_is_usable_tagged_and_in_store_with_its_facts() -> None:
    at = bb.bench()
    signer = make.person("fitter", at=at.site)
    build = bb.sign(bb.made(at), signer, store_place="rack 3")
    hose = Assembly.objects.get(build=build)
    assert (hose.condition, hose.length_mm, hose.working_pressure_bar) == ("usable", 1200, 275)
    assert (hose.hose_type, hose.size_dn, hose.layline) == ("2SN", 12, at.reel.layline)
    assert hose.end_a == "24° cone, heavy S16 M24×1.5 straight"
    assert hose.tag is not None
    assert (hose.made_earliest_on, hose.made_latest_on) == store.MADE
    assert (hose.built_earliest_on, hose.built_latest_on) == (bb.TODAY, bb.TODAY)
    assert (build.made_by, build.signed_by, build.signed_at) == (at.fitter, signer, bb.NOW)
    stay = Stay.objects.get(assembly=hose, is_open=True)
    assert (stay.place, stay.store_place) == ("store", "rack 3")
    assert Stay.objects.get(assembly=hose, is_open=False).place == "bench"


def test_its_judged_lines_are_kept_as_they_stood() -> None:
    build = bb.signed(bb.bench())
    od = next(line for line in build.judged if line["field"] == "a_od")
    assert (od["wanted"], od["got"], od["verdict"]) == (
        "Ø 24.60 ±0.10 mm",
        "24.60\u00a0mm",
        "good",
    )


def test_the_lowest_rating_counts_for_the_assembly() -> None:
    end = shop.end(working_pressure_bar=D(160))
    hose = make.hose()
    shop.approved_recipe(hose, end, die_set="D 24")
    build = bb.signed(bb.bench(shop.approved("S-low", hose=hose, near=end, far=end)))
    assert build.assembly.working_pressure_bar == 160


def test_it_may_stay_on_the_bench() -> None:
    at = bb.bench()
    build = bb.sign(bb.made(at), at.fitter, to="bench")
    assert Stay.objects.get(assembly=build.assembly).place == "bench"


def test_reel_fittings_and_shells_are_taken_from_stock_under_its_tag() -> None:
    hose, end, shell = make.hose(), make.fitting(), shop.shell()
    shop.approved_recipe(hose, end, shell, die_set="D 24")
    choice = EndChoice(end.header, shell.header)
    content = SpecContent({"hose": hose.header, "length_mm": D(1200)}, choice, choice, ())
    at = bb.bench(shop.approved("S-shell", of=content))
    build = bb.signed(at)
    used = StockMovement.objects.filter(kind="used", reference=build.assembly.tag_id)
    assert sorted(used.values_list("quantity", flat=True)) == [-2, -2, D("-1.2")]
    assert StockItem.objects.get(reel=at.reel).balance == D("58.8")
    assert StockItem.objects.get(pk=at.shells["A"].pk).balance == 38


def test_a_printed_blank_tag_is_taken_where_one_is_typed() -> None:
    at = bb.bench()
    draw_lot(site=at.site, size=1, person=at.fitter, at=bb.NOW)
    blank = Tag.objects.get()
    build = bb.sign(bb.made(at), at.fitter, tag=blank.code.lower())
    assert build.assembly.tag_id == blank.code


@pytest.mark.parametrize(("typed", "code"), [("no tag", "not_a_tag"), ("4KX7W2N", "not_a_tag")])
def test_refuses_a_tag_that_is_none_and_signs_nothing(typed: str, code: str) -> None:
    at = bb.bench()
    build = bb.made(at)
    with pytest.raises(Refused) as refused:
        bb.sign(build, at.fitter, tag=typed)
    assert (refused.value.code, refused.value.field) == (code, "tag")
    assert not StockMovement.objects.filter(kind="used").exists()
    assert Assembly.objects.get(build=build).condition == "held"


def test_refuses_a_tag_of_another_hose() -> None:
    at = bb.bench()
    draw_lot(site=at.site, size=1, person=at.fitter, at=bb.NOW)
    code = Tag.objects.get().code
    bb.sign(bb.made(at), at.fitter, tag=code)
    with pytest.raises(Refused) as refused:
        bb.sign(bb.made(at), at.fitter, tag=code)
    assert refused.value.code == "tag_used"


def test_tells_the_schedule_in_the_same_transaction() -> None:
    at, heard = bb.bench(), []

    def hear(assembly_ids: list[int], **_: Any) -> None:
        heard.append(assembly_ids)

    build_signed.connect(hear)
    try:
        build = bb.signed(at)
    finally:
        build_signed.disconnect(hear)
    assert heard == [[build.assembly_id]]
    assert Due.objects.filter(assembly=build.assembly_id).exists()
    assert TrailEntry.objects.filter(deed="signed a build").count() == 1


OBSTACLES: list[tuple[dict[str, Any], str]] = [
    ({"reel": None}, "Reel: Read the layline"),
    ({"crimper": None}, "Crimper: Name the crimper."),
    ({"made_by": None}, "Made by: Say who made it."),
    ({"cut_square": False}, "Cut square: Say"),
    ({"bore_cleaned_with": ""}, "Bore cleaned: Write"),
    ({"cut_length_mm": None}, "Cut length: Write"),
    ({"cut_length_mm": D(1200)}, "Cut length: Too long by"),
    ({"hose_used_m": D("61")}, "61 m are written as used"),
    ({"finished_length_mm": D(1195)}, "Too short by 1\u00a0mm"),
    ({"stamped": False}, "Stamped: Stamp the shell"),
    ({"flushed_with": ""}, "Flushed: Write"),
    ({"proof_passed": None}, "No proof test is written down"),
    ({"proof_passed": False}, "failed its proof test"),
    ({"proof_pressure_bar": D(549)}, "549\u00a0bar is below the 550\u00a0bar"),
    ({"proof_hold_s": 20}, "20 s is shorter"),
    ({"gauge": None}, "Pressure gauge: Name"),
    ({"a_fitting_lot": None}, "Say from which lot the fitting"),
    ({"a_die_set": "D 30"}, "Die set D 30 is in the crimper"),
    ({"a_insertion_depth_mm": D(28)}, "The mark stands at 28\u00a0mm"),
    ({"a_external_skive": ""}, "End A, outside skive: Say none"),
    ({"a_external_skive": "length", "a_external_skive_mm": D(29)}, "the sheet asks for none"),
    ({"b_internal_skive": "unknown"}, "End B, inside skive: Not known"),
    ({"b_od_readings": ["24.60", "24.60"]}, "3 readings round mid-length"),
    ({"b_od_readings": ["24.71"] * 3}, "Too large by 0.01\u00a0mm"),
    ({"b_od_readings": ["24.49"] * 3}, "Too small by 0.01\u00a0mm"),
    ({"b_od_readings": ["24.50", "24.60", "24.71"]}, "Ovality 0.21\u00a0mm"),
    ({"b_pin": "refuses"}, "must ENTER, and it refused"),
    ({"b_pin": ""}, "Try the pin"),
    ({"b_mark_visible": False}, "no longer shows"),
    ({"b_mark_visible": None}, "Look whether the mark"),
    ({"b_instrument": None}, "Name the instrument"),
]


@pytest.mark.parametrize(("other", "sentence"), OBSTACLES)
def test_each_obstacle_is_a_sentence_and_nothing_is_signed(
    other: dict[str, Any], sentence: str
) -> None:
    at = bb.bench()
    build = bb.made(at, **other)
    with pytest.raises(NotGood) as refused:
        bb.sign(build, at.fitter)
    assert any(sentence in one for one in refused.value.obstacles), refused.value.obstacles
    build.refresh_from_db()
    assert (build.signed_at, build.assembly.tag) == (None, None)


def test_a_tool_out_of_calibration_on_the_day_is_an_obstacle() -> None:
    at = bb.bench()
    late = bb.instrument(at.site, calibration_due_on=bb.TODAY - dt.timedelta(days=1))
    with pytest.raises(NotGood) as refused:
        bb.sign(bb.made(at, gauge=late, a_instrument=late), at.fitter)
    assert len(refused.value.obstacles) == 2
    assert "was due for calibration on 2026-03-08" in refused.value.obstacles[0]


def test_a_reel_too_old_by_a_life_rule_is_an_obstacle() -> None:
    make.life_rule(reel_age_months=6, source="DIN 20066")
    at = bb.bench()
    with pytest.raises(NotGood) as refused:
        bb.signed(at)
    assert "too old to build from" in refused.value.obstacles[0].lower()
    assert "DIN 20066" in refused.value.obstacles[0]


def test_a_reel_of_unknown_age_is_signed_for_with_a_note() -> None:
    at = bb.bench()
    facts: dict[str, Any] = {"made_earliest_on": None, "made_latest_on": None}
    undated = store.reel(at.site, hose=at.spec.hose, **facts)
    with pytest.raises(NotGood) as refused:
        bb.sign(bb.made(at, reel=undated), at.fitter)
    assert "In doubt: reel" in refused.value.obstacles[0]
    build = bb.signed(at, reel=undated, note="The supplier says 2025; manager asked.")
    assert build.assembly.made_earliest_on is None


def test_a_withdrawn_reel_is_an_obstacle() -> None:
    at = bb.bench()
    at.reel.withdrawn_at, at.reel.withdrawal_reason = bb.NOW, "Bad batch."
    at.reel.save()
    with pytest.raises(NotGood) as refused:
        bb.signed(at)
    assert "It is withdrawn: Bad batch." in refused.value.obstacles[0]


def test_a_recipe_or_spec_withdrawn_meanwhile_is_an_obstacle() -> None:
    at = bb.bench()
    build, manager = bb.made(at), make.person("manager")
    recipe = RecipeRevision.objects.get(header__hose=at.spec.hose)
    told: dict[str, Any] = {"reason": "Blew off.", "person": manager, "at": bb.NOW}
    withdraw_recipe_revision(revision=recipe, **told)
    withdraw_spec_revision(revision=at.spec, **told)
    with pytest.raises(NotGood) as refused:
        bb.sign(build, at.fitter)
    assert sum("is withdrawn: Blew off." in one for one in refused.value.obstacles) == 3


def test_a_lot_that_is_short_or_withdrawn_is_an_obstacle() -> None:
    at = bb.bench()
    fitting = at.lots["A"].fitting
    short = store.fitting_lot(at.site, fitting=fitting, pieces="1")
    gone = store.fitting_lot(at.site, fitting=fitting)
    StockItem.objects.filter(pk=gone.pk).update(withdrawn_at=bb.NOW, withdrawal_reason="Cracked")
    both = bb.made(at, a_fitting_lot=short, b_fitting_lot=short)
    with pytest.raises(NotGood, match="has 1 left in stock, 2 are used"):
        bb.sign(both, at.fitter)
    with pytest.raises(NotGood, match="Cracked"):
        bb.sign(bb.made(at, a_fitting_lot=gone), at.fitter)


def test_refuses_a_version_that_was_changed_since_it_was_seen() -> None:
    at = bb.bench()
    build = bb.made(at)
    with pytest.raises(Refused) as refused:
        sign_build(build=build, seen=1, signing=Signing(), person=at.fitter, at=bb.NOW)
    assert refused.value.code == "changed_meanwhile"


def test_refuses_a_place_that_is_none() -> None:
    at = bb.bench()
    with pytest.raises(Refused) as refused:
        bb.sign(bb.made(at), at.fitter, to="position")
    assert (refused.value.code, refused.value.field) == ("place_unknown", "to")


def test_signed_again_by_the_same_person_it_is_signed_once() -> None:
    at = bb.bench()
    build = bb.made(at)
    for _ in range(2):
        sign_build(build=build, seen=build.version, signing=Signing(), person=at.fitter, at=bb.NOW)
    assert StockMovement.objects.filter(kind="used").count() == 2
    assert TrailEntry.objects.filter(deed="signed a build").count() == 1


def test_signed_again_by_another_it_is_refused() -> None:
    at = bb.bench()
    build = bb.signed(at)
    with pytest.raises(Refused) as refused:
        bb.sign(build, make.person("fitter", at=at.site))
    assert refused.value.code == "build_signed"


def test_only_who_may_build_signs() -> None:
    at = bb.bench()
    build = bb.made(at)
    for role in ("planner", "manager", "storeman", "inspector"):
        with pytest.raises(NotAllowed):
            bb.sign(build, make.person(role, at=at.site))
    with pytest.raises(NotAllowed):
        bb.sign(build, make.person("fitter", at=make.site()))


def test_what_is_signed_is_sealed_by_the_database() -> None:
    build = bb.signed(bb.bench())
    end = BuildEnd.objects.filter(build=build).first()
    assert end is not None
    for table, row in (("assemblies_buildrecord", build.pk), ("assemblies_buildend", end.pk)):
        column = "note" if table.endswith("record") else "pin"
        statement = f"UPDATE {table} SET {column} = 'other' WHERE id = {row}"
        with pytest.raises(IntegrityError, match="sealed"), transaction.atomic():
            connection.cursor().execute(statement)


def test_of_a_site_that_asks_one_in_three_the_third_after_a_test_is_tested() -> None:
    at = bb.bench(site=make.site(proof_test="one_in_n", proof_test_one_in=3))
    bb.signed(at)
    for _ in range(2):
        bb.signed(at, proof_passed=None)
    with pytest.raises(NotGood, match="one piece in 3, and none of the last 2 signed was tested"):
        bb.signed(at, proof_passed=None)


def test_a_site_that_asks_none_tests_unmatched_parts_all_the_same() -> None:
    at = bb.bench(site=make.site(proof_test="none"))
    assert bb.signed(at, proof_passed=None).signed_at is not None


def test_a_record_is_written_and_signed_in_a_number_of_queries_that_does_not_grow(
    django_assert_max_num_queries: Any,
) -> None:
    at = bb.bench()
    for _ in range(3):
        bb.signed(at)
    build = bb.piece(at)
    typed = bb.by_the_sheet(at)
    with django_assert_max_num_queries(45):
        record_build(build=build, typed=typed, seen=1, person=at.fitter, at=bb.NOW)
    with django_assert_max_num_queries(90):
        bb.sign(build, at.fitter)
    assert isinstance(typed, Typed)
