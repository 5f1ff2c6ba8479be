"""A piece recorded and signed with gloves at 390 px: judged as typed, kept without a connection."""

import os
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.urls import reverse
from playwright.sync_api import Page, expect

from assemblies.models import BuildRecord
from tests import factories as make
from tests.browser.conftest import DESK, NARROWEST, PHONE, Visit
from tests.browser.test_every_page import SPILLED, TOO_SMALL
from tests.db.assemblies import build_bench as bb

pytestmark = pytest.mark.django_db(transaction=True)


def url(name: str, *args: int) -> str:
    return reverse(f"assemblies:{name}", args=args)


def keep(page: Page, name: str) -> None:
    """A picture for the eye, where one is asked for."""
    folder = os.environ.get("SCREENSHOTS")
    if folder:
        page.screenshot(path=str(Path(folder) / f"{name}.png"), full_page=True)


def check_page(page: Page) -> None:
    """Nothing wider than the screen or too small for a thumb, nothing serious to axe."""
    assert page.evaluate(SPILLED) == 0
    narrow = page.evaluate("innerWidth") < 500
    assert (page.evaluate(TOO_SMALL) if narrow else []) == []
    found = Axe().run(page)
    grave = [
        f"{v['id']}: {v['nodes'][0]['html'][:150]}"
        for v in found.response["violations"]
        if v["impact"] in ("serious", "critical")
    ]
    assert grave == []


def write_down(page: Page, at: bb.Bench) -> None:
    """Fill every box as the sheet says."""
    typed = bb.by_the_sheet(at)
    for name in ("reel", "crimper", "made_by", "gauge"):
        page.select_option(f"[name={name}]", str(typed.record[name].pk))
    for name in ("cut_length_mm", "hose_used_m", "finished_length_mm", "proof_hold_s"):
        page.fill(f"[name={name}]", str(typed.record[name]))
    for name in ("bore_cleaned_with", "flushed_with"):
        page.fill(f"[name={name}]", typed.record[name])
    page.fill("[name=proof_pressure_bar]", "550 bar")
    page.check("[name=cut_square]")
    page.check("[name=stamped]")
    page.check("[name=proof_passed][value=yes]")
    for label, facts in typed.ends.items():
        write_end(page, label.lower(), facts)


def write_end(page: Page, prefix: str, facts: Mapping[str, Any]) -> None:
    for name in ("fitting_lot", "instrument"):
        page.select_option(f"[name={prefix}_{name}]", str(facts[name].pk))
    for name in ("external_skive", "internal_skive"):
        page.select_option(f"[name={prefix}_{name}]", str(facts[name]))
    page.fill(f"[name={prefix}_insertion_depth_mm]", str(facts["insertion_depth_mm"]))
    page.fill(f"[name={prefix}_die_set]", str(facts["die_set"]))
    for n, reading in enumerate(("24.58", "24.60", "24.62"), 1):
        page.fill(f"[name={prefix}_od_{n}]", reading)
    page.check(f"[name={prefix}_pin][value=enters]")
    page.check(f"[name={prefix}_mark_visible][value=yes]")


def test_a_piece_is_begun_recorded_and_signed_on_a_phone(visit: Callable[..., Visit]) -> None:
    at = bb.bench(need_by=bb.TODAY)
    seen = visit(at.fitter, PHONE)
    page = seen.open(url("bench"))
    check_page(page)
    keep(page, "bench-1-queue")
    page.click("text=Begin >> nth=-1")
    check_page(page)
    keep(page, "bench-2-begin")
    page.click("main form button:has-text('Begin')")
    page.wait_for_url("**/builds/*/")
    check_page(page)
    keep(page, "bench-3-empty")
    write_down(page, at)
    page.fill("[name=a_od_2]", "24.90")
    expect(page.locator("[data-said=a_od]")).to_contain_text("Ovality 0.32")
    keep(page, "bench-4-out")
    check_page(page)
    page.fill("[name=a_od_2]", "24.60")
    expect(page.locator("[data-said=a_od]")).to_contain_text("Good:")
    page.click("button:has-text('Save')")
    expect(page.locator("[data-bench-kept-words]")).to_contain_text("Saved at")
    expect(page.locator("[data-bench-left]")).to_contain_text("It can be signed")
    keep(page, "bench-5-ready")
    page.click("button:has-text('Sign as good')")
    page.wait_for_url("**/hoses/*/")
    build = BuildRecord.objects.get()
    assert build.signed_by == at.fitter
    assert str(build.assembly.tag_id) in page.inner_text("main")
    check_page(page)
    keep(page, "bench-6-hose")
    assert seen.console == []


def test_nothing_typed_is_lost_without_a_connection(visit: Callable[..., Visit]) -> None:
    at = bb.bench()
    build = bb.piece(at)
    seen = visit(at.fitter, PHONE)
    page = seen.open(url("build", build.pk))
    seen.context.set_offline(True)
    write_down(page, at)
    page.click("button:has-text('Save')")
    expect(page.locator("[data-bench-kept-words]")).to_contain_text("there is no connection")
    keep(page, "bench-7-offline")
    assert BuildRecord.objects.get().version == 1
    seen.context.set_offline(False)
    expect(page.locator("[data-bench-kept-words]")).to_contain_text("Saved at", timeout=20_000)
    build.refresh_from_db()
    assert (build.version, str(build.cut_length_mm)) == (2, "1109.0")


