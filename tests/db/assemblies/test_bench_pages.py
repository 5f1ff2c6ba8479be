"""The bench's pages: the list, beginning, writing down, judging, signing, scrapping, batches."""

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from assemblies.models import BuildBatch, BuildRecord, FrozenSheet
from fleet.models import Person
from tests import factories as make
from tests.db.assemblies import build_bench as bb
from tests.db.fleet.photo_files import picture, sent

pytestmark = pytest.mark.django_db
AS_SCRIPT: dict[str, Any] = {"headers": {"accept": "application/json"}}


def client(person: Person) -> Client:
    made = Client()
    made.force_login(person)
    return made


def at(name: str, *args: Any) -> str:
    return reverse(f"assemblies:{name}", args=args)


def boxes(bench: bb.Bench, build: BuildRecord, **other: str) -> dict[str, str]:
    """What is typed into the page's boxes, taken from the sheet's content alone."""
    fresh = BuildRecord.objects.get(pk=build.pk)
    typed = bb.by_the_sheet(bench)
    found = {name: _text(value) for name, value in typed.record.items()}
    found |= {"built_on": bb.TODAY.isoformat(), "proof_passed": "yes", "seen": str(fresh.version)}
    for label, facts in typed.ends.items():
        prefix = label.lower()
        for n, reading in enumerate(facts["od_readings"], 1):
            found[f"{prefix}_od_{n}"] = reading
        told = {n: v for n, v in facts.items() if n != "od_readings"}
        found |= {f"{prefix}_{name}": _text(value) for name, value in told.items()}
        found[f"{prefix}_mark_visible"] = "yes"
    return {name: value for name, value in {**found, **other}.items() if value != ""}


def _text(value: Any) -> str:
    if value is None or value is False:
        return ""
    return str(getattr(value, "pk", value)) if value is not True else "on"


def saved(bench: bb.Bench, build: BuildRecord, **other: str) -> Any:
    response = client(bench.fitter).post(at("build", build.pk), boxes(bench, build, **other))
    assert response.status_code == 302, response.context["form"].errors
    return response


def test_the_list_shows_what_is_begun_and_what_waits_by_need_by_day() -> None:
    bench = bb.bench(need_by=bb.TODAY + dt.timedelta(days=9), quantity=2)
    spec = bb.charted_spec()
    sooner = bb.sheet_of(spec, bench.site, need_by=bb.TODAY + dt.timedelta(days=2))
    bb.sheet_of(bb.charted_spec(), bench.site)  # for no day, no job, no position
    bb.begun(bench)
    page = client(bench.fitter).get(at("bench"))
    assert [line.sheet for line in page.context["begun"]] == [
        f"{bench.site.code} {bench.sheet.number}"
    ]
    rows = page.context["page"].rows
    assert [(row.sheet_id, row.begun) for row in rows] == [(sooner.pk, 0), (bench.sheet.pk, 1)]


def test_the_list_says_what_is_missing_with_both_figures() -> None:
    bench = bb.bench(need_by=bb.TODAY, quantity=200, metres="2")
    page = client(bench.fitter).get(at("bench"))
    hose, fitting = page.context["page"].rows[0].missing
    assert hose == f"221.8 m of {bench.spec.hose}, 2 m there"
    assert fitting.endswith(", 40 there")
    assert fitting.startswith("400 of ")


def test_a_sheet_leaves_the_list_once_all_its_pieces_are_begun() -> None:
    bench = bb.bench(need_by=bb.TODAY)
    who = client(bench.fitter)
    assert len(who.get(at("bench")).context["page"].rows) == 1
    build = bb.signed(bench)
    found = who.get(at("bench")).context
    assert (list(found["page"].rows), found["begun"]) == ([], [])
    assert build.signed_at is not None


def test_the_list_needs_the_same_queries_for_many_sheets() -> None:
    bench = bb.bench(need_by=bb.TODAY)
    who = client(bench.fitter)

    def queries() -> int:
        with CaptureQueriesContext(
            connection,
        ) as ran:
            assert who.get(at("bench")).status_code == 200
        return len(ran)

    few = queries()
    for _ in range(4):
        more = bb.bench(site=bench.site, need_by=bb.TODAY)
        bb.begun(bb.bench(site=bench.site, need_by=bb.TODAY))
        assert more.sheet.pk
    assert queries() <= few + 1


