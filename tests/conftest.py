"""What all tests share: which of them this machine can run, and how the database is cleared."""

import os
import shutil
from collections.abc import Generator, Iterator
from pathlib import Path
from typing import Any

import pytest

TESTS = Path(__file__).parent
NEEDS = ("browser", "postgres", "redis")
ON_POSTGRES = bool(os.environ.get("TEST_DATABASE_URL"))
REQUIRED = {name.strip() for name in os.environ.get("REQUIRE", "").split(",") if name.strip()}


def chromium() -> str | None:
    """The browser of the browser tests: `CHROMIUM`, or the one on the path."""
    names = ("chromium", "chromium-browser", "google-chrome", "chrome")
    found = (shutil.which(name) for name in names)
    return os.environ.get("CHROMIUM") or next(filter(None, found), None)


def _lacking(need: str) -> str:
    """Why tests with this need can't run here, or an empty text."""
    if need == "browser" and not chromium():
        return "no Chromium found: install it, or name it in CHROMIUM"
    if need == "redis" and not shutil.which("redis-server"):
        return "no redis-server found: install Redis"
    if need == "postgres" and not ON_POSTGRES:
        return "no PostgreSQL named in TEST_DATABASE_URL"
    return ""


def pytest_configure(config: pytest.Config) -> None:
    unknown = REQUIRED - set(NEEDS)
    if unknown:
        raise pytest.UsageError(f"REQUIRE names {sorted(unknown)}; known are {', '.join(NEEDS)}.")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    for item in items:
        if TESTS / "browser" in item.path.parents:
            item.add_marker("browser")
    elsewhere = [item for item in items if _runs_elsewhere(item)]
    if elsewhere:
        config.hook.pytest_deselected(items=elsewhere)
        items[:] = [item for item in items if item not in set(elsewhere)]
    for item in items:
        for need in NEEDS:
            reason = _lacking(need) if item.get_closest_marker(need) else ""
            if reason:
                item.add_marker(pytest.mark.skip(reason=f"{need}: {reason}"))


def _runs_elsewhere(item: pytest.Item) -> bool:
    """A test of the other database, where a run on that one follows or went before."""
    if item.get_closest_marker("sqlite"):
        return ON_POSTGRES
    return bool(item.get_closest_marker("postgres") and os.environ.get("POSTGRES_FOLLOWS"))


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(
    item: pytest.Item, call: pytest.CallInfo[None]
) -> Generator[None, pytest.TestReport, pytest.TestReport]:
    """Where `REQUIRE` is set, a test that was skipped has failed."""
    report = yield
    if report.skipped and not hasattr(report, "wasxfail") and _must_run(item):
        report.outcome = "failed"
        report.longrepr = f"skipped, but REQUIRE={','.join(sorted(REQUIRED))}: {report.longrepr}"
    return report


def _must_run(item: pytest.Item) -> bool:
    needs = {need for need in NEEDS if item.get_closest_marker(need)}
    return bool(REQUIRED) and (not needs or bool(needs & REQUIRED))


@pytest.hookimpl(wrapper=True)
def pytest_make_collect_report(
    collector: pytest.Collector,
) -> Generator[None, pytest.CollectReport, pytest.CollectReport]:
    """Likewise a module that skipped itself while it was read."""
    report = yield
    if report.outcome == "skipped" and REQUIRED:
        report.outcome = "failed"
    return report


@pytest.fixture(autouse=True)
def _seals_make_way_for_the_flush(request: pytest.FixtureRequest) -> Iterator[None]:
    """Take the seals off before a transactional test's rows are deleted; migrate's signal after
    the deletion puts them on again."""
    if not _is_transactional(request):
        yield
        return
    request.getfixturevalue("transactional_db")
    yield
    from fleet.models.seals import remove_seals

    remove_seals(using="default")


def _is_transactional(request: pytest.FixtureRequest) -> bool:
    marker = request.node.get_closest_marker("django_db")
    asked: dict[str, Any] = marker.kwargs if marker else {}
    fixtures = {"transactional_db", "live_server"} & set(request.fixturenames)
    return bool(asked.get("transaction") or fixtures)


@pytest.fixture(scope="session")
def django_db_modify_db_settings_xdist_suffix(request: pytest.FixtureRequest) -> None:
    """Each process has a database name of its own already; no suffix is needed."""
