"""Several pieces in one go: the first is checked, the good are signed, the others say why."""

from decimal import Decimal
from typing import Any

import pytest

from assemblies.actions.build_signing import NotGood, Signing, check_first_off, sign_batch
from assemblies.models import BuildRecord, StockItem
from fleet.actions.refusals import Refused
from fleet.models import TrailEntry
from tests.db.assemblies import build_bench as bb

pytestmark = pytest.mark.django_db
D = Decimal


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
