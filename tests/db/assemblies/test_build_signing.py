"""Signing: only what is good by its sheet, sealed, tagged, taken from stock, put in store."""

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest
from django.db import IntegrityError, connection, transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from assemblies.actions.build_signing import (
    NotGood,
    Signing,
    check_first_off,
    sign_batch,
    sign_build,
)
from assemblies.actions.build_writing import Typed, record_build
from assemblies.actions.recipes import withdraw_recipe_revision
from assemblies.actions.specs import EndChoice, SpecContent, withdraw_spec_revision
from assemblies.actions.tags import draw_lot
from assemblies.calc.sheet import SheetContent
from assemblies.models import (
    Assembly,
    BuildEnd,
    BuildRecord,
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


def batch_of_ten(at: bb.Bench, bad: int = 0) -> Any:
    """A batch of ten, all written down; the piece of place `bad` is too small."""
    batch = bb.begun(at, quantity=10)
    for build in batch.builds.order_by("place_in_batch"):
        small: dict[str, Any] = {"a_od_readings": ["24.40"] * 3}
        if build.place_in_batch != bad:
            small = {}
        bb.recorded(at, build, **small)
    return batch


def test_the_rest_of_a_batch_waits_until_the_first_off_is_checked() -> None:
    at = bb.bench(metres="60")
    batch = batch_of_ten(at)
    second = batch.builds.get(place_in_batch=2)
    with pytest.raises(NotGood) as refused:
        bb.sign(second, at.fitter)
    assert refused.value.obstacles == (
        "The first piece of this batch is not checked yet: check it before the rest.",
    )
    check_first_off(batch=batch, person=at.fitter, at=bb.NOW)
    assert bb.sign(second, at.fitter).signed_at is not None


def test_the_good_of_ten_are_signed_in_one_go_and_the_other_says_why() -> None:
    at = bb.bench()
    batch = batch_of_ten(at, bad=4)
    check_first_off(batch=batch, person=at.fitter, at=bb.NOW)
    for _ in range(2):
        found = sign_batch(batch=batch, signing=Signing(), person=at.fitter, at=bb.NOW)
    assert [one.place for one in found] == [4]
    assert "Too small by" in found[0].why_not[0]
    signed = BuildRecord.objects.filter(batch=batch, signed_at__isnull=False)
    assert signed.count() == 9
    assert len({build.assembly.tag_id for build in signed}) == 9
    assert StockItem.objects.get(reel=at.reel).balance == D("49.2")


def test_a_batch_whose_reel_runs_out_signs_what_the_reel_gave() -> None:
    at = bb.bench(metres="3")
    batch = batch_of_ten(at)
    check_first_off(batch=batch, person=at.fitter, at=bb.NOW)
    found = sign_batch(batch=batch, signing=Signing(), person=at.fitter, at=bb.NOW)
    assert [bool(one.why_not) for one in found] == [False] * 2 + [True] * 8
    assert "has 0.6 m left" in found[2].why_not[0]


def test_a_first_off_that_is_not_right_is_not_checked() -> None:
    at = bb.bench()
    batch = bb.begun(at, quantity=2)
    with pytest.raises(Refused) as refused:
        check_first_off(batch=batch, person=at.fitter, at=bb.NOW)
    assert refused.value.code == "first_off_not_good"
    first = batch.builds.get(place_in_batch=1)
    bb.recorded(at, first, proof_passed=None, stamped=False)
    for _ in range(2):
        checked = check_first_off(batch=batch, person=at.fitter, at=bb.NOW)
    assert checked.first_off_checked_by == at.fitter
    assert TrailEntry.objects.filter(deed="checked the first off").count() == 1


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


NEAR: dict[str, st.SearchStrategy[Any]] = {
    "a_od_readings": st.lists(st.decimals(D("24.45"), D("24.75"), places=2), max_size=4).map(
        lambda found: [str(mm) for mm in found]
    ),
    "b_insertion_depth_mm": st.decimals(D(29), D(33), places=2),
    "cut_length_mm": st.decimals(D(1100), D(1125), places=1),
    "finished_length_mm": st.decimals(D(1194), D(1214), places=1),
    "proof_pressure_bar": st.decimals(D(545), D(610), places=2),
    "proof_hold_s": st.integers(25, 35),
    "b_pin": st.sampled_from(["enters", "tight", "refuses"]),
}


@settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))
@given(data=st.data(), names=st.sets(st.sampled_from(sorted(NEAR)), max_size=2))
def test_a_build_signed_as_good_keeps_every_tolerance_of_its_frozen_sheet(
    data: st.DataObject, names: set[str]
) -> None:
    with transaction.atomic():
        at = bb.bench()
        other = {name: data.draw(NEAR[name], label=name) for name in sorted(names)}
        build = bb.made(at, **other)
        try:
            bb.sign(build, at.fitter)
        except NotGood:
            signed = False
        else:
            signed = True
        assert signed is keeps_all(build.pk, at.content)
        transaction.set_rollback(True)


def keeps_all(build_id: int, content: SheetContent) -> bool:
    """Every tolerance once more, from the stored rows, written another way."""
    build = BuildRecord.objects.get(pk=build_id)
    length, test = content.length, content.test
    assert length.cut_length_mm is not None
    assert test.pressure_bar is not None
    kept = [
        -length.minus_mm <= (build.cut_length_mm or 0) - length.cut_length_mm <= length.plus_mm,
        -length.minus_mm <= (build.finished_length_mm or 0) - length.length_mm <= length.plus_mm,
        test.pressure_bar <= (build.proof_pressure_bar or 0) <= test.pressure_bar * D("1.1"),
        (build.proof_hold_s or 0) >= test.hold_from_s,
    ]
    for end in content.ends:
        crimp, row = end.crimp, BuildEnd.objects.get(build=build, which=end.label)
        assert crimp is not None
        assert crimp.pin is not None
        readings = [D(text) for text in row.od_readings]
        kept += [
            len(readings) >= 3,
            sum(readings) >= len(readings) * (crimp.crimp_od_mm - crimp.crimp_od_minus_mm),
            sum(readings) <= len(readings) * (crimp.crimp_od_mm + crimp.crimp_od_plus_mm),
            max(readings, default=D(9)) - min(readings, default=D(0)) <= crimp.ovality_limit_mm,
            abs((row.insertion_depth_mm or 0) - (crimp.insertion_depth_mm or 0)) <= 1,
            row.pin == crimp.pin.expected.value,
        ]
    return all(kept)


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
