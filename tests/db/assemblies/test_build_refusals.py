"""Every box of the bench's forms and everything it can be refused for, with its sentence."""

from decimal import Decimal
from typing import Any

import pytest
from django import forms
from django.urls import reverse

from assemblies.actions.specs import EndChoice, SpecContent
from assemblies.forms.builds import (
    AmendForm,
    AsideForm,
    BeginForm,
    PieceForm,
    ScrapForm,
    SharedForm,
    SignBatchForm,
    SignForm,
)
from assemblies.models import BuildRecord
from assemblies.queries.builds import build_for, piece_page
from tests import factories as make
from tests.db.assemblies import build_bench as bb
from tests.db.assemblies import spec_shop as shop
from tests.db.assemblies.test_bench_pages import at, boxes, client
from tests.db.fleet.photo_files import picture, sent

pytestmark = pytest.mark.django_db
D = Decimal

NOT_OFFERED = "Select a valid choice"
LONG = "x" * 2000
TOO_LONG = "Ensure this value has at most"
END_CASES: list[tuple[str, str, str]] = [
    ("fitting_lot", "999999", NOT_OFFERED),
    ("fitting_lot", "lot", NOT_OFFERED),
    ("shell_lot", "999999", NOT_OFFERED),
    ("insertion_depth_mm", "deep", "is not a length"),
    ("insertion_depth_mm", "501", "501 mm is more than 500 mm"),
    ("insertion_depth_mm", "-3", "below nothing"),
    ("external_skive", "some", NOT_OFFERED),
    ("external_skive_mm", "a bit", "is not a length"),
    ("external_skive_mm", "600", "more than 500 mm"),
    ("internal_skive", "some", NOT_OFFERED),
    ("internal_skive_mm", "a bit", "is not a length"),
    ("internal_skive_mm", "600", "more than 500 mm"),
    ("die_set", LONG, TOO_LONG),
    ("setting_mm", "wide", "is not a length"),
    ("setting_mm", "501", "more than 500 mm"),
    ("od_1", "wide", "is not a length"),
    ("od_1", "501", "more than 500 mm"),
    ("od_1", "26.70", "are not of one crimp"),
    ("od_1", "0", "is no crimp's OD"),
    ("od_1", "24.60 bar", "stands none of"),
    ("instrument", "999999", NOT_OFFERED),
    ("pin", "maybe", NOT_OFFERED),
    ("must_pass_pin", "maybe", NOT_OFFERED),
    ("mark_visible", "maybe", NOT_OFFERED),
]
CASES: list[tuple[str, str, str]] = [
    ("built_on", "", "This field is required"),
    ("built_on", "9/3/2026", "could be two days"),
    ("built_on", "soon", "is not a day"),
    ("built_on", "2199-01-01", "still to come"),
    ("built_on", "2026-03-08", "Its sheet was printed on 2026-03-09"),
    ("made_by", "999999", NOT_OFFERED),
    ("reel", "999999", NOT_OFFERED),
    ("crimper", "999999", NOT_OFFERED),
    ("cut_length_mm", "long", "is not a length"),
    ("cut_length_mm", "100001", "more than 100000 mm"),
    ("cut_length_mm", "1,200", "could be"),
    ("hose_used_m", "much", "is not a length"),
    ("hose_used_m", "1001", "bigger than anything met in the trade"),
    ("bore_cleaned_with", LONG, TOO_LONG),
    ("finished_length_mm", "long", "is not a length"),
    ("finished_length_mm", "100001", "more than 100000 mm"),
    ("angle_deg", "360", "less than or equal to 359"),
    ("angle_deg", "-1", "greater than or equal to 0"),
    ("angle_deg", "right", "Enter a whole number"),
    ("proof_pressure_bar", "much", "is not a pressure"),
    ("proof_pressure_bar", "99999 bar", "bigger than anything met in the trade"),
    ("proof_pressure_bar", "-1 bar", "below nothing"),
    ("proof_hold_s", "3601", "less than or equal to 3600"),
    ("proof_hold_s", "long", "Enter a whole number"),
    ("gauge", "999999", NOT_OFFERED),
    ("proof_passed", "maybe", NOT_OFFERED),
    ("flushed_with", LONG, TOO_LONG),
    ("cleanliness", LONG, TOO_LONG),
    ("note", LONG, TOO_LONG),
    ("seen", "", "This field is required"),
    ("seen", "0", "greater than or equal to 1"),
    ("photos_id", LONG, TOO_LONG),
    *((f"{end}_{name}", typed, said) for end in "ab" for name, typed, said in END_CASES),
]
WITH_TWO_BOXES: list[tuple[str, dict[str, str], str]] = [
    ("a_external_skive", {"a_external_skive_mm": "29"}, "You chose “none” and wrote 29"),
    ("b_internal_skive", {"b_internal_skive_mm": "9"}, "You chose “none” and wrote 9"),
]
# A tick says yes or no, whatever is sent.
TICKS = {"cut_square", "stamped", "a_closed_again", "b_closed_again"}
ELSEWHERE = {"photos"}  # a file: tried below


