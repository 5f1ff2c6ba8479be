"""Writing down what was done: saved often, lost never, refused with a sentence."""

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest

from assemblies.actions.build_writing import Typed, record_build, share_facts
from assemblies.models import BuildBatch, BuildEnd, BuildRecord
from fleet.actions.refusals import Refused
from fleet.models import Photo, TrailEntry
from fleet.permissions import NotAllowed
from tests import factories as make
from tests.db.assemblies import build_bench as bb
from tests.db.assemblies import spec_shop as shop
from tests.db.assemblies import store
from tests.db.fleet.photo_files import picture, sent

pytestmark = pytest.mark.django_db
D = Decimal


def save(build: BuildRecord, at: bb.Bench, **facts: Any) -> BuildRecord:
    fresh = BuildRecord.objects.get(pk=build.pk)
    given = {"build": fresh, "seen": fresh.version, "person": at.fitter, "at": bb.NOW}
    return record_build(**{**given, **facts})


def test_what_was_typed_stands_with_mean_and_ovality() -> None:
    at = bb.bench()
    build = bb.made(at, a_od_readings=["24.58", "24.62", "24.63"])
    end = BuildEnd.objects.get(build=build, which="A")
    assert (end.crimp_od_mm, end.ovality_mm) == (D("24.61"), D("0.05"))
    assert (build.reel, build.made_by, build.version) == (at.reel, at.fitter, 2)
    entry = TrailEntry.objects.get(deed="recorded a build")
    assert entry.after["A od_readings"] == ["24.58", "24.62", "24.63"]


def test_a_box_that_is_emptied_is_emptied() -> None:
    at = bb.bench()
    build = bb.made(at)
    save(build, at, typed=Typed({"crimper": None}, {"A": {"od_readings": []}}))
    build.refresh_from_db()
    assert (build.crimper, build.ends.get(which="A").crimp_od_mm) == (None, None)


def test_the_same_told_twice_is_saved_once_whatever_version_was_seen() -> None:
    at = bb.bench()
    build = bb.piece(at)
    for _ in range(2):
        saved = record_build(
            build=build, typed=bb.by_the_sheet(at), seen=1, person=at.fitter, at=bb.NOW
        )
    assert saved.version == 2
    assert TrailEntry.objects.filter(deed="recorded a build").count() == 1


def test_refuses_to_write_over_what_another_saved_meanwhile_and_names_them() -> None:
    at = bb.bench()
    build = bb.piece(at)
    other = make.person("fitter", at=at.site, display_name="R. Aldous")
    typed = Typed({"bore_cleaned_with": "air"})
    record_build(build=build, typed=typed, seen=1, person=other, at=bb.NOW)
    mine = Typed({"bore_cleaned_with": "foam"})
    with pytest.raises(Refused) as refused:
        record_build(build=build, typed=mine, seen=1, person=at.fitter, at=bb.NOW)
    assert refused.value.code == "changed_meanwhile"
    assert refused.value.sentence.startswith("R. Aldous saved this piece meanwhile")
    build.refresh_from_db()
    assert build.bore_cleaned_with == "air"


def test_a_photo_sent_twice_is_one_photo_of_the_build() -> None:
    at = bb.bench()
    build = bb.piece(at)
    for _ in range(2):
        typed = Typed(photos=[sent(picture(), "one.jpg")], photos_id="shot")
        save(build, at, typed=typed)
    assert (build.photos.count(), Photo.objects.count()) == (1, 1)


def elsewhere(at: bb.Bench) -> dict[str, Any]:
    """A reel, tools and lots of another site, of the right parts."""
    far = make.site()
    lot = store.fitting_lot(far, fitting=at.lots["A"].fitting)
    return {
        "reel": store.reel(far, hose=at.spec.hose),
        "crimper": bb.crimper(far),
        "gauge": bb.instrument(far),
        "a_instrument": bb.instrument(far),
        "b_fitting_lot": lot,
    }


@pytest.mark.parametrize("name", ["reel", "crimper", "gauge", "a_instrument", "b_fitting_lot"])
def test_refuses_what_belongs_to_another_site(name: str) -> None:
    at = bb.bench()
    with pytest.raises(Refused) as refused:
        bb.made(at, **{name: elsewhere(at)[name]})
    assert (refused.value.code, refused.value.field) == ("tool_elsewhere", name)


def test_refuses_a_lot_of_another_part() -> None:
    at = bb.bench()
    with pytest.raises(Refused) as refused:
        bb.made(at, a_fitting_lot=store.fitting_lot(at.site))
    assert (refused.value.code, refused.value.field) == ("other_part", "a_fitting_lot")


