"""The pages of specs and recipes: added, shown whole, approved, copied; a joint's recipe."""

from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from assemblies.actions.recipes import RECIPE
from assemblies.actions.specs import SPEC, Sleeve
from assemblies.models import AssemblySpec, CrimpRecipe, RecipeRevision, SpecRevision
from fleet.models import Person
from tests import factories as make
from tests.db.assemblies import spec_shop as shop

pytestmark = pytest.mark.django_db
BENT = {"form": "elbow_90", "turns": "swivel_nut"}


def client(*roles: str, person: Person | None = None) -> Client:
    made = Client()
    made.force_login(person or make.person(*roles, at=make.site()))
    return made


def shown(who: Client, name: str, *args: Any, **query: Any) -> str:
    response = who.get(reverse(f"assemblies:{name}", args=args), query)
    assert response.status_code == 200, response.status_code
    return response.content.decode()


def sent(who: Client, name: str, *args: Any, **data: Any) -> Any:
    return who.post(reverse(f"assemblies:{name}", args=args), data, follow=True)


def typed(**facts: Any) -> dict[str, Any]:
    """A spec as someone types it, of parts that stand in the catalogue."""
    near, far = facts.pop("near", None) or shop.end(), facts.pop("far", None) or shop.end()
    return {
        "code": "BOOM-1",
        "title": "Boom lift, rod side",
        "hose": (facts.pop("from_hose", None) or make.hose()).header.code,
        "length_mm": "47 1/4 in",
        "length_basis": "seat_to_seat",
        "end_a_fitting": near.header.code,
        "end_b_fitting": far.header.code,
        **facts,
    }


def test_a_spec_is_added_as_typed() -> None:
    sleeve = {"sleeve_1": "spiral guard", "sleeve_1_from": "100", "sleeve_1_to": "1.1 m"}
    sent(client("planner"), "spec_add", **typed(**sleeve, test_pressure_bar="8000 psi"))
    spec = SpecRevision.objects.get()
    assert (spec.length_mm, spec.test_pressure_bar) == (Decimal("1200.2"), Decimal("551.58"))
    assert (spec.sleeves.get().from_mm, spec.sleeves.get().to_mm) == (100, 1100)


@pytest.mark.parametrize(
    ("facts", "words"),
    [
        ({"hose": "NOPE"}, "The catalogue has no hose with the code “NOPE”"),
        ({"end_a_fitting": ""}, "This field is required"),
        ({"orientation_deg": "90"}, "points nowhere"),
        ({"orientation_deg": "360"}, "less than or equal to 359"),
        ({"length_mm": "1,200"}, "could be"),
        ({"tolerance_plus_mm": "5"}, "both a plus and a minus"),
        ({"code": " "}, "This field is required"),
    ],
)
def test_a_spec_that_can_not_be_comes_back_with_the_reason(
    facts: dict[str, Any], words: str
) -> None:
    page = sent(client("planner"), "spec_add", **typed(**facts)).content.decode()
    assert words in page
    assert SpecRevision.objects.count() == 0
    assert AssemblySpec.objects.count() == 0


def test_the_page_of_a_spec_tells_it_whole() -> None:
    hose = make.hose(temperature_high_c=100)
    near, far = shop.end(**BENT), shop.end(**BENT, allowance_mm=Decimal("62.0"))
    shop.approved_recipe(hose, near, working_pressure_bar=Decimal(250))
    spec = shop.approved(hose=hose, near=near, far=far, orientation_deg=180, note="P&ID 7")
    place = make.position(pressure_bar=Decimal(200), required_spec=spec.header)
    page = shown(
        client(person=make.person("fitter", at=place.machine.site)), "spec", spec.header_id
    )
    for words in (
        "250 bar, set by recipe of end A (Harrow crimp chart 7, page 3)",
        "1200 − 45.5 − 62 = 1092.5 mm",
        "+12 / −4 mm: 1 196 to 1 212 mm".replace(" 196", "\u202f196").replace(" 212", "\u202f212"),
        "DIN 20066, 2002-10",
        "180° ±5°",
        "centre line of the connection",
        "Recipe revision 1, approved, published: Harrow crimp chart 7, page 3.",
        "No recipe: nobody has said how this hose and fitting are crimped.",
        f"{place.machine}, {place}",
        "P&amp;ID 7",
    ):
        assert words in page, words