def full_bench() -> bb.Bench:
    """A sheet that asks for all there is: an angle, loose shells, a pin and a smaller one."""
    elbow = {"form": "elbow_90", "turns": "swivel_nut", "drop_mm": D("40.0")}
    hose, end, shell = make.hose(), make.fitting(**elbow), shop.shell()
    pins = {"pin_mm": D("9.80"), "must_pass_pin_mm": D("9.20")}
    shop.approved_recipe(hose, end, shell, die_set="D 24", **pins)
    choice = EndChoice(end.header, shell.header)
    facts = {"hose": hose.header, "length_mm": D(1200), "orientation_deg": 90}
    content = SpecContent(facts, choice, choice, ())
    return bb.bench(shop.approved("S-full", of=content))


def answered(bench: bb.Bench, build: BuildRecord, **other: str) -> dict[str, list[str]]:
    """What is wrong with a piece that is written as its sheet says but for some boxes."""
    typed = {**boxes(bench, build), **other}
    accept: dict[str, Any] = {"headers": {"accept": "application/json"}}
    answer = client(bench.fitter).post(at("build", build.pk), typed, **accept)
    build.refresh_from_db()
    assert (answer.status_code, build.version) == (422, 1)
    wrong: dict[str, list[str]] = answer.json()["wrong"]
    return wrong


@pytest.mark.parametrize(("field", "typed", "sentence"), CASES)
def test_each_box_says_what_is_wrong_with_it(field: str, typed: str, sentence: str) -> None:
    bench = full_bench()
    wrong = answered(bench, bb.piece(bench), **{field: typed})
    named = field.replace("_od_1", "_od")
    assert any(sentence in said for said in wrong[named]), wrong


@pytest.mark.parametrize(("field", "typed", "sentence"), WITH_TWO_BOXES)
def test_two_boxes_that_say_two_things_are_asked_about(
    field: str, typed: dict[str, str], sentence: str
) -> None:
    bench = full_bench()
    wrong = answered(bench, bb.piece(bench), **typed)
    assert any(sentence in said for said in wrong[field])


def test_every_box_of_a_piece_has_its_rows() -> None:
    bench = full_bench()
    build = build_for(bench.fitter, bb.piece(bench).pk)
    assert build is not None
    page = piece_page(bench.fitter, build)
    assert page is not None
    form = PieceForm(content=page.content, choices=page.choices)
    tried = {field.replace("_od_1", "_od") for field, _, _ in CASES}
    assert set(form.fields) == tried | TICKS | ELSEWHERE


def test_a_photo_that_is_none_or_too_many_is_refused() -> None:
    bench = bb.bench()
    build = bb.piece(bench)
    accept: dict[str, Any] = {"headers": {"accept": "application/json"}}
    for files, sentence in (
        ([sent(b"no picture")], "can’t be read as a photo"),
        ([sent(picture()) for _ in range(9)], "9 photos are more than 8"),
    ):
        typed: dict[str, Any] = {**boxes(bench, build), "photos": files}
        answer = client(bench.fitter).post(at("build", build.pk), typed, **accept)
        assert sentence in answer.json()["wrong"]["photos"][0]


