"""Beginning builds: pieces on the bench with their records, once, and when it is refused."""

from decimal import Decimal
from typing import Any

import pytest

from assemblies.actions.builds import begin_builds, put_sheet_aside
from assemblies.actions.recipes import (
    RECIPE,
    approve_recipe,
    draft_recipe,
    withdraw_recipe_revision,
)
from assemblies.actions.specs import (
    SPEC,
    EndChoice,
    SpecContent,
    approve_spec,
    draft_spec_revision,
)
from assemblies.models import (
    Assembly,
    BuildBatch,
    BuildEnd,
    BuildRecord,
    FrozenSheet,
    RecipeRevision,
    SpecRevision,
    Stay,
)
from fleet.actions.refusals import Refused
from fleet.models import TrailEntry
from fleet.permissions import NotAllowed
from tests import factories as make
from tests.db.assemblies import build_bench as bb
from tests.db.assemblies import spec_shop as shop

pytestmark = pytest.mark.django_db


def begin(at: bb.Bench, **facts: Any) -> BuildBatch:
    given = {"sheet": at.sheet, "quantity": 1, "client_id": bb.drawn(), "person": at.fitter}
    return begin_builds(**{**given, "at": bb.NOW, **facts})


def test_a_piece_is_an_assembly_on_the_bench_held_until_it_is_signed() -> None:
    at = bb.bench()
    build = begin(at).builds.get()
    assembly = build.assembly
    assert (assembly.origin, assembly.condition, assembly.tag) == ("built", "held", None)
    assert (assembly.spec, assembly.hose) == (at.spec, at.spec.hose)
    stay = Stay.objects.get(assembly=assembly, is_open=True)
    assert (stay.place, stay.from_earliest_on) == ("bench", bb.TODAY)


def test_both_ends_are_stamped_with_the_recipe_revisions_of_the_sheet() -> None:
    at = bb.bench()
    ends = begin(at).builds.get().ends.order_by("which")
    assert [end.which for end in ends] == ["A", "B"]
    printed = [end.crimp.revision for end in at.content.ends if end.crimp]
    assert [end.recipe.number for end in ends if end.recipe] == printed


def test_ten_are_begun_in_one_go_and_once_for_one_id() -> None:
    at = bb.bench()
    first, again = (begin(at, quantity=10, client_id="ten") for _ in range(2))
    assert first == again
    assert list(first.builds.order_by("pk").values_list("place_in_batch", flat=True)) == [
        *range(1, 11)
    ]
    assert (Assembly.objects.count(), BuildEnd.objects.count()) == (10, 20)
    assert TrailEntry.objects.filter(deed="began building").count() == 1


def refusal(at: bb.Bench, **facts: Any) -> Refused:
    with pytest.raises(Refused) as refused:
        begin(at, **facts)
    assert not BuildRecord.objects.exists()
    return refused.value


@pytest.mark.parametrize("quantity", [0, -1, 201])
def test_refuses_a_number_of_pieces_that_is_none(quantity: int) -> None:
    assert refusal(bb.bench(), quantity=quantity).code == "quantity"


def test_refuses_a_spec_that_was_replaced_since() -> None:
    at = bb.bench()
    near, far = (EndChoice(one.fitting, one.shell) for one in at.spec.ends.order_by("which"))
    facts = {"hose": at.spec.hose, "length_mm": Decimal(1300)}
    content = SpecContent(facts, near, far, ())
    later = draft_spec_revision(
        header=at.spec.header, content=content, person=make.person("planner"), at=bb.NOW
    )
    again = SpecRevision.objects.get(pk=later.pk)
    approve_spec(
        revision=again, seen=SPEC.fingerprint(again), person=make.person("manager"), at=bb.NOW
    )
    refused = refusal(at)
    assert refused.code == "spec_not_approved"
    assert "is replaced by a later one since this sheet was printed" in refused.sentence


def recipe_of(at: bb.Bench) -> RecipeRevision:
    return RecipeRevision.objects.get(state="approved", header__hose=at.spec.hose)


def test_refuses_a_recipe_that_was_withdrawn_since_and_says_why() -> None:
    at = bb.bench()
    manager = make.person("manager")
    withdraw_recipe_revision(
        revision=recipe_of(at), reason="Pieces blew off.", person=manager, at=bb.NOW
    )
    refused = refusal(at)
    assert refused.code == "recipe_withdrawn"
    assert "Pieces blew off." in refused.sentence


