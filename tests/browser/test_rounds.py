"""A round in a gloved hand at 390 px: few taps, through a lost connection, nothing typed lost."""

import io
import os
from collections.abc import Callable
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.urls import reverse
from PIL import Image
from playwright.sync_api import Page, expect

from assemblies.actions.tags import draw_lot
from assemblies.models import Assembly, Position
from fleet.models import Person, Photo
from scheduling.actions.rounds import begin_round
from scheduling.models import Finding, Inspection, Round
from tests import factories as make
from tests.browser.conftest import PHONE, Visit
from tests.db.scheduling.yard import Yard, more_hoses, yard

pytestmark = pytest.mark.django_db(transaction=True)
WAITS = 20_000


@pytest.fixture
def where() -> Yard:
    found = yard(name="Blackmere Quarry")
    more_hoses(found, 3)
    return found


@pytest.fixture
def fitter(where: Yard) -> Person:
    return make.person("fitter", at=where.site)


def begun(where: Yard, fitter: Person, purpose: str = "inspect") -> str:
    made = begin_round(
        machine=where.machine, purpose=purpose, person=fitter, today=make.TODAY, at=make.NOW
    )
    return reverse("scheduling:round", args=[made.pk])


def keep(page: Page, name: str) -> None:
    """A picture for the eye, where one is asked for."""
    folder = os.environ.get("SCREENSHOTS")
    if folder:
        page.screenshot(path=str(Path(folder) / f"{name}.png"), full_page=True)


def check_page(page: Page) -> None:
    """Nothing wider than the screen, nothing serious to a checker of access."""
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    found = Axe().run(page)
    grave = [
        (v["id"], v["nodes"][0]["html"][:160])
        for v in found.response["violations"]
        if v["impact"] in ("serious", "critical")
    ]
    assert grave == []


def photo() -> bytes:
    sheet = io.BytesIO()
    Image.new("RGB", (2400, 1800), "#884422").save(sheet, "JPEG")
    return sheet.getvalue()


def line(page: Page, place: Position) -> str:
    return f"#place-{place.pk}"


def test_a_round_is_begun_walked_and_finished_in_few_taps(
    visit: Callable[..., Visit], where: Yard, fitter: Person
) -> None:
    seen = visit(fitter, PHONE)
    page = seen.open(reverse("scheduling:round_begin", args=[where.machine.pk]))
    keep(page, "round-0-begin")
    check_page(page)
    page.click("button:has-text('Begin the round')")
    page.wait_for_url("**/rounds/*/")
    keep(page, "round-1-begun")
    check_page(page)
    page.click(f"{line(page, where.position)} >> text=Nothing found")
    expect(page.locator("[data-round-far]")).to_have_text("1 of 4", timeout=WAITS)
    page.click("text=Tick the 3 that are left together")
    page.click("text=I looked at all 3")
    expect(page.locator(".round__told--fine")).to_have_count(4, timeout=WAITS)
    keep(page, "round-2-all")
    page.click("[data-round-finish]")
    page.click("button:has-text('Finish the round')")
    expect(page.locator("main")).to_contain_text("Every hose of the machine was seen")
    keep(page, "round-3-finished")
    check_page(page)
    assert Round.objects.get().finished_by == fitter
    assert Inspection.objects.filter(not_seen=False).count() == 4
    assert seen.console == []