SMALL: list[tuple[type[forms.Form], str, str, str]] = [
    (BeginForm, "quantity", "", "This field is required"),
    (BeginForm, "quantity", "0", "greater than or equal to 1"),
    (BeginForm, "quantity", "201", "less than or equal to 200"),
    (BeginForm, "quantity", "some", "Enter a whole number"),
    (BeginForm, "client_id", "", "This field is required"),
    (BeginForm, "client_id", LONG, TOO_LONG),
    (AsideForm, "reason", "", "This field is required"),
    (AsideForm, "reason", LONG, TOO_LONG),
    (SignForm, "seen", "", "This field is required"),
    (SignForm, "seen", "0", "greater than or equal to 1"),
    (SignForm, "tag", LONG, TOO_LONG),
    (SignForm, "to", "", "This field is required"),
    (SignForm, "to", "position", NOT_OFFERED),
    (SignForm, "store_place", LONG, TOO_LONG),
    (SignBatchForm, "to", "scrapped", NOT_OFFERED),
    (SignBatchForm, "store_place", LONG, TOO_LONG),
    (ScrapForm, "seen", "x", "Enter a whole number"),
    (ScrapForm, "reason", "", "This field is required"),
    (ScrapForm, "reason", LONG, TOO_LONG),
    (ScrapForm, "scrap_hose_m", "", "This field is required"),
    (ScrapForm, "scrap_hose_m", "much", "is not a length"),
    (ScrapForm, "scrap_hose_m", "1001", "bigger than anything met in the trade"),
    (ScrapForm, "ends_crimped", "C", NOT_OFFERED),
    (AmendForm, "text", "", "This field is required"),
    (AmendForm, "text", LONG, TOO_LONG),
    (AmendForm, "reason", "", "This field is required"),
    (AmendForm, "reason", LONG, TOO_LONG),
]


@pytest.mark.parametrize(("form", "field", "typed", "sentence"), SMALL)
def test_each_box_of_the_small_forms_says_what_is_wrong(
    form: type[forms.Form], field: str, typed: str, sentence: str
) -> None:
    sent_in: dict[str, Any] = {field: [typed] if field == "ends_crimped" else typed}
    assert sentence in str(form(sent_in).errors[field])


@pytest.mark.parametrize(
    "form", [BeginForm, AsideForm, SignForm, SignBatchForm, ScrapForm, AmendForm]
)
def test_every_box_of_the_small_forms_has_its_rows(form: type[forms.Form]) -> None:
    tried = {field for kind, field, _, _ in SMALL if kind is form}
    assert set(form.base_fields) == tried


def test_what_a_batch_shares_is_refused_box_by_box() -> None:
    bench = full_bench()
    batch = bb.begun(bench, quantity=2)
    url, who = reverse("assemblies:batch", args=[batch.pk]), client(bench.fitter)
    form = who.get(url).context["form"]
    assert isinstance(form, SharedForm)
    wrong = {name: "999999" for name, box in form.fields.items() if hasattr(box, "choices")}
    wrong |= {name: LONG for name in form.fields if name not in wrong and name != "over"}
    errors = who.post(url, wrong).context["form"].errors
    assert set(errors) == set(form.fields) - {"over"}
    assert all(said[0].startswith((NOT_OFFERED, TOO_LONG)) for said in errors.values())


def test_a_day_that_is_right_and_a_piece_by_the_sheet_are_taken() -> None:
    """The tables above would mean nothing if the rest of the boxes were refused too."""
    bench = full_bench()
    build = bb.piece(bench)
    typed = boxes(bench, build)
    assert client(bench.fitter).post(at("build", build.pk), typed).status_code == 302
    build.refresh_from_db()
    assert (build.version, build.angle_deg) == (2, 90)
