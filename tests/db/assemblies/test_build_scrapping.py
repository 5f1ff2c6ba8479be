"""A failed piece is scrapped and its hose written off; a signed one is only added to."""

from decimal import Decimal
from typing import Any

import pytest

from assemblies.actions.build_scrapping import Scrap, Scrapped, amend_build, scrap_piece
from assemblies.actions.build_signing import check_first_off
from assemblies.models import Amendment, Assembly, BuildRecord, Stay, StockItem, StockMovement
from fleet.actions.refusals import Refused
from fleet.models import TrailEntry
from fleet.permissions import NotAllowed
from tests import factories as make
from tests.db.assemblies import build_bench as bb

pytestmark = pytest.mark.django_db
D = Decimal


def scrapped(at: bb.Bench, build: BuildRecord, **facts: Any) -> Scrapped:
    fresh = BuildRecord.objects.get(pk=build.pk)
    scrap = Scrap(
        **{"reason": "Undersize at end A.", "hose_used_m": D("1.2"), "ends_crimped": (), **facts}
    )
    return scrap_piece(build=fresh, scrap=scrap, seen=fresh.version, person=at.fitter, at=bb.NOW)


def test_a_scrapped_piece_says_what_is_gone_and_what_the_reel_has_left() -> None:
    at = bb.bench()
    done = scrapped(at, bb.made(at), ends_crimped=("A",))
    code = at.reel.code
    assert done.sentence == f"Scrapped. 1.2 m of {code} are gone; 58.8 m are left on it."
    gone = StockMovement.objects.filter(kind="scrapped")
    assert sorted(gone.values_list("quantity", flat=True)) == [D("-1.2"), -1]


def test_its_record_stays_signed_for_as_scrap_and_its_assembly_is_never_used() -> None:
    at = bb.bench()
    build = scrapped(at, bb.made(at)).build
    assert (build.scrapped_reason, build.signed_by) == ("Undersize at end A.", at.fitter)
    hose = Assembly.objects.get(build=build)
    assert (hose.condition, hose.withdrawal_reason) == ("scrap", "Undersize at end A.")
    assert hose.tag is None
    assert Stay.objects.get(assembly=hose, is_open=True).place == "scrapped"
    assert TrailEntry.objects.get(deed="scrapped a build").reason == "Undersize at end A."


def test_a_piece_that_was_never_cut_takes_nothing_from_stock() -> None:
    at = bb.bench()
    done = scrapped(at, bb.piece(at), hose_used_m=D(0))
    assert done.sentence == "Scrapped. No hose was taken off a reel for it."
    assert not StockMovement.objects.filter(kind="scrapped").exists()


@pytest.mark.parametrize(
    ("facts", "code", "field"),
    [
        ({"reason": "  "}, "reason_missing", "reason"),
        ({"hose_used_m": None}, "hose_missing", "scrap_hose_m"),
        ({"hose_used_m": D("0.5")}, "reel_missing", "scrap_hose_m"),
        ({"hose_used_m": D(0), "ends_crimped": ("A",)}, "lot_missing", "ends_crimped"),
        ({"hose_used_m": D(0), "ends_crimped": ("C",)}, "end_unknown", "ends_crimped"),
    ],
)
def test_refuses_to_scrap_what_is_not_said(facts: dict[str, Any], code: str, field: str) -> None:
    at = bb.bench()
    build = bb.piece(at)
    with pytest.raises(Refused) as refused:
        scrapped(at, build, **facts)
    assert (refused.value.code, refused.value.field) == (code, field)


def test_refuses_more_hose_than_the_reel_had() -> None:
    at = bb.bench()
    with pytest.raises(Refused) as refused:
        scrapped(at, bb.made(at), hose_used_m=D(61))
    assert refused.value.code == "not_enough"
    assert StockItem.objects.get(reel=at.reel).balance == 60


def test_refuses_to_scrap_what_is_signed_or_was_changed_since() -> None:
    at = bb.bench()
    with pytest.raises(Refused) as refused:
        scrapped(at, bb.signed(at))
    assert refused.value.code == "build_signed"
    build = bb.made(at)
    with pytest.raises(Refused) as refused:
        scrap_piece(build=build, scrap=Scrap("x", D(0)), seen=1, person=at.fitter, at=bb.NOW)
    assert refused.value.code == "changed_meanwhile"


def test_the_next_piece_stands_for_a_batch_whose_first_is_scrapped() -> None:
    at = bb.bench()
    batch = bb.begun(at, quantity=2)
    first, second = batch.builds.order_by("place_in_batch")
    scrapped(at, first, hose_used_m=D(0))
    bb.recorded(at, second)
    assert bb.sign(second, at.fitter).signed_at == bb.NOW
    other = bb.begun(at, quantity=2)
    for piece in other.builds.all():
        scrapped(at, piece, hose_used_m=D(0))
    with pytest.raises(Refused) as refused:
        check_first_off(batch=other, person=at.fitter, at=bb.NOW)
    assert refused.value.code == "no_first_off"


def amend(build: BuildRecord, by: Any, **facts: str) -> Amendment:
    said = {"text": "Reading 2 was 24.58.", "reason": "Typed wrongly.", **facts}
    return amend_build(build=build, person=by, at=bb.NOW, **said)


def test_an_amendment_stands_beside_a_signed_build_once_with_its_reason() -> None:
    at = bb.bench()
    build = bb.signed(at)
    assert amend(build, at.fitter) == amend(build, at.fitter)
    found = Amendment.objects.get(build=build)
    assert (found.text, found.reason, found.made_by) == (
        "Reading 2 was 24.58.",
        "Typed wrongly.",
        at.fitter,
    )
    build.refresh_from_db()
    assert build.ends.get(which="A").od_readings == ["24.60"] * 3


@pytest.mark.parametrize(
    ("facts", "code"), [({"text": " "}, "text_missing"), ({"reason": ""}, "reason_missing")]
)
def test_refuses_an_amendment_that_says_nothing(facts: dict[str, str], code: str) -> None:
    at = bb.bench()
    build = bb.signed(at)
    with pytest.raises(Refused) as refused:
        amend(build, at.fitter, **facts)
    assert refused.value.code == code


def test_refuses_an_amendment_to_what_is_still_open() -> None:
    at = bb.bench()
    build = bb.piece(at)
    with pytest.raises(Refused) as refused:
        amend(build, at.fitter)
    assert refused.value.code == "build_open"


def test_only_who_may_build_scraps_and_amends() -> None:
    at = bb.bench()
    open_piece, done = bb.piece(at), bb.signed(at)
    for role in ("planner", "manager", "storeman"):
        person = make.person(role, at=at.site)
        with pytest.raises(NotAllowed):
            scrap_piece(build=open_piece, scrap=Scrap("x", D(0)), seen=1, person=person, at=bb.NOW)
        with pytest.raises(NotAllowed):
            amend(done, person)
