"""Pages about hours in a browser: readable everywhere, and the yard's list under a hand."""

from collections.abc import Callable

import pytest
from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import Page

from fleet.models import HourReading, Machine, Person
from tests import factories as make
from tests.browser.conftest import DESK, NARROWEST, PHONE, Visit
from tests.browser.test_every_page import SPILLED, TOO_SMALL, grave
from tests.db.fleet.hours_yard import HoursYard, ended_run, hours_yard, seen_by

pytestmark = pytest.mark.django_db(transaction=True)
YARD = reverse("fleet:yard")
PASTE = """([box, text]) => {
  const data = new DataTransfer();
  data.setData("text", text);
  const options = { clipboardData: data, bubbles: true, cancelable: true };
  box.dispatchEvent(new ClipboardEvent("paste", options));
}"""


@pytest.fixture
def where() -> HoursYard:
    found = hours_yard(name="Blackmere Quarry with a Name That Goes On for Quite a While")
    ended_run(found.source)
    ended_run(found.source, state="done", error="")
    seen_by(found.source, "HAR" + "0" * 70, maker="Harrow", model="L90 with a long name")
    return found


@pytest.fixture
def yard(db: None) -> tuple[Person, list[Machine]]:
    site = make.site(code="BQ", name="Blackmere Quarry")
    machines = [make.machine(at=site, fleet_number=f"EX-{n:03}") for n in range(1, 5)]
    return make.person("planner", at=site), machines


@pytest.mark.parametrize(("size", "scheme"), [(NARROWEST, "light"), (DESK, "dark")])
def test_every_page_of_hours_is_readable_and_silent(
    visit: Callable[..., Visit], where: HoursYard, size: dict[str, int], scheme: str
) -> None:
    seen = visit(where.planner, size, scheme=scheme)
    wrong: dict[str, object] = {}
    for name, path in where.pages().items():
        page = seen.open(path)
        faults = {
            "axe": grave(page),
            "spilled": page.evaluate(SPILLED),
            "small": page.evaluate(TOO_SMALL) if size["width"] < 500 else [],
            "console": list(seen.console),
        }
        seen.console.clear()
        if any(faults.values()):
            wrong[name] = {kind: fault for kind, fault in faults.items() if fault}
    assert not wrong


def boxes(page: Page) -> list[str]:
    return [box.input_value() for box in page.query_selector_all("[data-yard-hours]")]


def paste(page: Page, row: int, text: str) -> None:
    box = page.query_selector_all("[data-yard-hours]")[row]
    page.evaluate(PASTE, [box, text])


def test_enter_goes_down_and_the_last_leads_to_the_button(
    visit: Callable[..., Visit], yard: tuple[Person, list[Machine]]
) -> None:
    page = visit(yard[0], DESK).open(YARD)
    page.query_selector_all("[data-yard-hours]")[0].focus()
    for hours in ("100", "200", "300", "400"):
        page.keyboard.type(hours)
        page.keyboard.press("Enter")
    assert boxes(page) == ["100", "200", "300", "400"]
    assert page.evaluate("() => document.activeElement.innerText").strip() == "Save 4 readings"
    page.keyboard.press("Enter")
    assert "4 readings recorded." in page.inner_text(".note--fine")
    assert HourReading.objects.count() == 4


def test_a_pasted_column_fills_downwards_and_what_is_left_is_said(
    visit: Callable[..., Visit], yard: tuple[Person, list[Machine]]
) -> None:
    page = visit(yard[0], DESK).open(YARD)
    paste(page, 1, "200\r\n\r\n400\r\n500\r\n")
    assert boxes(page) == ["", "200", "", "400"]
    assert page.inner_text("[data-yard-said]") == ("2 filled. Left over, because no box fits: 500.")


def test_two_pasted_columns_go_to_their_machines(
    visit: Callable[..., Visit], yard: tuple[Person, list[Machine]]
) -> None:
    page = visit(yard[0], DESK).open(YARD)
    paste(page, 0, "ex-003\t300\nEX 001\t100\nEX-777\t700")
    assert boxes(page) == ["", "", "300", ""]
    said = page.inner_text("[data-yard-said]")
    assert said == "1 filled. Left over, because no box fits: EX 001 100; EX-777 700."


def test_what_is_refused_has_the_hand_and_the_draft_holds_no_more(
    visit: Callable[..., Visit], yard: tuple[Person, list[Machine]]
) -> None:
    page = visit(yard[0], PHONE).open(YARD)
    first, second = page.query_selector_all("[data-yard-hours]")[:2]
    first.fill("twelve")
    second.fill("200")
    page.click("form.yard [type=submit]")
    assert boxes(page) == ["twelve", "", "", ""]
    assert page.evaluate("() => document.activeElement.value") == "twelve"
    assert grave(page) == []
    page.goto(page.url)
    assert boxes(page) == ["twelve", "", "", ""]


def test_a_lost_connection_loses_nothing_that_was_typed(
    visit: Callable[..., Visit], yard: tuple[Person, list[Machine]]
) -> None:
    page = visit(yard[0], PHONE).open(YARD)
    page.query_selector_all("[data-yard-hours]")[2].fill("300")
    page.fill("[name=read]", "2026-01-01 06:00")
    page.goto(page.url)
    assert boxes(page) == ["", "", "300", ""]
    today = timezone.now().strftime("%Y-%m-%d")
    assert page.input_value("[name=read]").startswith(today)  # never the draft's day
    assert page.is_visible("[data-draft-drop]")


def test_the_list_is_filled_without_scripts(
    visit: Callable[..., Visit], yard: tuple[Person, list[Machine]]
) -> None:
    page = visit(yard[0], PHONE, scripts=False).open(YARD)
    page.query_selector_all("[data-yard-hours]")[0].fill("100")
    page.click("form.yard [type=submit]")
    assert "1 reading recorded." in page.inner_text(".note--fine")


def test_two_hundred_machines_stand_on_one_page(
    visit: Callable[..., Visit], yard: tuple[Person, list[Machine]]
) -> None:
    person, machines = yard
    for n in range(196):
        make.machine(at=machines[0].site, fleet_number=f"LO-{n:03}")
    page = visit(person, DESK).open(YARD)
    assert len(boxes(page)) == 200
    paste(page, 0, "\n".join(str(1000 + n) for n in range(200)))
    page.click("form.yard [type=submit]")
    assert "200 readings recorded." in page.inner_text(".note--fine")
    assert HourReading.objects.count() == 200