def test_refuses_a_recipe_that_was_revised_since() -> None:
    at = bb.bench()
    held = recipe_of(at)
    later = draft_recipe(
        hose=held.header.hose,
        fitting=held.header.fitting,
        shell=None,
        facts={**shop.CHART, "crimp_od_mm": Decimal("24.40")},
        person=make.person("planner"),
        at=bb.NOW,
    )
    draft = RecipeRevision.objects.get(pk=later.pk)
    seen = RECIPE.fingerprint(draft)
    approve_recipe(revision=draft, seen=seen, person=make.person("manager"), at=bb.NOW)
    assert refusal(at).code == "recipe_replaced"


def test_refuses_a_sheet_that_gives_no_crimp() -> None:
    at = bb.bench(spec_facts={})
    spec = shop.approved("S-bare")
    bare = bb.sheet_of(spec, at.site)
    refused = refusal(at, sheet=bare)
    assert refused.code == "no_recipe"
    assert "Do not crimp it" in refused.sentence


def test_refuses_a_sheet_without_a_cut_length() -> None:
    at = bb.bench()
    length = {**at.sheet.content["length"], "cut_length_mm": None, "arithmetic": "no allowance"}
    facts = {"site": at.site, "spec": at.spec, "number": 900, "issued_at": bb.NOW, "checksum": "x"}
    uncut = FrozenSheet.objects.create(content={**at.sheet.content, "length": length}, **facts)
    refused = refusal(at, sheet=uncut)
    assert (refused.code, refused.sentence[-14:]) == ("cut_length_unknown", ": no allowance")


def test_refuses_a_sheet_whose_recipe_is_not_in_the_register() -> None:
    at = bb.bench()
    ends = [{**end, "crimp": {**end["crimp"], "revision": 99}} for end in at.sheet.content["ends"]]
    facts = {"site": at.site, "spec": at.spec, "number": 901, "issued_at": bb.NOW, "checksum": "x"}
    strange = FrozenSheet.objects.create(content={**at.sheet.content, "ends": ends}, **facts)
    assert refusal(at, sheet=strange).code == "recipe_gone"


def test_refuses_a_sheet_that_was_put_aside() -> None:
    at = bb.bench()
    put_sheet_aside(sheet=at.sheet, reason="Machine sold.", person=at.fitter, at=bb.NOW)
    refused = refusal(at)
    assert refused.code == "sheet_aside"
    assert "Machine sold." in refused.sentence


def test_a_sheet_is_put_aside_once_with_its_reason() -> None:
    at = bb.bench()
    with pytest.raises(Refused) as refused:
        put_sheet_aside(sheet=at.sheet, reason=" ", person=at.fitter, at=bb.NOW)
    assert refused.value.code == "reason_missing"
    for reason in ("Machine sold.", "Another reason"):
        put_sheet_aside(sheet=at.sheet, reason=reason, person=at.fitter, at=bb.NOW)
    at.sheet.refresh_from_db()
    assert (at.sheet.aside_reason, at.sheet.aside_by) == ("Machine sold.", at.fitter)


@pytest.mark.parametrize("role", ["planner", "manager", "storeman", "inspector", "safety officer"])
def test_only_who_may_build_begins(role: str) -> None:
    at = bb.bench()
    with pytest.raises(NotAllowed):
        begin(at, person=make.person(role, at=at.site))
    with pytest.raises(NotAllowed):
        put_sheet_aside(sheet=at.sheet, reason="x", person=make.person(role, at=at.site), at=bb.NOW)


def test_a_fitter_of_another_site_begins_nothing_here() -> None:
    with pytest.raises(NotAllowed):
        begin(bb.bench(), person=make.person("fitter", at=make.site()))


def test_an_order_after_the_last_was_built_or_put_aside_is_another_sheet() -> None:
    at = bb.bench()
    assert bb.sheet_of(at.spec, at.site) == at.sheet
    bb.begun(at)
    later = bb.sheet_of(at.spec, at.site)
    assert later.number == at.sheet.number + 1
    put_sheet_aside(sheet=later, reason="Machine sold.", person=at.fitter, at=bb.NOW)
    assert bb.sheet_of(at.spec, at.site).number == later.number + 1
