"""The rating of specs and hoses: the lowest part, what binds it, and no guess."""

from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from assemblies.calc.ratings import PartKind
from assemblies.models import Assembly, HoseRevision, SpecRevision
from assemblies.queries.ratings import (
    assembly_rating_of,
    assembly_ratings,
    spec_rating,
    spec_ratings,
)
from tests import factories as make
from tests.db.assemblies import spec_shop as shop

pytestmark = pytest.mark.django_db


def test_the_lowest_of_hose_and_ends_binds() -> None:
    hose = make.hose(size_dn=19, working_pressure_bar=Decimal(215))
    near = shop.end(tail_dn=19, working_pressure_bar=Decimal(160), rating_source="ISO 8434-1, 2007")
    far = shop.end(tail_dn=19, working_pressure_bar=Decimal(345))
    rating = spec_rating(shop.draft(hose=hose, near=near, far=far)).rating
    assert rating is not None
    assert (rating.working_pressure_bar, rating.proof_bar) == (Decimal(160), Decimal(320))
    assert [part.name for part in rating.binding] == [f"fitting {near.header} (end A)"]
    assert not rating.has_recipe


def test_an_approved_recipe_binds_where_it_is_lowest() -> None:
    hose, near = make.hose(), shop.end()
    shop.approved_recipe(hose, near, working_pressure_bar=Decimal(180))
    facts = spec_rating(shop.draft(hose=hose, near=near))
    assert facts.working_pressure_bar == Decimal(180)
    assert facts.rating is not None
    assert [part.kind for part in facts.rating.binding] == [PartKind.RECIPE]


def test_a_drafted_recipe_binds_nothing_yet_and_the_note_says_so() -> None:
    hose, near = make.hose(), shop.end()
    shop.recipe(hose, near, working_pressure_bar=Decimal(180))
    facts = spec_rating(shop.draft(hose=hose, near=near))
    assert facts.working_pressure_bar == Decimal(275)
    assert facts.notes[0].startswith("End A has no approved recipe")


def test_a_chart_without_a_pressure_of_its_own_leaves_the_parts_ceiling() -> None:
    hose, near = make.hose(), shop.end()
    shop.approved_recipe(hose, near)
    facts = spec_rating(shop.draft(hose=hose, near=near))
    assert facts.working_pressure_bar == Decimal(275)
    assert "states no pressure of its own" in facts.notes[0]


def test_an_unknown_part_is_named_and_never_guessed() -> None:
    far = shop.end(working_pressure_bar=None)
    facts = spec_rating(shop.draft(far=far))
    assert facts.working_pressure_bar is None
    assert f"fitting {far.header} (end B)" in facts.problem


def test_an_approved_revision_counts_before_a_newer_draft() -> None:
    hose = make.hose()
    HoseRevision.objects.create(
        header=hose.header,
        number=2,
        maker="x",
        product="y",
        rating_source="z",
        size_dn=12,
        working_pressure_bar=Decimal(100),
        made_at=make.NOW,
    )
    assert spec_rating(shop.draft(hose=hose)).working_pressure_bar == Decimal(275)


def test_a_hose_with_a_spec_is_rated_by_it() -> None:
    hose = make.fitted(spec=shop.approved(), working_pressure_bar=Decimal(350))
    assert assembly_rating_of(hose).working_pressure_bar == Decimal(275)


def test_a_hose_without_a_spec_bears_what_the_register_states_and_says_so() -> None:
    hose = make.fitted(working_pressure_bar=Decimal("344.74"), pressure_typed="5000 psi")
    facts = assembly_rating_of(hose)
    assert (facts.rating, facts.working_pressure_bar) == (None, Decimal("344.74"))
    assert "5000 psi" in facts.problem
    unknown = assembly_rating_of(make.fitted())
    assert unknown.working_pressure_bar is None
    assert "states no working pressure" in unknown.problem


def test_more_specs_and_hoses_take_no_more_queries() -> None:
    counts = []
    for n in range(1, 8):
        hose, near = make.hose(), shop.end()
        shop.approved_recipe(hose, near, working_pressure_bar=Decimal(200))
        make.fitted(spec=shop.approved(f"S-{n}", hose=hose, near=near))
        if n not in (1, 7):
            continue
        specs = list(SpecRevision.objects.select_related("header", "hose"))
        hoses = list(Assembly.objects.select_related("spec__hose"))
        with CaptureQueriesContext(connection) as asked:
            assert len(spec_ratings(specs)) == len(assembly_ratings(hoses)) == n
        counts.append(len(asked))
    assert counts[0] == counts[1] == 8