def test_an_answer_lost_on_its_way_back_saves_once(visit: Callable[..., Visit]) -> None:
    at = bb.bench()
    build = bb.piece(at)
    page = visit(at.fitter, PHONE).open(url("build", build.pk))
    lost: list[int] = []

    def lose_the_first(route: object) -> None:
        if route.request.method == "POST" and not lost:  # type: ignore[attr-defined]  # a Playwright route
            lost.append(route.fetch().status)  # type: ignore[attr-defined]  # likewise
            route.abort()  # type: ignore[attr-defined]  # likewise
        else:
            route.continue_()  # type: ignore[attr-defined]  # likewise

    page.route(f"**{url('build', build.pk)}", lose_the_first)
    page.fill("[name=bore_cleaned_with]", "foam")
    page.click("button:has-text('Save')")
    expect(page.locator("[data-bench-kept-words]")).to_contain_text("Saved at", timeout=20_000)
    build.refresh_from_db()
    assert (lost, build.version, build.bore_cleaned_with) == ([200], 2, "foam")


def test_what_is_typed_outlives_a_reload(visit: Callable[..., Visit]) -> None:
    at = bb.bench()
    build = bb.piece(at)
    page = visit(at.fitter, PHONE).open(url("build", build.pk))
    page.fill("[name=a_od_2]", "24.61")
    page.check("[name=cut_square]")
    page.reload()
    expect(page.locator("[name=a_od_2]")).to_have_value("24.61")
    expect(page.locator("[name=cut_square]")).to_be_checked()
    expect(page.locator("[data-bench-kept-words]")).to_contain_text("not saved yet")


def test_two_phones_at_one_piece_never_write_over_one_another(
    visit: Callable[..., Visit],
) -> None:
    at = bb.bench()
    build = bb.piece(at)
    other = make.person("fitter", at=at.site, display_name="R. Aldous")
    mine = visit(at.fitter, PHONE).open(url("build", build.pk))
    theirs = visit(other, PHONE).open(url("build", build.pk))
    theirs.fill("[name=bore_cleaned_with]", "air")
    theirs.click("button:has-text('Save')")
    expect(theirs.locator("[data-bench-kept-words]")).to_contain_text("Saved at")
    mine.fill("[name=flushed_with]", "oil")
    mine.click("button:has-text('Save')")
    expect(mine.locator("[data-bench-kept-words]")).to_contain_text("R. Aldous saved this piece")
    mine.reload()
    expect(mine.locator("[name=bore_cleaned_with]")).to_have_value("air")
    expect(mine.locator("[data-bench-kept-words]")).to_contain_text("saved meanwhile")
    keep(mine, "bench-8-meanwhile")
    mine.click("text=Put mine in again")
    expect(mine.locator("[name=flushed_with]")).to_have_value("oil")


def test_a_piece_is_written_down_and_signed_without_scripts(visit: Callable[..., Visit]) -> None:
    at = bb.bench()
    build = bb.piece(at)
    page = visit(at.fitter, PHONE, scripts=False).open(url("build", build.pk))
    write_down(page, at)
    page.click("button:has-text('Save')")
    assert "It can be signed" in page.inner_text("main")
    page.click("button:has-text('Sign as good')")
    build.refresh_from_db()
    assert build.signed_by == at.fitter


@pytest.mark.parametrize("size", [NARROWEST, DESK], ids=["narrowest", "desk"])
def test_a_batch_is_shared_checked_and_signed(
    visit: Callable[..., Visit], size: dict[str, int]
) -> None:
    at = bb.bench(need_by=bb.TODAY, quantity=10)
    batch = bb.begun(at, quantity=10)
    for piece in batch.builds.order_by("place_in_batch"):
        bb.recorded(at, piece)
        if piece.place_in_batch == 4:
            bb.recorded(at, piece, a_od_readings=["24.40"] * 3)
    page = visit(at.fitter, size).open(url("batch", batch.pk))
    check_page(page)
    keep(page, f"batch-1-{size['width']}")
    page.click("text=The first piece is right")
    page.click("button:has-text('Sign all that are good')")
    words = page.inner_text("main")
    assert "Signed: 9 (1, 2, 3, 5, 6, 7, 8, 9, 10)." in words
    assert "Piece 4: End A, crimp OD: Too small by" in words
    check_page(page)
    keep(page, f"batch-2-{size['width']}")
    seen = page
    seen.goto(page.url.replace(url("batch", batch.pk), url("bench")))
    check_page(seen)
    keep(seen, f"bench-queue-{size['width']}")
    seen.goto(page.url.replace(url("bench"), url("build", batch.builds.get(place_in_batch=4).pk)))
    check_page(seen)
    keep(seen, f"bench-piece-{size['width']}")


def every_page(at: bb.Bench) -> list[str]:
    """Every page of the bench, with something on each."""
    waiting = bb.sheet_of(bb.charted_spec(), at.site, need_by=bb.TODAY, quantity=3)
    open_piece, signed = bb.piece(at), bb.signed(at)
    batch = bb.begun(at, quantity=3)
    return [
        url("bench"),
        url("sheet", at.site.pk, waiting.number),
        url("sheet_begin", at.site.pk, waiting.number),
        url("build", open_piece.pk),
        url("batch", batch.pk),
        url("build_amend", signed.pk),
        reverse("scheduling:hose", args=[signed.assembly_id]),
        reverse("scheduling:hose", args=[open_piece.assembly_id]),
    ]


@pytest.mark.parametrize(("size", "scheme"), [(NARROWEST, "light"), (DESK, "dark")])
def test_every_page_of_the_bench_is_readable_and_silent(
    visit: Callable[..., Visit], size: dict[str, int], scheme: str
) -> None:
    at = bb.bench()
    paths = every_page(at)
    for person in (at.fitter, make.person("planner", at=at.site)):
        seen = visit(person, size, scheme=scheme)
        reads = [p for p in paths if "/begin/" not in p and "/amend/" not in p]
        for path in paths if person == at.fitter else reads:
            page = seen.open(path)
            check_page(page)
            keep(page, f"every-{size['width']}{path.replace('/', '-')}")
        assert seen.console == []
