"""Specs: drafted, changed, copied, approved against the duty, replaced, withdrawn, required."""

from decimal import Decimal
from typing import Any

import pytest
from django.db import IntegrityError

from assemblies.actions.specs import (
    SPEC,
    EndChoice,
    Sleeve,
    add_spec,
    approve_spec,
    change_spec_draft,
    copy_spec,
    draft_spec_revision,
    require_spec,
    withdraw_spec_revision,
)
from assemblies.models import SpecEnd, SpecRevision, SpecSleeve
from fleet.actions.refusals import Refused
from fleet.models import TrailEntry
from fleet.permissions import NotAllowed
from tests import factories as make
from tests.db.assemblies import spec_shop as shop

pytestmark = pytest.mark.django_db
NOW = make.NOW
BENT = {"form": "elbow_90", "turns": "swivel_nut"}


def check_refusal(code: str, call: Any, /, **arguments: Any) -> Refused:
    with pytest.raises(Refused) as caught:
        call(**arguments)
    assert caught.value.code == code, caught.value.sentence
    assert caught.value.sentence.endswith(".")
    return caught.value


def check_refused_draft(code: str, of: Any) -> Refused:
    return check_refusal(code, add_spec, code="S-9", title="x", content=of, person=None, at=NOW)


def check_refused_approval(code: str, **facts: Any) -> Refused:
    return check_refusal(code, shop.approve, revision=shop.draft(**facts))


def test_a_new_spec_is_a_draft_with_two_ends_and_its_trail() -> None:
    draft = shop.draft()
    assert (draft.number, draft.state, draft.ends.count()) == (1, "draft", 2)
    assert TrailEntry.objects.get(deed="added spec").after["code"] == "S-1"


def test_approving_replaces_the_one_approved_before() -> None:
    first = shop.approved()
    again = draft_spec_revision(
        header=first.header, content=shop.content(length_mm=Decimal(1300)), person=None, at=NOW
    )
    shop.approve(again)
    states = first.header.revisions.order_by("number").values_list("state", flat=True)
    assert list(states) == ["replaced", "approved"]


@pytest.mark.parametrize("change", [{"length_mm": Decimal(1)}, {"note": "x"}, {"number": 7}])
def test_the_database_keeps_an_approved_spec_as_it_is(change: dict[str, Any]) -> None:
    spec = shop.approved()
    with pytest.raises(IntegrityError, match="sealed"):
        SpecRevision.objects.filter(pk=spec.pk).update(**change)


def test_the_database_keeps_its_ends() -> None:
    spec = shop.approved()
    with pytest.raises(IntegrityError, match="sealed"):
        SpecEnd.objects.filter(spec=spec, which="A").delete()


def test_the_database_lets_no_sleeve_be_added_to_it() -> None:
    spec = shop.approved()
    with pytest.raises(IntegrityError, match="sealed"):
        SpecSleeve.objects.create(spec=spec, number=1, kind="guard")


def test_a_draft_is_changed_whole_ends_and_sleeves_too() -> None:
    draft = shop.draft(sleeves=(Sleeve("spiral guard"),))
    seen, person = SPEC.fingerprint(draft), make.person("planner")
    new = shop.content(length_mm=Decimal(900), sleeves=(Sleeve("textile", to_mm=Decimal(300)),))
    change_spec_draft(revision=draft, content=new, seen=seen, person=person, at=NOW)
    draft.refresh_from_db()
    assert (draft.length_mm, draft.sleeves.get().kind) == (Decimal(900), "textile")
    assert "length_mm" in TrailEntry.objects.get(deed="changed spec").before


def test_nobody_approves_ends_they_did_not_see() -> None:
    draft = shop.draft()
    seen = SPEC.fingerprint(draft)
    same = {"hose": draft.hose, "length_mm": draft.length_mm}
    near, far = (EndChoice(one.fitting) for one in draft.ends.all())
    new = shop.content(near=shop.end())
    new = type(new)(same, new.near, far, ())
    assert near != new.near
    person = make.person("planner")
    change_spec_draft(revision=draft, content=new, seen=seen, person=person, at=NOW)
    arguments: dict[str, Any] = {
        "revision": draft,
        "seen": seen,
        "person": make.person("manager"),
        "at": NOW,
    }
    check_refusal("changed_meanwhile", approve_spec, **arguments)