def test_refuses_a_shell_where_the_sheet_has_none() -> None:
    at = bb.bench()
    with pytest.raises(Refused) as refused:
        bb.made(at, b_shell_lot=store.shell_lot(at.site, shop.shell().header))
    assert refused.value.code == "other_part"
    assert "no loose shell" in refused.value.sentence


@pytest.mark.parametrize(
    ("other", "code", "field"),
    [
        ({"built_on": bb.TODAY + dt.timedelta(days=1)}, "day_to_come", "built_on"),
        ({"built_on": bb.TODAY - dt.timedelta(days=1)}, "day_before_sheet", "built_on"),
        ({"a_od_readings": ["24.60", "26.40"]}, "readings_apart", "a_od"),
        ({"b_od_readings": ["0", "0.1"]}, "reading_not_a_size", "b_od"),
        ({"b_od_readings": ["501"]}, "reading_not_a_size", "b_od"),
        ({"angle_deg": -1}, "field_wrong", "angle_deg"),
        ({"cut_length_mm": D(100_001)}, "field_wrong", "cut_length_mm"),
    ],
)
def test_refuses_what_can_t_be(other: dict[str, Any], code: str, field: str) -> None:
    with pytest.raises(Refused) as refused:
        bb.made(bb.bench(), **other)
    assert (refused.value.code, refused.value.field) == (code, field)
    assert refused.value.sentence.endswith(".")


def test_refuses_a_maker_without_the_right() -> None:
    at = bb.bench()
    planner = make.person("planner", at=at.site)
    with pytest.raises(Refused) as refused:
        bb.made(at, made_by=planner)
    assert refused.value.code == "not_a_maker"


def test_refuses_to_close_a_crimp_that_was_under_pressure() -> None:
    at = bb.bench()
    build = bb.made(at)
    with pytest.raises(Refused) as refused:
        save(build, at, typed=Typed(ends={"A": {"closed_again": True}}))
    assert (refused.value.code, refused.value.field) == ("pressurised_already", "a_closed_again")


def test_an_oversize_crimp_never_pressurised_is_closed_to_size() -> None:
    at = bb.bench()
    build = bb.made(at, proof_passed=None, a_od_readings=["24.80", "24.80", "24.80"])
    again = {"closed_again": True, "od_readings": ["24.60", "24.61", "24.62"]}
    save(build, at, typed=Typed(ends={"A": again}))
    end = build.ends.get(which="A")
    assert (end.closed_again, end.crimp_od_mm) == (True, D("24.61"))


def test_refuses_to_write_to_a_signed_piece() -> None:
    at = bb.bench()
    build = bb.signed(at)
    with pytest.raises(Refused) as refused:
        save(build, at, typed=Typed({"note": "later"}))
    assert refused.value.code == "build_signed"
    assert "never changed" in refused.value.sentence


def test_only_who_may_build_writes() -> None:
    at = bb.bench()
    build = bb.piece(at)
    for role in ("planner", "manager", "storeman"):
        with pytest.raises(NotAllowed):
            save(build, at, typed=Typed(), person=make.person(role, at=at.site))


def ten(at: bb.Bench) -> BuildBatch:
    return bb.begun(at, quantity=10)


def test_what_all_pieces_share_is_typed_once() -> None:
    at = bb.bench()
    batch = ten(at)
    typed = Typed({"reel": at.reel, "crimper": at.crimper}, {"A": {"die_set": "D 24"}})
    for told in (10, 0):
        changed = share_facts(batch=batch, typed=typed, over=False, person=at.fitter, at=bb.NOW)
        assert changed == told
    assert set(batch.builds.values_list("reel", "ends__die_set")) == {
        (at.reel.pk, "D 24"),
        (at.reel.pk, ""),
    }


def test_what_a_piece_says_otherwise_stays_unless_it_is_written_over() -> None:
    at = bb.bench()
    batch = ten(at)
    odd = batch.builds.get(place_in_batch=7)
    other = store.reel(at.site, hose=at.spec.hose)
    save(odd, at, typed=Typed({"reel": other}))
    shared = Typed({"reel": at.reel})
    share_facts(batch=batch, typed=shared, over=False, person=at.fitter, at=bb.NOW)
    odd.refresh_from_db()
    assert odd.reel == other
    share_facts(batch=batch, typed=shared, over=True, person=at.fitter, at=bb.NOW)
    odd.refresh_from_db()
    assert odd.reel == at.reel