def test_nothing_told_without_a_connection_is_lost_or_told_twice(
    visit: Callable[..., Visit], where: Yard, fitter: Person
) -> None:
    places = list(Position.objects.order_by("walk_order"))
    seen = visit(fitter, PHONE)
    page = seen.open(begun(where, fitter))
    seen.context.set_offline(True)
    page.click(f"{line(page, places[0])} >> text=Nothing found")
    page.click(f"{line(page, places[1])} >> text=Could not see it")
    page.click(f"{line(page, places[2])} >> text=Found something")
    keep(page, "round-4-checklist")
    check_page(page)
    page.check("text=twisted")
    page.set_input_files(
        "[type=file]", {"name": "a.jpg", "mimeType": "image/jpeg", "buffer": photo()}
    )
    page.click("button:has-text('Write it down')")
    expect(page.locator("[data-round-kept-words]")).to_contain_text("3 not sent yet")
    expect(page.locator("[data-round-far]")).to_have_text("3 of 4")
    keep(page, "round-5-offline")
    check_page(page)
    page.click("[data-round-finish]")
    expect(page.locator("[data-round-kept-words]")).to_contain_text("finish the round once")
    assert not Inspection.objects.exists()
    seen.context.set_offline(False)
    expect(page.locator("[data-round-kept]")).to_be_hidden(timeout=WAITS)
    expect(page.locator(".round__told")).to_have_count(3)
    keep(page, "round-6-sent")
    assert Inspection.objects.count() == 3
    assert Finding.objects.get().verdict == "out_now"
    assert Photo.objects.get().width == 1600


def test_an_answer_lost_on_its_way_back_is_told_again_once(
    visit: Callable[..., Visit], where: Yard, fitter: Person
) -> None:
    page = visit(fitter, PHONE, workers=False).open(begun(where, fitter))
    lost: list[int] = []

    def lose_the_first_answer(route: object) -> None:
        if not lost:
            lost.append(route.fetch().status)  # type: ignore[attr-defined]  # a Playwright route
            route.abort()  # type: ignore[attr-defined]  # likewise
        else:
            route.continue_()  # type: ignore[attr-defined]  # likewise

    page.route("**/look/", lose_the_first_answer)
    page.click(f"{line(page, where.position)} >> text=Nothing found")
    expect(page.locator(".round__told")).to_have_count(1, timeout=WAITS)
    assert lost == [200]
    assert Inspection.objects.count() == 1


def test_what_is_typed_and_what_waits_outlive_a_reload(
    visit: Callable[..., Visit], where: Yard, fitter: Person
) -> None:
    seen = visit(fitter, PHONE, workers=False)
    page = seen.open(begun(where, fitter))
    page.route("**/look/", lambda route: route.abort())
    places = list(Position.objects.order_by("walk_order"))
    page.click(f"{line(page, places[1])} >> text=Nothing found")
    expect(page.locator("[data-round-kept]")).to_be_visible()
    page.click(f"{line(page, places[0])} >> text=Found something")
    page.check("text=light cover wear")
    page.fill("[name=note]", "under the clamp")
    page.set_input_files(
        "[type=file]", {"name": "a.jpg", "mimeType": "image/jpeg", "buffer": photo()}
    )
    page.wait_for_timeout(300)
    page.reload()
    expect(page.locator("[name=note]")).to_have_value("under the clamp")
    expect(page.locator("text=1 kept from before")).to_be_visible()
    expect(page.locator("[data-round-kept-words]")).to_contain_text("1 not sent yet")
    page.unroute("**/look/")
    page.click("button:has-text('Write it down')")
    expect(page.locator(".round__told")).to_have_count(2, timeout=WAITS)
    assert Finding.objects.get().note == "under the clamp"
    assert Photo.objects.count() == 1


def test_a_wrong_tap_is_taken_back_before_and_after_it_was_sent(
    visit: Callable[..., Visit], where: Yard, fitter: Person
) -> None:
    seen = visit(fitter, PHONE)
    page = seen.open(begun(where, fitter))
    here = line(page, where.position)
    seen.context.set_offline(True)
    page.click(f"{here} >> text=Nothing found")
    page.click(f"{here} >> text=take it back")
    expect(page.locator("[data-round-kept]")).to_be_hidden()
    seen.context.set_offline(False)
    page.click(f"{here} >> text=Nothing found")
    expect(page.locator(".round__told")).to_have_count(1, timeout=WAITS)
    page.click(f"{here} >> text=take it back")
    expect(page.locator(".round__told")).to_have_count(0, timeout=WAITS)
    assert Inspection.objects.get().taken_back_by == fitter


