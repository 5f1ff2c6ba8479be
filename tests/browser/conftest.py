"""A real Chromium on a live server, and what must hold on every page it opens."""

import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

import pytest
from django.test import Client
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright
from pytest_django.live_server_helper import LiveServer

from fleet.models import Person
from tests.conftest import chromium

# Playwright keeps an event loop in the thread of the tests, which Django takes for async code.
os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"

PHONE = {"width": 390, "height": 844}
NARROWEST = {"width": 360, "height": 740}
DESK = {"width": 1440, "height": 900}


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    with sync_playwright() as playwright:
        found = playwright.chromium.launch(executable_path=chromium(), args=["--no-sandbox"])
        yield found
        found.close()


@dataclass
class Visit:
    """One person at one screen: opens pages by path, and keeps what the console said."""

    context: BrowserContext
    page: Page
    base: str
    console: list[str] = field(default_factory=list)

    def open(self, path: str) -> Page:
        self.page.goto(self.base + path)
        return self.page


@pytest.fixture
def visit(browser: Browser, live_server: LiveServer) -> Iterator[Callable[..., Visit]]:
    """`visit(person, PHONE, scheme="dark")`: a context of their own, logged in."""
    opened: list[BrowserContext] = []

    def begin(person: Person | None, size: dict[str, int] = DESK, **options: object) -> Visit:
        context = browser.new_context(
            viewport=size,  # type: ignore[arg-type]  # a plain dict of the two sizes
            is_mobile=size["width"] < 500,
            has_touch=size["width"] < 500,
            color_scheme="dark" if options.get("scheme") == "dark" else "light",
            java_script_enabled=bool(options.get("scripts", True)),
            # What goes through a page's worker is not seen by the page's own `route`.
            service_workers="allow" if options.get("workers", True) else "block",
        )
        opened.append(context)
        if person is not None:
            _log_in(context, person, live_server.url)
        began = Visit(context, context.new_page(), live_server.url)
        began.page.on("console", lambda said: began.console.append(f"{said.type}: {said.text}"))
        began.page.on("pageerror", lambda error: began.console.append(f"error: {error}"))
        return began

    yield begin
    for context in opened:
        context.close()


def _log_in(context: BrowserContext, person: Person, url: str) -> None:
    client = Client()
    client.force_login(person)
    cookies = [{"name": name, "value": m.value, "url": url} for name, m in client.cookies.items()]
    context.add_cookies(cookies)  # type: ignore[arg-type]  # as Playwright's own typed dict
