"""What hands do: keys, a scanner, ticks, drafts; and all of it without scripts."""

from collections.abc import Callable

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from assemblies.models import Stay
from tests import factories
from tests.browser.conftest import DESK, PHONE, Visit
from tests.db.scheduling.yard import Yard, more_hoses, yard

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def where() -> Yard:
    return yard()


def test_a_person_logs_in_finds_a_hose_and_logs_out(
    visit: Callable[..., Visit], where: Yard
) -> None:
    where.planner.set_password("a long and quiet word")
    where.planner.save()
    seen = visit(None, PHONE)
    page = seen.open(reverse("scheduling:hose", args=[where.hose.pk]))
    page.fill("[name=username]", where.planner.username)
    page.fill("[name=password]", "a long and quiet word")
    page.click("text=Log in")
    expect(page.locator("h1")).to_have_text("BQ 17")
    page.click("text=Log out")
    page.wait_for_url("**/login/")
    assert page.locator("[name=password]").count() == 1


def test_a_swap_is_done_without_scripts(visit: Callable[..., Visit], where: Yard) -> None:
    factories.stored(at=where.site, owner_mark="NEW 1")
    seen = visit(where.planner, PHONE, scripts=False)
    page = seen.open(reverse("scheduling:position", args=[where.position.pk]))
    page.click("text=Swap the hose")
    page.fill("[name=named]", "NEW 1")
    page.check("[name=removal][value=due]")
    page.check("[name=to][value=scrapped]")
    page.click("text=It is swapped")
    assert "NEW 1 is on" in page.inner_text(".note--fine")
    assert Stay.objects.get(position=where.position, is_open=True).assembly.owner_mark == "NEW 1"


def test_a_slash_brings_the_hand_to_the_tag_box(visit: Callable[..., Visit], where: Yard) -> None:
    seen = visit(where.planner, DESK)
    page = seen.open(reverse("scheduling:today"))
    page.keyboard.press("/")
    page.keyboard.type("bq 17")
    page.keyboard.press("Enter")
    page.wait_for_url("**/hoses/*/")
    assert page.inner_text("h1") == "BQ 17"


def test_the_first_tab_leads_past_the_masthead(visit: Callable[..., Visit], where: Yard) -> None:
    page = visit(where.planner, DESK).open(reverse("scheduling:due"))
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "content"


def test_ticks_are_counted_and_one_tick_takes_all(visit: Callable[..., Visit], where: Yard) -> None:
    more_hoses(where, 2)
    page = visit(where.planner, DESK).open(reverse("scheduling:due"))
    page.check("[data-row-tick] >> nth=0")
    assert page.inner_text("[data-tick-count]") == "1 ticked"
    page.check("[data-all-ticks]")
    assert page.inner_text("[data-tick-count]") == "3 ticked"


def test_a_draft_outlives_a_reload_and_ends_when_it_is_taken(
    visit: Callable[..., Visit], where: Yard
) -> None:
    page = visit(where.planner, PHONE).open(reverse("fleet:reading_add", args=[where.machine.pk]))
    form = page.url
    page.fill("[name=reading]", "123")
    page.reload()
    assert page.input_value("[name=reading]") == "123"
    page.click("text=Save the reading")
    page.wait_for_url("**/machines/*/")
    page.goto(form)
    assert page.input_value("[name=reading]") == ""


def test_nothing_typed_is_left_in_the_tab_after_the_log_out(
    visit: Callable[..., Visit], where: Yard
) -> None:
    page = visit(where.planner, PHONE).open(reverse("fleet:reading_add", args=[where.machine.pk]))
    page.fill("[name=reading]", "123")
    page.click("text=Log out")
    page.wait_for_url("**/login/")
    assert page.evaluate("sessionStorage.length") == 0