def test_what_is_refused_is_said_and_can_be_put_right(
    visit: Callable[..., Visit], where: Yard, fitter: Person
) -> None:
    page = visit(fitter, PHONE).open(begun(where, fitter))
    here = line(page, where.position)
    page.click(f"{here} >> text=Found something")
    page.check("text=twisted")
    page.check("label:has-text('Keep it')")
    page.click("button:has-text('Write it down')")
    expect(page.locator("[data-round-refused-list]")).to_contain_text("stricter", timeout=WAITS)
    keep(page, "round-7-refused")
    page.click("text=Put it right")
    expect(page.locator("label:has-text('twisted') input")).to_be_checked()
    page.fill("[name=note]", "laid so by its maker")
    page.click("button:has-text('Write it down')")
    expect(page.locator(".round__told--found")).to_have_count(1, timeout=WAITS)
    assert Finding.objects.get().verdict == "keep"


def test_a_round_is_told_without_scripts_too(
    visit: Callable[..., Visit], where: Yard, fitter: Person
) -> None:
    page = visit(fitter, PHONE, scripts=False).open(begun(where, fitter))
    here = line(page, where.position)
    page.click(f"{here} >> text=Found something")
    page.click("button:has-text('Write it down')")
    expect(page.locator(".wrong")).to_contain_text("Tick what was found")
    page.check("text=clamp loose")
    page.click("button:has-text('Write it down')")
    page.wait_for_url("**/rounds/*/")
    assert Finding.objects.get().what == "clamp loose"


def test_a_machine_is_registered_place_by_place_without_a_connection(
    visit: Callable[..., Visit], where: Yard, fitter: Person
) -> None:
    bare = make.position(on=where.machine, place="Boom lift, piston side")
    empty = make.position(on=where.machine, place="Auxiliary line")
    tag = draw_lot(site=where.site, size=1, person=fitter, at=make.NOW).tags.get()
    seen = visit(fitter, PHONE)
    page = seen.open(begun(where, fitter, "register"))
    keep(page, "register-1-begun")
    check_page(page)
    seen.context.set_offline(True)
    page.click(f"{line(page, bare)} >> text=A hose is here")
    keep(page, "register-2-form")
    check_page(page)
    page.fill("[name=tag]", f"https://layline.example/t/{tag.code}")
    page.fill("[name=layline]", "HARROW/EN 853/2SN/DN 12/2Q16")
    page.fill("[name=stamp]", "1206")
    page.check("text=Looked at: nothing found")
    page.click("button:has-text('Write it down')")
    page.click(f"{line(page, empty)} >> text=No hose fitted here")
    page.click("text=A further place")
    page.fill("[name=place]", "Slew motor, left")
    page.check("text=Could not see it")
    page.click("button:has-text('Write it down')")
    expect(page.locator("[data-round-kept-words]")).to_contain_text("3 not sent yet")
    keep(page, "register-3-offline")
    check_page(page)
    seen.context.set_offline(False)
    expect(page.locator("[data-round-kept]")).to_be_hidden(timeout=WAITS)
    keep(page, "register-4-asked")
    check_page(page)
    hose = Assembly.objects.get(tag=tag)
    assert (hose.hose_type, hose.size_dn, str(hose.made_earliest_on)) == ("2SN", 12, "2016-04-01")
    assert hose.built_earliest_on is None
    page.click("button:has-text('Jun 2012')")
    expect(page.locator("main")).to_contain_text("written down as you say")
    hose.refresh_from_db()
    assert (str(hose.built_earliest_on), hose.built_confirmed_by) == ("2012-06-01", fitter)
    assert Position.objects.filter(place="Slew motor, left", stays__is_open=True).exists()
    assert Round.objects.get().told_empty == [empty.pk]