def test_an_empty_bench_says_what_to_do() -> None:
    fitter = make.person("fitter", at=make.site())
    assert "Nothing waits at the bench" in client(fitter).get(at("bench")).content.decode()


def test_one_piece_is_begun_once_by_one_form_and_opened() -> None:
    bench = bb.bench()
    who, sheet = client(bench.fitter), bench.sheet
    page = who.get(at("sheet_begin", sheet.site_id, sheet.number))
    told = {"quantity": 1, "client_id": page.context["form"]["client_id"].value()}
    for _ in range(2):
        response = who.post(at("sheet_begin", sheet.site_id, sheet.number), told)
    assert response["Location"] == at("build", BuildRecord.objects.get().pk)
    ten = who.post(
        at("sheet_begin", sheet.site_id, sheet.number), {"quantity": 10, "client_id": "x"}
    )
    assert ten["Location"] == at("batch", BuildBatch.objects.get(quantity=10).pk)


def test_a_refusal_to_begin_stands_on_the_form() -> None:
    bench = bb.bench()
    FrozenSheet.objects.filter(pk=bench.sheet.pk).update(
        aside_at=bb.NOW, aside_by=bench.fitter, aside_reason="Sold."
    )
    told = {"quantity": 1, "client_id": "x"}
    page = client(bench.fitter).post(at("sheet_begin", bench.site.pk, bench.sheet.number), told)
    assert "This sheet was put aside: Sold." in page.content.decode()


def test_a_sheet_is_put_aside_and_leaves_the_list() -> None:
    bench = bb.bench(need_by=bb.TODAY)
    who = client(bench.fitter)
    url = at("sheet_aside", bench.site.pk, bench.sheet.number)
    assert "Say why" in who.post(url, {"reason": ""}, follow=True).content.decode()
    page = who.post(url, {"reason": "Machine sold."}, follow=True)
    assert not page.context["page"].rows


def test_a_piece_is_written_down_and_shows_each_line_beside_its_box() -> None:
    bench = bb.bench()
    build = bb.piece(bench)
    who = client(bench.fitter)
    before = who.get(at("build", build.pk)).content.decode()
    assert "Ø 24.60 ±0.10 mm" in before
    assert "The pin is out of the bore before every press" in before
    assert "Behind a guard" in before
    saved(bench, build)
    page = who.get(at("build", build.pk))
    assert page.context["page"].obstacles == ()
    assert "It can be signed" in page.content.decode()


def test_what_is_out_says_so_beside_its_box_and_is_kept_all_the_same() -> None:
    bench = bb.bench()
    build = bb.piece(bench)
    saved(bench, build, a_od_1="24.90", a_od_2="24.91", a_od_3="24.92")
    page = client(bench.fitter).get(at("build", build.pk)).content.decode()
    assert "Too large by 0.21\u00a0mm" in page
    assert "value=&quot;24.90&quot;" in page or 'value="24.90"' in page


def test_a_script_is_judged_without_saving() -> None:
    bench = bb.bench()
    build = bb.piece(bench)
    typed = boxes(bench, build, a_pin="refuses", cut_length_mm="long")
    answer = client(bench.fitter).post(at("build_judge", build.pk), typed, **AS_SCRIPT)
    said = answer.json()["said"]
    assert "must ENTER, and it refused" in said["a_pin"]
    assert "Out:" in said["cut_length_mm"]
    assert "Good:" in said["b_pin"]
    build.refresh_from_db()
    assert build.version == 1


def test_a_script_is_answered_with_the_version_and_what_is_left() -> None:
    bench = bb.bench()
    build = bb.piece(bench)
    typed = boxes(bench, build)
    for _ in range(2):
        answer = client(bench.fitter).post(at("build", build.pk), typed, **AS_SCRIPT)
        assert (answer.status_code, answer.json()["version"]) == (200, 2)
    assert "It can be signed" in answer.json()["left"]


