"""A round that was opened once opens again without a connection, for whoever opened it alone."""

from collections.abc import Callable
from threading import Event
from typing import Any

import pytest
from django.contrib.sessions.models import Session
from django.test import Client
from django.urls import reverse
from playwright.sync_api import Error, Page, expect

from assemblies.models import Position
from fleet.models import Person
from scheduling.models import Inspection, Round
from scheduling.queries.rounds import round_page
from scheduling.views import rounds as round_views
from tests import factories as make
from tests.browser.conftest import PHONE, Visit
from tests.browser.test_rounds import WAITS, begun, check_page, fitter, keep, line, where
from tests.db.scheduling.yard import Yard

__all__ = ["fitter", "where"]
pytestmark = pytest.mark.django_db(transaction=True)
KEPT = """async () => {
  const held = [];
  for (const name of await caches.keys())
    for (const one of await (await caches.open(name)).keys())
      held.push(`${name} ${new URL(one.url).pathname}`);
  return held;
}"""

# Pages as if they had been kept: by whom, at which address, how many hours ago.
PUT = """async (told) => {
  for (const [person, path, hours] of told) {
    const headers = { "Kept-At": new Date(Date.now() - hours * 3600000).toISOString() };
    await (await caches.open(`kept:${person}:${path}`)).put(path, new Response("", { headers }));
  }
}"""


def kept(page: Page) -> set[str]:
    """The addresses of what is kept on the phone, styles and scripts left out."""
    held: list[str] = page.evaluate(KEPT)
    return {one.split(" ")[1] for one in held if " /static/" not in one}


def check_kept(page: Page, *paths: str) -> None:
    for _ in range(100):
        if kept(page) == set(paths):
            return
        page.wait_for_timeout(50)
    assert kept(page) == set(paths)


def check_in_kept_page(page: Page, path: str, words: str) -> None:
    read = "async (path) => (await (await caches.match(path, { ignoreVary: true })).text())"
    for _ in range(100):
        if words in page.evaluate(read, path):
            return
        page.wait_for_timeout(50)
    assert words in page.evaluate(read, path)


def test_a_round_opens_again_without_a_connection_and_tells_later(
    visit: Callable[..., Visit], where: Yard, fitter: Person
) -> None:
    path = begun(where, fitter)
    places = list(Position.objects.order_by("walk_order"))
    seen = visit(fitter, PHONE)
    page = seen.open(path)
    check_kept(page, path)
    page.click(f"{line(page, places[0])} >> text=Nothing found")
    expect(page.locator(".round__told")).to_have_count(1, timeout=WAITS)
    check_in_kept_page(page, path, "round__told")
    seen.context.set_offline(True)
    page.reload()
    expect(page.locator("[data-round-old-words]")).to_contain_text("No connection: this is")
    expect(page.locator(".round__told")).to_have_count(1)
    page.click(f"{line(page, places[1])} >> text=Nothing found")
    expect(page.locator("[data-round-kept-words]")).to_contain_text("1 not sent yet")
    assert page.evaluate("document.fonts.check('16px \"Allerta Stencil\"')")
    keep(page, "round-8-kept")
    check_page(page)
    page.reload()
    expect(page.locator("[data-round-kept-words]")).to_contain_text("1 not sent yet")
    assert Inspection.objects.count() == 1
    seen.context.set_offline(False)
    expect(page.locator("[data-round-kept]")).to_be_hidden(timeout=WAITS)
    expect(page.locator("[data-round-old]")).to_be_hidden(timeout=WAITS)
    expect(page.locator(".round__told")).to_have_count(2)
    assert Inspection.objects.count() == 2