def test_a_copy_says_the_same_under_its_own_code() -> None:
    first = shop.approved(sleeves=(Sleeve("guard", Decimal(10), Decimal(90)),), note="№ 7")
    copy = copy_spec(
        revision=first, code="S-2", title="Left side", person=make.person("planner"), at=NOW
    )
    content, original = SPEC.content(copy), SPEC.content(first)
    assert content == original
    assert (copy.header.code, copy.state) == ("S-2", "draft")


def test_ends_that_do_not_go_into_the_hose_are_refused_at_once() -> None:
    said = check_refused_draft("tail_differs", shop.content(near=shop.end(tail_dn=10)))
    assert said.field == "end_a_fitting"
    assert "DN10" in said.sentence
    assert "DN12" in said.sentence


@pytest.mark.parametrize("straight", ["near", "far"])
def test_an_angle_is_refused_where_an_end_points_nowhere(straight: str) -> None:
    other = "far" if straight == "near" else "near"
    ends: dict[str, Any] = {straight: shop.end(), other: shop.end(**BENT)}
    said = check_refused_draft("angle_meaningless", shop.content(**ends, orientation_deg=90))
    assert said.field == "orientation_deg"


def test_an_angle_is_refused_where_an_elbow_turns_about_the_hose() -> None:
    live = shop.end(form="elbow_90", turns="live_swivel")
    check_refused_draft(
        "angle_meaningless", shop.content(near=live, far=shop.end(**BENT), orientation_deg=90)
    )


def test_two_ends_that_point_somewhere_need_their_angle() -> None:
    check_refused_approval("angle_missing", near=shop.end(**BENT), far=shop.end(**BENT))
    ends: dict[str, Any] = {"near": shop.end(**BENT), "far": shop.end(**BENT)}
    assert shop.approved("S-2", **ends, orientation_deg=0).state == "approved"


@pytest.mark.parametrize("orientation", [360, 400])
def test_an_angle_is_below_a_full_turn(orientation: int) -> None:
    ends: dict[str, Any] = {"near": shop.end(**BENT), "far": shop.end(**BENT)}
    check_refused_draft("does_not_fit", shop.content(**ends, orientation_deg=orientation))


def test_a_one_piece_fitting_takes_no_shell_and_an_insert_needs_one() -> None:
    content = shop.content()
    shell = shop.shell().header
    check_refused_draft(
        "shell_too_many",
        type(content)(content.facts, EndChoice(content.near.fitting, shell), content.far, ()),
    )
    check_refused_approval("shell_missing", near=make.fitting(one_piece=False))


def test_a_shell_of_another_size_is_refused() -> None:
    content = shop.content(near=make.fitting())
    near = EndChoice(content.near.fitting, shop.shell(tail_dn=16).header)
    said = check_refused_draft("shell_differs", type(content)(content.facts, near, content.far, ()))
    assert said.field == "end_a_shell"


def test_a_spec_below_a_positions_duty_is_refused_with_both_figures() -> None:
    draft = shop.draft()
    place = make.position(pressure_bar=Decimal(300), required_spec=draft.header)
    person = make.person("manager", at=place.machine.site)
    said = check_refusal("below_duty", shop.approve, revision=draft, person=person)
    assert f"{place.machine}, {place} asks 300 bar" in said.sentence
    assert "bears 275 bar" in said.sentence


def test_a_surge_and_hot_oil_count_as_duty_too() -> None:
    draft = shop.draft(hose=make.hose(temperature_high_c=100))
    place = make.position(
        pressure_bar=Decimal(200), surge_bar=Decimal(300), required_spec=draft.header
    )
    check_refusal("below_duty", shop.approve, revision=draft)
    place.surge_bar, place.oil_temperature_c = None, 110
    place.save()
    said = check_refusal("below_duty", shop.approve, revision=draft)
    assert "oil at 110 °C" in said.sentence


def test_positions_of_other_sites_are_counted_not_named() -> None:
    draft = shop.draft()
    place = make.position(pressure_bar=Decimal(300), required_spec=draft.header)
    person = make.person("manager", at=make.site())
    said = check_refusal("below_duty", shop.approve, revision=draft, person=person)
    assert str(place.machine) not in said.sentence
    assert "1 more position asks more too" in said.sentence


def test_a_duty_just_met_and_a_withdrawn_position_do_not_stand_in_the_way() -> None:
    draft = shop.draft()
    make.position(pressure_bar=Decimal(275), required_spec=draft.header)
    make.position(pressure_bar=Decimal(400), required_spec=draft.header, withdrawn_at=NOW)
    assert shop.approve(draft).state == "approved"


