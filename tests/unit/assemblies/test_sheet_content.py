"""What a sheet's content refuses, and that it comes back from its stored form unchanged."""

import json
from dataclasses import replace
from decimal import Decimal

import pytest

from assemblies.calc.sheet import (
    Orientation,
    SheetContent,
    Skive,
    SkiveKind,
    Sleeve,
    Source,
    SourceKind,
    from_json,
    to_json,
)
from assemblies.calc.sheet_words import CAUTIONS
from tests.unit.assemblies.sheet_samples import (
    everyday,
    oriented,
    published_crimp,
    trial_crimp,
    trial_sheet,
    without_recipe,
    worst,
)

D = Decimal


@pytest.mark.parametrize("make", [everyday, worst, trial_sheet, without_recipe])
def test_comes_back_from_its_json_the_same(make: object) -> None:
    content: SheetContent = make()  # type: ignore[operator]  # each is a maker of samples
    stored = to_json(content)
    assert from_json(stored) == content
    assert to_json(from_json(stored)) == stored


def test_comes_back_from_a_store_that_orders_keys_its_own_way() -> None:
    content = worst()
    stored = json.dumps(dict(reversed(json.loads(to_json(content)).items())), indent=2)
    assert from_json(stored).checksum == content.checksum


def test_sums_to_another_checksum_when_any_figure_changes() -> None:
    base = everyday()
    sums = {base.checksum, replace(base, quantity=2).checksum, replace(base, notes="x").checksum}
    crimp = replace(published_crimp(), crimp_od_mm=D("30.41"))
    sums.add(replace(base, ends=(replace(base.ends[0], crimp=crimp), base.ends[1])).checksum)
    assert len(sums) == 4


def test_reads_content_that_was_frozen_before_a_field_was_added() -> None:
    stored = json.loads(to_json(everyday()))
    del stored["cleanliness"]
    assert from_json(json.dumps(stored)).cleanliness == ""


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"quantity": "two"}, "SheetContent.quantity: int was expected"),
        ({"quantity": True}, "SheetContent.quantity: int was expected"),
        ({"drawn_on": "9 Mar"}, "SheetContent.drawn_on: '9 Mar' is not a date"),
        ({"colour": "red"}, "not a field of this content: colour"),
        ({"ends": []}, "2 entries were expected, not 0"),
        ({"sleeves": "none"}, "a list was expected"),
        ({"hose": "2SN"}, "an object was expected"),
        ({"quantity": 0}, "A sheet for 0 pieces builds nothing"),
    ],
)
def test_refuses_stored_text_that_is_no_sheet(change: dict[str, object], words: str) -> None:
    stored = json.loads(to_json(everyday())) | change
    with pytest.raises(ValueError, match=words):
        from_json(json.dumps(stored))


def test_names_what_is_missing_from_stored_text() -> None:
    stored = json.loads(to_json(everyday()))
    del stored["hose"]
    with pytest.raises(ValueError, match="SheetContent: missing: hose"):
        from_json(json.dumps(stored))


def test_keeps_no_skive_unknown_and_a_length_apart() -> None:
    with pytest.raises(ValueError, match="exactly when it is one of a length"):
        Skive(SkiveKind.NONE, D(5))
    with pytest.raises(ValueError, match="exactly when it is one of a length"):
        Skive(SkiveKind.LENGTH)
    with pytest.raises(ValueError, match="say 'none' instead"):
        Skive(SkiveKind.LENGTH, D(0))


def test_works_out_the_cover_left_under_the_shell() -> None:
    # Common practice, no published source: mark 34 mm, skive 29 mm, 5 mm of cover left.
    assert trial_crimp().cover_left_mm == 5


def test_refuses_a_skive_longer_than_the_insertion() -> None:
    with pytest.raises(ValueError, match="bare wire would stand outside the shell"):
        replace(trial_crimp(), insertion_depth_mm=D(28))


@pytest.mark.parametrize("readings", [2, 13])
def test_refuses_fewer_than_three_readings_or_more_than_fit(readings: int) -> None:
    with pytest.raises(ValueError, match="three to 12 fit a sheet"):
        replace(published_crimp(), readings=readings)


def test_refuses_an_end_with_neither_figures_nor_a_reason() -> None:
    near = everyday().ends[0]
    with pytest.raises(ValueError, match="End A needs either its crimp figures or the reason"):
        replace(near, crimp=None)
    with pytest.raises(ValueError, match="End A needs either its crimp figures or the reason"):
        replace(near, no_crimp_reason="none")


def test_refuses_an_angle_that_is_no_angle() -> None:
    with pytest.raises(ValueError, match="outside 0 to below 360"):
        Orientation(D(360))
    with pytest.raises(ValueError, match="say why"):
        Orientation(None)
    with pytest.raises(ValueError, match="'C' is not an end: A, B"):
        replace(oriented("10"), orientation=Orientation(D(10), seen_from="C"))


def test_refuses_more_sleeves_than_the_drawing_shows() -> None:
    sleeve = Sleeve("guard", D(0), D(10), "A")
    with pytest.raises(ValueError, match="9 sleeves: a sheet shows 8 at most"):
        replace(everyday(), sleeves=(sleeve,) * 9)
    with pytest.raises(ValueError, match="ends at 5 mm, before it begins"):
        replace(sleeve, from_mm=D(5), to_mm=D(5))


def test_takes_a_trial_recipe_for_unmatched_parts() -> None:
    assert everyday().ends[0].matched
    assert not trial_sheet().ends[0].matched
    assert not without_recipe().ends[1].matched


def test_asks_to_check_a_standards_figure_and_not_a_makers() -> None:
    standard = Source(SourceKind.STANDARD, "EN 853", "2015").words()
    assert standard == "EN 853, edition 2015: check against your copy and the maker's data"
    assert Source(SourceKind.MAKER, "data sheet 7").words() == "data sheet 7"


def test_carries_every_caution() -> None:
    assert everyday().cautions == CAUTIONS
    assert len(CAUTIONS) == 8