def test_a_script_is_refused_with_sentences() -> None:
    bench = bb.bench()
    build = bb.piece(bench)
    who = client(bench.fitter)
    typed = boxes(bench, build, a_od_2="26.60")
    answer = who.post(at("build", build.pk), typed, **AS_SCRIPT)
    assert answer.status_code == 422
    assert "not of one crimp" in answer.json()["wrong"]["a_od"][0]
    saved(bench, build)
    late = who.post(at("build", build.pk), {**typed, "seen": "1", "a_od_2": "24.61"}, **AS_SCRIPT)
    assert "saved this piece meanwhile" in late.json()["wrong"]["__all__"][0]


def test_photos_are_kept_with_the_piece() -> None:
    bench = bb.bench()
    build = bb.piece(bench)
    typed: dict[str, Any] = {**boxes(bench, build), "photos": [sent(picture())]}
    page = client(bench.fitter).post(at("build", build.pk), typed, follow=True)
    assert build.photos.count() == 1
    assert "Photos so far" in page.content.decode()


def test_a_photo_that_is_none_is_refused_and_nothing_is_saved() -> None:
    bench = bb.bench()
    build = bb.piece(bench)
    typed: dict[str, Any] = {**boxes(bench, build), "photos": [sent(b"no picture")]}
    page = client(bench.fitter).post(at("build", build.pk), typed)
    assert "can’t be read as a photo" in page.content.decode()
    build.refresh_from_db()
    assert build.version == 1


def sign(bench: bb.Bench, build: BuildRecord, **other: str) -> Any:
    fresh = BuildRecord.objects.get(pk=build.pk)
    told = {"seen": fresh.version, "to": "store", **other}
    return client(bench.fitter).post(at("build_sign", build.pk), told, follow=True)


def test_a_good_piece_is_signed_on_its_page_and_its_tag_is_said() -> None:
    bench = bb.bench()
    build = bb.piece(bench)
    saved(bench, build)
    page = sign(bench, build, store_place="rack 3")
    build.refresh_from_db()
    assert build.signed_by == bench.fitter
    assert f"Its tag is {build.assembly.tag_id}" in page.content.decode()
    again = client(bench.fitter).get(at("build", build.pk))
    assert again["Location"] == reverse("scheduling:hose", args=[build.assembly_id])


def test_a_piece_that_is_not_good_says_why_it_is_not_signed() -> None:
    bench = bb.bench()
    build = bb.piece(bench)
    saved(bench, build, b_pin="tight")
    page = sign(bench, build)
    assert "must ENTER, and it was tight" in page.content.decode()
    build.refresh_from_db()
    assert build.signed_at is None


def test_a_piece_is_scrapped_with_what_is_gone() -> None:
    bench = bb.bench()
    build = bb.piece(bench)
    saved(bench, build)
    fresh = BuildRecord.objects.get(pk=build.pk)
    told = {"seen": fresh.version, "reason": "Undersize.", "scrap_hose_m": "1,2"}
    page = client(bench.fitter).post(
        at("build_scrap", build.pk), {**told, "ends_crimped": ["A"]}, follow=True
    )
    said = page.content.decode()
    assert f"1.2 m of {bench.reel} are gone; 58.8 m are left on it." in said


def test_something_is_added_beside_a_signed_build() -> None:
    bench = bb.bench()
    build = bb.signed(bench)
    who = client(bench.fitter)
    empty = who.post(at("build_amend", build.pk), {"text": "", "reason": ""})
    assert empty.context["form"].errors.keys() == {"text", "reason"}
    told = {"text": "Reading 2 was 24.58.", "reason": "Typed wrongly."}
    assert who.post(at("build_amend", build.pk), told).status_code == 302
    assert build.amendments.get().made_by == bench.fitter


def test_a_batch_shares_is_checked_and_signed_on_its_page() -> None:
    bench = bb.bench()
    batch = bb.begun(bench, quantity=3)
    who = client(bench.fitter)
    shared = {
        "reel": bench.reel.pk,
        "crimper": bench.crimper.pk,
        "made_by": bench.fitter.pk,
        "a_die_set": "D 24",
    }
    page = who.post(at("batch", batch.pk), shared, follow=True)
    assert "Written down at 3 of the open pieces" in page.content.decode()
    for piece in batch.builds.order_by("place_in_batch")[:2]:
        saved(bench, piece)
    early = who.post(at("batch_sign", batch.pk), {"to": "store"}, follow=True).content.decode()
    assert "Piece 2: The first piece of this batch is not checked yet" in early
    done = who.post(at("batch_first_off", batch.pk), follow=True).content.decode()
    assert "The first piece is right" in done
    signed = who.post(at("batch_sign", batch.pk), {"to": "store"}, follow=True).content.decode()
    assert "Signed: 1 (2)." in signed
    assert "Piece 3: Cut square: Say that it is cut square." in signed