def test_an_end_without_a_published_recipe_is_called_unmatched() -> None:
    hose, near = make.hose(), shop.end()
    shop.approved_recipe(hose, near)
    spec = shop.approved(hose=hose, near=near)
    assert shown(client("fitter"), "spec", spec.header_id).count("unmatched parts") == 1


def test_a_draft_lists_all_that_stands_in_its_way() -> None:
    draft = shop.draft(near=shop.end(working_pressure_bar=None, allowance_mm=None))
    page = shown(client("manager"), "spec", draft.header_id)
    assert "No working pressure is stated for fitting" in page
    assert "has no cut-off allowance" in page
    assert "Approve it as it stands" not in page


def test_a_position_of_another_site_is_counted_and_not_named() -> None:
    spec = shop.approved()
    place = make.position(required_spec=spec.header)
    page = shown(client("planner"), "spec", spec.header_id)
    assert str(place.machine) not in page
    assert "And 1 more at sites that are not yours" in page


def test_approving_on_the_page() -> None:
    draft = shop.draft()
    args = ("spec_approve", draft.header_id, 1)
    assert "Someone changed this" in sent(client("manager"), *args, seen="x").content.decode()
    page = sent(client("manager"), *args, seen=SPEC.fingerprint(draft)).content.decode()
    assert "is approved." in page


def test_a_new_revision_begins_with_what_stands_and_is_changed() -> None:
    spec, who = shop.approved(sleeves=(Sleeve("guard"),), test_hold_s=45), client("planner")
    form = who.get(reverse("assemblies:spec_draft", args=[spec.header_id])).context["form"]
    begun = {name: form[name].value() for name in form.fields}
    data = {name: value for name, value in begun.items() if value is not None}
    sent(who, "spec_draft", spec.header_id, **{**data, "length_mm": "900"})
    draft = SpecRevision.objects.get(number=2)
    assert (draft.length_mm, draft.test_hold_s, draft.sleeves.get().kind) == (900, 45, "guard")
    data = {**data, "length_mm": "950", "seen": SPEC.fingerprint(draft)}
    sent(who, "spec_change", spec.header_id, 2, **data)
    draft.refresh_from_db()
    assert draft.length_mm == 950


def test_copying_on_the_page() -> None:
    spec = shop.approved()
    args = ("spec_copy", spec.header_id, 1)
    page = sent(client("planner"), *args, code="S-2", title="Left").content.decode()
    assert "drafted as a copy" in page
    assert (
        "There is a spec S-2 already"
        in sent(client("planner"), *args, code="S-2", title="x").content.decode()
    )
    assert "Say what the spec is for" in sent(client("planner"), *args, code="S-3").content.decode()


@pytest.mark.parametrize("q", ["S-1", "boom", "dn12", "-8", "2SN", "DKOS", '1/2"'])
def test_a_spec_is_found_by_its_code_title_hose_and_ends(q: str) -> None:
    shop.approved()
    parts: dict[str, Any] = {"hose": make.hose(size_dn=25, standard_type="4SP", layers=4)}
    ends: dict[str, Any] = {
        n: shop.end(tail_dn=25, connection="JIC", connection_size="x") for n in ("near", "far")
    }
    shop.draft("Q-9", **parts, **ends)
    AssemblySpec.objects.filter(code="Q-9").update(title="Other")
    page = shown(client("fitter"), "specs", q=q)
    assert ">S-1<" in page
    assert ">Q-9<" not in page


def test_a_longer_list_and_page_take_no_more_queries() -> None:
    who, counts = client("planner"), []
    for size in (1, 6):
        for _ in range(size):
            n = AssemblySpec.objects.count()
            spec = shop.approved(f"S-{n}")
            make.position(required_spec=spec.header)
        with CaptureQueriesContext(connection) as asked:
            shown(who, "specs", q="dn12")
        with CaptureQueriesContext(connection) as page:
            shown(who, "spec", spec.header_id)
        counts.append((len(asked), len(page)))
    assert counts[0] == counts[1]


@pytest.mark.parametrize(
    ("role", "edits", "approves"), [("planner", 200, 200), ("fitter", 403, 403)]
)
def test_each_role_reaches_the_pages_as_it_may(role: str, edits: int, approves: int) -> None:
    who, draft = client(role), shop.draft()
    assert who.get(reverse("assemblies:spec_add")).status_code == edits
    assert (
        who.get(reverse("assemblies:spec_change", args=[draft.header_id, 1])).status_code == edits
    )
    response = sent(who, "spec_approve", draft.header_id, 1, seen="x")
    assert response.status_code == approves
    assert shown(who, "spec", draft.header_id)