def test_the_recipes_own_rating_counts_against_the_duty() -> None:
    hose, near = make.hose(), shop.end()
    shop.approved_recipe(hose, near, working_pressure_bar=Decimal(200))
    draft = shop.draft(hose=hose, near=near)
    make.position(pressure_bar=Decimal(250), required_spec=draft.header)
    said = check_refusal("below_duty", shop.approve, revision=draft)
    assert "bears 200 bar" in said.sentence


def test_a_part_without_a_rating_refuses_approval_and_names_the_part() -> None:
    near = shop.end(working_pressure_bar=None, rating_source="")
    said = check_refused_approval("rating_unknown", near=near)
    assert f"fitting {near.header} (end A)" in said.sentence


@pytest.mark.parametrize(
    ("code", "facts"),
    [
        ("allowance_missing", {"near": {"allowance_mm": None}}),
        ("basis_mismatch", {"near": {"allowance_counts_from": "overall"}}),
        ("too_short", {"near": {"allowance_mm": Decimal(1000)}, "length_mm": Decimal(1000)}),
        ("test_out_of_range", {"test_pressure_bar": Decimal(200)}),
        ("test_out_of_range", {"test_pressure_bar": Decimal(1100)}),
        ("sleeve_too_long", {"sleeves": (Sleeve("guard", to_mm=Decimal(1201)),)}),
    ],
)
def test_approval_waits_for_what_the_bench_must_know(code: str, facts: dict[str, Any]) -> None:
    whole = {k: shop.end(**v) if isinstance(v, dict) else v for k, v in facts.items()}
    check_refused_approval(code, **whole)


def test_a_size_without_a_published_tolerance_needs_its_own() -> None:
    parts = {
        "hose": make.hose(size_dn=63),
        "near": shop.end(tail_dn=63),
        "far": shop.end(tail_dn=63),
    }
    check_refused_approval("tolerance_unknown", **parts)
    own = {"tolerance_plus_mm": Decimal(30), "tolerance_minus_mm": Decimal(10)}
    assert shop.approved("S-2", **parts, **own).state == "approved"


def test_half_a_tolerance_is_refused() -> None:
    check_refused_draft("tolerance_half", shop.content(tolerance_plus_mm=Decimal(5)))


@pytest.mark.parametrize("part", ["hose", "near"])
def test_a_draft_part_refuses_approval(part: str) -> None:
    facts = {"state": "draft", "approved_by": None, "approved_at": None}
    made = make.hose(**facts) if part == "hose" else shop.end(**facts)
    check_refused_approval("part_not_approved", **{part: made})


def test_who_drafted_a_spec_does_not_approve_it_alone() -> None:
    site = make.site()
    person = make.person("planner", at=site)
    draft = add_spec(code="S-1", title="x", content=shop.content(), person=person, at=NOW)
    check_refusal("approves_alone", shop.approve, revision=draft, person=person)
    site.approves_alone = True
    site.save()
    assert shop.approve(draft, type(person).objects.get(pk=person.pk)).approved_by == person


@pytest.mark.parametrize("role", ["fitter", "storeman", "inspector", "safety officer"])
def test_others_may_neither_draft_nor_approve(role: str) -> None:
    person, draft = make.person(role), shop.draft()
    with pytest.raises(NotAllowed):
        add_spec(code="S-2", title="x", content=shop.content(), person=person, at=NOW)
    with pytest.raises(NotAllowed):
        shop.approve(draft, person)


def test_withdrawing_takes_an_approved_spec_out_for_a_reason() -> None:
    spec, person = shop.approved(), make.person("safety officer")
    check_refusal(
        "reason_missing", withdraw_spec_revision, revision=spec, reason="", person=person, at=NOW
    )
    done = withdraw_spec_revision(revision=spec, reason="wrong length", person=person, at=NOW)
    assert done.state == "withdrawn"


def test_a_position_may_not_require_a_spec_that_bears_less() -> None:
    place = make.position(pressure_bar=Decimal(300))
    arguments: dict[str, Any] = {
        "position": place,
        "spec": shop.approved().header,
        "version": place.version,
    }
    planner = make.person("planner", at=place.machine.site)
    said = check_refusal("below_duty", require_spec, **arguments, person=planner, at=NOW)
    assert said.field == "required_spec"
    place.pressure_bar = Decimal(250)
    place.save()
    assert require_spec(**arguments, person=planner, at=NOW).required_spec == arguments["spec"]