def test_saving_a_piece_of_a_batch_can_lead_to_the_next() -> None:
    bench = bb.bench()
    first, second = bb.begun(bench, quantity=2).builds.order_by("place_in_batch")
    answer = saved(bench, first, then="next")
    assert answer["Location"] == at("build", second.pk)


def test_a_first_piece_that_is_not_right_is_said_on_the_batch() -> None:
    bench = bb.bench()
    batch = bb.begun(bench, quantity=2)
    page = client(bench.fitter).post(at("batch_first_off", batch.pk), follow=True)
    assert "Piece 1 is not right yet" in page.content.decode()


def test_what_changed_since_the_sheet_was_printed_is_said_plainly() -> None:
    bench = bb.bench()
    position = make.position(on=make.machine(at=bench.site), required_spec=bench.spec.header)
    bench.sheet = bb.sheet_of(bench.spec, bench.site, position=position)
    build = bb.piece(bench)
    position.required_spec = make.spec()
    position.save()
    who = client(bench.fitter)
    sentence = f"asks for the spec {position.required_spec} by now"
    assert sentence in who.get(at("build", build.pk)).content.decode()
    begin = who.get(at("sheet_begin", bench.site.pk, bench.sheet.number)).content.decode()
    assert sentence in begin


def test_a_bench_page_needs_the_same_queries_for_many_reels_and_pieces() -> None:
    from tests.db.assemblies import store

    bench = bb.bench()
    who, build = client(bench.fitter), bb.begun(bench, quantity=2).builds.first()
    assert build is not None

    def queries() -> int:
        with CaptureQueriesContext(connection) as ran:
            assert who.get(at("build", build.pk)).status_code == 200
        return len(ran)

    few = queries()
    for _ in range(5):
        store.reel(bench.site, hose=bench.spec.hose)
        bb.instrument(bench.site)
        make.person("fitter", at=bench.site)
    assert queries() <= few


def test_length_and_pressure_are_read_in_any_unit() -> None:
    bench = bb.bench()
    build = bb.piece(bench)
    typed = {"proof_pressure_bar": "55 MPa", "finished_length_mm": "47 1/4 in"}
    saved(bench, build, **typed, a_insertion_depth_mm="31,2 mm", hose_used_m="1150 mm")
    build.refresh_from_db()
    assert (build.proof_pressure_bar, build.finished_length_mm) == (550, Decimal("1200.2"))
    assert build.hose_used_m == Decimal("1.150")
    assert build.ends.get(which="A").insertion_depth_mm == Decimal("31.20")


def test_a_planner_reads_the_bench_and_is_offered_nothing_to_press() -> None:
    bench = bb.bench(need_by=bb.TODAY)
    build = bb.piece(bench)
    reader = client(make.person("planner", at=bench.site))
    assert "Begin</a>" not in reader.get(at("bench")).content.decode()
    page = reader.get(at("build", build.pk)).content.decode()
    assert "Sign as good" not in page
    assert "Ø 24.60 ±0.10 mm" in page


def test_the_bench_stands_in_the_masthead_of_fitters_alone() -> None:
    bench = bb.bench()
    assert 'href="/bench/"' in client(bench.fitter).get(at("bench")).content.decode()
    planner = make.person("planner", at=bench.site)
    assert 'href="/bench/"' not in client(planner).get(at("bench")).content.decode()


def test_the_sheet_s_page_leads_a_fitter_to_the_bench() -> None:
    bench = bb.bench(quantity=3)
    bb.begun(bench)
    url = at("sheet", bench.site.pk, bench.sheet.number)
    begin = at("sheet_begin", bench.site.pk, bench.sheet.number)
    page = client(bench.fitter).get(url).content.decode()
    assert begin in page
    assert "2 of 3 still to begin" in page
    planner = make.person("planner", at=bench.site)
    assert begin not in client(planner).get(url).content.decode()