@pytest.mark.parametrize("name", ["specs", "spec_add", "recipe_add"])
def test_nobody_sees_specs_without_a_log_in(name: str) -> None:
    assert Client().get(reverse(f"assemblies:{name}")).status_code == 302


@pytest.mark.parametrize(
    "path",
    [
        "specs/999/",
        "specs/999/draft/",
        "specs/999/revisions/1/",
        "recipes/999/",
        f"specs/{10**25}/",
    ],
)
def test_what_is_not_there_is_not_found(path: str) -> None:
    assert client("planner").get(f"/{path}").status_code == 404


RECIPE_TYPED = {
    "basis": "published",
    "chart_source": "Harrow crimp chart 7, page 3",
    "insertion_depth_mm": "31",
    "external_skive": "none",
    "internal_skive": "none",
    "crimp_od_mm": "24,6",
    "tolerance_plus_mm": "0.1",
    "tolerance_minus_mm": "0.1",
    "ovality_max_mm": "0.2",
}


def test_a_recipe_is_written_down_from_the_page_of_a_spec() -> None:
    hose, near = make.hose(), shop.end()
    spec, who = shop.approved(hose=hose, near=near), client("planner")
    page = shown(who, "spec", spec.header_id)
    link = f"?hose={hose.header}&amp;fitting={near.header}&amp;shell="
    assert link in page
    named = {"hose": hose.header.code, "fitting": near.header.code}
    page = sent(who, "recipe_add", **named, **RECIPE_TYPED).content.decode()
    recipe = RecipeRevision.objects.get()
    assert (recipe.crimp_od_mm, recipe.state) == (Decimal("24.60"), "draft")
    assert "Unmatched: no approved published chart here names both Harrow Hose H2" in page


def test_a_recipe_is_approved_by_another_on_its_page() -> None:
    hose, near = make.hose(), shop.end()
    draft = shop.recipe(hose, near)
    args = ("recipe_approve", draft.header_id, 1)
    page = sent(client("manager"), *args, seen=RECIPE.fingerprint(draft)).content.decode()
    assert "is approved." in page
    assert "Unmatched" not in page


def test_a_recipe_form_keeps_what_was_typed_and_says_what_is_wrong() -> None:
    hose, near = make.hose(), shop.end()
    named = {"hose": hose.header.code, "fitting": near.header.code}
    bad = {**RECIPE_TYPED, "external_skive": "length"}
    page = sent(client("fitter"), "recipe_add", **named, **bad).content.decode()
    assert "A skive to a length has its length in mm" in page
    assert "Harrow crimp chart 7, page 3" in page
    assert CrimpRecipe.objects.count() == 0


def test_a_recipe_draft_is_changed_and_revised_on_its_pages() -> None:
    recipe, who = shop.approved_recipe(make.hose(), shop.end()), client("planner")
    sent(who, "recipe_draft", recipe.header_id, **{**RECIPE_TYPED, "crimp_od_mm": "24.5"})
    draft = RecipeRevision.objects.get(number=2)
    typed_again = {**RECIPE_TYPED, "crimp_od_mm": "24.4", "seen": RECIPE.fingerprint(draft)}
    page = sent(who, "recipe_change", recipe.header_id, 2, **typed_again).content.decode()
    draft.refresh_from_db()
    assert draft.crimp_od_mm == Decimal("24.40")
    assert ">24.4 mm<" in page
    assert ">24.6 mm<" in page


def test_a_recipe_for_unequal_layers_warns_in_its_own_sentence() -> None:
    recipe = shop.recipe(make.hose(), make.fitting(), shop.shell(layers_made_for=1))
    page = shown(client("fitter"), "recipe", recipe.header_id)
    assert "The shell is made for 1 layers, the hose has 2" in page


def test_a_provisional_recipe_is_called_so_and_may_be_withdrawn() -> None:
    recipe = shop.recipe(make.hose(), shop.end(), basis="trial", chart_source="")
    RecipeRevision.objects.filter(pk=recipe.pk).update(state="provisional")
    page = shown(client("manager"), "recipe", recipe.header_id)
    assert "provisional" in page
    assert "Withdraw revision 1" in page
