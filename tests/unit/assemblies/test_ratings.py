"""An assembly's rating: the weakest part, and never a guess."""

import random
from decimal import Decimal

import pytest

from assemblies.calc.ratings import (
    Override,
    PartKind,
    PartRating,
    PartsMissing,
    RatingNotUsable,
    RatingUnknown,
    assembly_rating,
    end_by_standard,
    hose_by_standard,
)

HOSE = hose_by_standard("2SN", 19)
L22 = end_by_standard("24° cone L", "22")
FLANGE = end_by_standard("flange code 61", "3/4")


def recipe(bar: int | None, to_c: int | None = None) -> PartRating:
    limit = None if to_c is None else Decimal(to_c)
    rated = None if bar is None else Decimal(bar)
    return PartRating(PartKind.RECIPE, "recipe R-7", rated, "named person", limit)


def test_the_recipe_binds_where_it_is_the_lowest() -> None:
    rating = assembly_rating([HOSE, L22, FLANGE, recipe(120)])
    assert rating.working_pressure_bar == 120
    assert rating.sentence.startswith("120 bar, set by recipe R-7 (named person); proof 240 bar")
    assert rating.has_recipe


def test_without_a_recipe_the_rating_is_a_ceiling_and_says_so() -> None:
    assert not assembly_rating([HOSE, L22, FLANGE]).has_recipe


def test_every_part_that_binds_is_named() -> None:
    rating = assembly_rating([HOSE, L22, L22, recipe(160)])
    assert [part.kind for part in rating.binding] == ["end", "end", "recipe"]
    assert "set by 24° cone L 22 and 24° cone L 22 and recipe R-7" in rating.sentence


def test_an_override_stands_above_the_standard_and_names_its_document() -> None:
    higher = PartRating(
        PartKind.END, L22.name, L22.working_pressure_bar, L22.source,
        override=Override(Decimal(250), "maker's sheet 12, 2024"),
    )  # fmt: skip
    rating = assembly_rating([HOSE, higher, FLANGE])
    assert rating.working_pressure_bar == 215
    lower = PartRating(
        PartKind.END, L22.name, L22.working_pressure_bar, L22.source,
        override=Override(Decimal(100), "maker's sheet 12, 2024"),
    )  # fmt: skip
    assert "(maker's sheet 12, 2024)" in assembly_rating([HOSE, lower, FLANGE]).sentence


def test_refuses_an_override_without_its_source() -> None:
    end = PartRating(PartKind.END, "L22", None, "", override=Override(Decimal(250), " "))
    with pytest.raises(RatingNotUsable, match="override of L22 names no source"):
        assembly_rating([HOSE, end, FLANGE])


def test_refuses_an_unknown_rating_and_names_every_part_that_has_none() -> None:
    jic = end_by_standard("37° cone", "-12")
    with pytest.raises(RatingUnknown, match=r"stated for 37° cone -12, recipe R-7") as refused:
        assembly_rating([HOSE, jic, FLANGE, recipe(None)])
    assert refused.value.parts == ("37° cone -12", "recipe R-7")


@pytest.mark.parametrize(
    ("parts", "words"),
    [
        ([], "one hose; 0 are given"),
        ([L22, L22], "one hose; 0 are given"),
        ([HOSE, HOSE, L22, L22], "one hose; 2 are given"),
        ([HOSE, L22], "two ends; 1 are given"),
        ([HOSE, L22, L22, L22], "two ends; 3 are given"),
    ],
)
def test_refuses_an_assembly_that_is_not_whole(parts: list[PartRating], words: str) -> None:
    with pytest.raises(PartsMissing, match=words):
        assembly_rating(parts)


@pytest.mark.parametrize("bar", ["0", "-1", "NaN", "Infinity"])
def test_refuses_a_pressure_that_is_none(bar: str) -> None:
    hose = PartRating(PartKind.HOSE, "hose", Decimal(bar), "maker")
    with pytest.raises(RatingNotUsable, match="is no working pressure"):
        assembly_rating([hose, L22, L22])


def test_temperature_is_the_lowest_stated_and_unknown_where_the_hose_states_none() -> None:
    assert assembly_rating([HOSE, L22, L22]).max_temperature_c == 100
    assert assembly_rating([HOSE, L22, L22, recipe(100, 80)]).max_temperature_c == 80
    bare = PartRating(PartKind.HOSE, "hose", Decimal(100), "maker")
    assert assembly_rating([bare, L22, L22, recipe(100, 80)]).max_temperature_c is None


def test_a_hose_type_without_printed_figures_is_unknown() -> None:
    for hose_type in ("R17", "100R4", "three braids"):
        assert hose_by_standard(hose_type, 12).working_pressure_bar is None


def test_rating_agrees_with_sorting_the_parts_by_pressure() -> None:
    draw = random.Random(4)
    kinds = [PartKind.HOSE, PartKind.END, PartKind.END, PartKind.RECIPE]
    for _ in range(300):
        parts = [
            PartRating(k, f"p{n}", Decimal(draw.randint(1, 40)), "m") for n, k in enumerate(kinds)
        ]
        draw.shuffle(parts)
        rating = assembly_rating(parts)
        ranked = sorted(parts, key=lambda part: part.working_pressure_bar or 0)
        assert rating.working_pressure_bar == ranked[0].working_pressure_bar
        assert ranked[0] in rating.binding
        assert all(p.working_pressure_bar == rating.working_pressure_bar for p in rating.binding)
