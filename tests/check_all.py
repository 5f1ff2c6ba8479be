"""Every check and test, in one go: `make test` runs this in the tests' own environment.

Each check prints a line with its time; a failed one prints what it said, and the rest still run,
two at a time. pytest comes last, on SQLite, and on PostgreSQL too where `TEST_DATABASE_URL` names a
server.
"""

import os
import secrets
import shutil
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
APPS = ["fleet", "assemblies", "scheduling"]
MANAGE = [sys.executable, "manage.py"]
# Settings as a real installation has them; nothing is connected to.
REAL_INSTALLATION = {
    "DJANGO_SETTINGS_MODULE": "fleet.config.settings",
    "ALLOWED_HOSTS": "layline.example",
    "DATABASE_URL": "postgres://layline@localhost/layline",
    "REDIS_URL": "redis://localhost/0",
    "TRUSTED_PROXY": "127.0.0.1",
    "DEBUG": "false",
}
Check = tuple[str, list[str], dict[str, str]]  # its name, its command, more for its environment
TESTING = {"DJANGO_SETTINGS_MODULE": "fleet.config.test_settings"}


def main() -> int:
    with ThreadPoolExecutor(max_workers=2) as two:
        failed = [name for name, passed in two.map(_check, _checks()) if not passed]
    failed += [name for name, places, more in _test_runs() if not _pytest(name, places, more)]
    for skipped in _left_out():
        _say(f"Skipped: {skipped}")
    _say(f"FAILED: {', '.join(failed)}" if failed else "All checks and tests passed.")
    return 1 if failed else 0


def _checks() -> list[Check]:
    """The longest first."""
    real = {**REAL_INSTALLATION, "SECRET_KEY": secrets.token_urlsafe(64)}
    templates = [str(path) for app in APPS for path in (ROOT / app).glob("templates")]
    return [
        ("mypy --strict", [_tool("mypy"), *APPS, "tests", "manage.py"], {}),
        ("ruff check", [_tool("ruff"), "check", "."], {}),
        ("ruff format", [_tool("ruff"), "format", "--check", "."], {}),
        ("import contracts", [_tool("lint-imports"), "--no-cache"], {}),
        ("missing migrations", [*MANAGE, "makemigrations", "--check", "--dry-run"], TESTING),
        ("deployment", [*MANAGE, "check", "--deploy", "--fail-level", "WARNING"], real),
        ("API schema", [*MANAGE, "spectacular", "--validate", "--fail-on-warn"], TESTING),
        ("templates", [_tool("djlint"), "--lint", "--quiet", *templates], {}),
    ]


def _test_runs() -> list[Check]:
    """On PostgreSQL only what touches a database is run again."""
    server = os.environ.get("TEST_DATABASE_URL", "")
    sqlite = {"TEST_DATABASE_URL": "", "POSTGRES_FOLLOWS": "1" if server else ""}
    runs: list[Check] = [("pytest on SQLite", [], sqlite)]
    if server:
        places = ["tests/db", "tests/flows", "tests/faults"]
        there = [place for place in places if any((ROOT / place).rglob("test_*.py"))]
        runs.append(("pytest on PostgreSQL", there, {}))
    return runs


def _pytest(name: str, places: list[str], more: dict[str, str]) -> bool:
    _say(f"\n{name}")
    command = [
        sys.executable,
        "-m",
        "pytest",
        "-q",
        "-n",
        _workers(),
        "--dist",
        "worksteal",
        "--migrations",
        *places,
    ]
    return subprocess.call(command, cwd=ROOT, env={**os.environ, **more}) == 0


def _check(check: Check) -> tuple[str, bool]:
    """Its name, and whether it passed."""
    name, command, more = check
    began = time.perf_counter()
    answer = subprocess.run(
        command,
        cwd=ROOT,
        env={**os.environ, **more},
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        check=False,
    )
    passed = answer.returncode == 0
    line = f"{name:<22} {'passed' if passed else 'FAILED':<8} {time.perf_counter() - began:6.1f} s"
    _say(line if passed else f"{line}\n{answer.stdout}")
    return name, passed


def _left_out() -> list[str]:
    """What this machine could not be asked, each with what would let it."""
    required = os.environ.get("REQUIRE", "")
    lacking = []
    if not os.environ.get("TEST_DATABASE_URL"):
        lacking.append(("postgres", "the tests on PostgreSQL (name a server in TEST_DATABASE_URL)"))
    if not shutil.which("redis-server"):
        lacking.append(("redis", "the tests with Redis (install redis-server)"))
    if not (os.environ.get("CHROMIUM") or shutil.which("chromium")):
        lacking.append(("browser", "the tests in a browser (install chromium)"))
    return [what for need, what in lacking if need not in required]


def _workers() -> str:
    return os.environ.get("TEST_WORKERS", str(min(4, os.cpu_count() or 1)))


def _tool(name: str) -> str:
    return str(Path(sys.executable).with_name(name))


def _say(text: str) -> None:
    sys.stdout.write(f"{text}\n")
    sys.stdout.flush()


def refused() -> str:
    """Why the run can't begin: `REQUIRE` asks for PostgreSQL and none is named."""
    required = os.environ.get("REQUIRE", "").split(",")
    if "postgres" in required and not os.environ.get("TEST_DATABASE_URL"):
        return "REQUIRE names postgres, so TEST_DATABASE_URL must name a server."
    return ""


if __name__ == "__main__":
    sentence = refused()
    if sentence:
        sys.exit(sentence)
    sys.exit(main())