def test_what_was_sent_is_still_told_where_the_kept_page_is_older(
    visit: Callable[..., Visit], where: Yard, fitter: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = begun(where, fitter)
    seen = visit(fitter, PHONE)
    page = seen.open(path)
    check_kept(page, path)
    with monkeypatch.context() as broken:
        broken.setattr(round_views, "round_page", None)
        page.click(f"{line(page, where.position)} >> text=Nothing found")
        expect(page.locator(".round__waits")).to_contain_text("nothing found. Sent.", timeout=WAITS)
        seen.context.set_offline(True)
        page.reload()
        expect(page.locator(".round__waits")).to_contain_text("nothing found. Sent.")
        expect(page.locator("[data-round-far]")).to_have_text("1 of 4")
        expect(page.locator("[data-round-kept]")).to_be_hidden()
    seen.context.set_offline(False)
    expect(page.locator(".round__told")).to_have_count(1, timeout=WAITS)
    expect(page.locator(".round__waits")).to_have_count(0)
    assert Inspection.objects.count() == 1


def test_only_open_rounds_are_kept_and_logging_out_throws_them_away(
    visit: Callable[..., Visit], where: Yard, fitter: Person
) -> None:
    path = begun(where, fitter)
    seen = visit(fitter, PHONE)
    page = seen.open(path)
    check_kept(page, path)
    for other in (reverse("scheduling:rounds"), f"{path}finish/", "/"):
        seen.open(other)
    assert kept(page) == {path}
    seen.context.set_offline(True)
    with pytest.raises(Error, match="ERR_INTERNET_DISCONNECTED"):
        seen.open(reverse("scheduling:rounds"))
    seen.context.set_offline(False)
    seen.open(path)
    page.click("text=Log out")
    page.wait_for_url("**/login/")
    assert page.evaluate("caches.keys()") == []
    seen.context.set_offline(True)
    with pytest.raises(Error, match="ERR_"):
        seen.open(path)


def test_a_finished_round_is_kept_no_longer(
    visit: Callable[..., Visit], where: Yard, fitter: Person
) -> None:
    path = begun(where, fitter)
    page = visit(fitter, PHONE).open(path)
    check_kept(page, path)
    page.click("[data-round-finish]")
    page.click("button:has-text('Finish the round')")
    expect(page.locator("main")).to_contain_text("Not seen in this round")
    check_kept(page)
    assert Round.objects.get().finished_at


def test_a_server_that_hangs_is_given_up_and_its_page_drawn_once_it_answers(
    visit: Callable[..., Visit], where: Yard, fitter: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = begun(where, fitter)
    page = visit(fitter, PHONE).open(path)
    check_kept(page, path)
    answers, plain = Event(), round_page

    def hanging(*args: Any, **kwargs: Any) -> Any:
        answers.wait(20)
        return plain(*args, **kwargs)

    monkeypatch.setattr(round_views, "round_page", hanging)
    page.reload()
    expect(page.locator("[data-round-old-words]")).to_contain_text("No connection")
    assert not answers.is_set()
    answers.set()
    page.evaluate("dispatchEvent(new Event('online'))")
    expect(page.locator("[data-round-old]")).to_be_hidden(timeout=WAITS)


def test_a_handful_is_kept_and_what_is_not_theirs_goes(
    visit: Callable[..., Visit], where: Yard, fitter: Person
) -> None:
    path, me = begun(where, fitter), fitter.pk
    seen = visit(fitter, PHONE)
    page = seen.open(path)
    check_kept(page, path)
    newest_first = [f"/rounds/{90000 + n}/" for n in range(9)]
    others = [[me, "/rounds/777/", 24 * 8], [me + 1, "/rounds/888/", 0]]
    page.evaluate(PUT, [[me, one, n + 1] for n, one in enumerate(newest_first)] + others)
    page.reload()
    check_kept(page, path, *newest_first[:7])
    seen.open(newest_first[0])  # not there, or not theirs any more
    check_kept(page, path, *newest_first[1:7])


def test_a_browser_that_keeps_no_pages_walks_and_logs_out_all_the_same(
    visit: Callable[..., Visit], where: Yard, fitter: Person
) -> None:
    seen = visit(fitter, PHONE)
    seen.context.add_init_script(
        "Object.defineProperty(Navigator.prototype, 'serviceWorker', { value: undefined });"
        "delete window.caches;"
    )
    page = seen.open(begun(where, fitter))
    page.click(f"{line(page, where.position)} >> text=Nothing found")
    expect(page.locator(".round__told")).to_have_count(1, timeout=WAITS)
    page.click("text=Log out")
    page.wait_for_url("**/login/")
    assert [said for said in seen.console if "autocomplete" not in said] == []


def test_another_person_finds_nothing_kept(
    visit: Callable[..., Visit], where: Yard, fitter: Person
) -> None:
    path = begun(where, fitter)
    seen = visit(fitter, PHONE)
    page = seen.open(path)
    check_kept(page, path)
    log_in(seen, make.person("planner", at=where.site))
    seen.open("/cautions/")
    check_kept(page)


def test_after_the_log_in_ended_what_was_told_waits_for_the_same_person(
    visit: Callable[..., Visit], where: Yard, fitter: Person
) -> None:
    path = begun(where, fitter)
    seen = visit(fitter, PHONE)
    page = seen.open(path)
    check_kept(page, path)
    seen.context.set_offline(True)
    page.reload()
    page.click(f"{line(page, where.position)} >> text=Nothing found")
    Session.objects.all().delete()
    seen.context.set_offline(False)
    expect(page.locator("[data-round-away]")).to_contain_text("logged in again", timeout=WAITS)
    expect(page.locator("[data-round-kept-words]")).to_contain_text("kept on this device")
    keep(page, "round-9-away")
    check_page(page)
    # Another person's log-in does not carry it; the same person's does, with an older page's token.
    log_in(seen, make.person("inspector", at=where.site))
    page.evaluate("dispatchEvent(new Event('online'))")
    page.wait_for_timeout(1500)
    assert not Inspection.objects.exists()
    log_in(seen, fitter)
    expect(page.locator(".round__told")).to_have_count(1, timeout=WAITS)
    expect(page.locator("[data-round-away]")).to_be_hidden()
    assert Inspection.objects.get().inspected_by == fitter


def log_in(seen: Visit, person: Person) -> None:
    """In the same browser, with the cookies that a log-in leaves: a new session and a new token."""
    client = Client()
    client.force_login(person)
    client.get("/cautions/")
    cookies = [
        {"name": name, "value": one.value, "url": seen.base} for name, one in client.cookies.items()
    ]
    seen.context.add_cookies(cookies)  # type: ignore[arg-type]  # as Playwright's own typed dict
