"""`python -m tests.benchmarks [NAME...]`: every benchmark, each in a process and an empty
database of its own, on SQLite and, where `TEST_DATABASE_URL` names a server, on PostgreSQL.

A benchmark is a module `bench_*.py` with a function `main()`, which prints what it measured. The
settings are the real ones: a commit is kept through a power cut here as it is in the yard.
"""

import importlib
import os
import subprocess
import sys
import tempfile
from pathlib import Path

HERE = Path(__file__).parent
ROOT = HERE.parent.parent
ONE = "--one"


def run_all(wanted: list[str]) -> int:
    names = sorted(path.stem for path in HERE.glob("bench_*.py"))
    chosen = [name for name in names if not wanted or name.removeprefix("bench_") in wanted]
    if not chosen:
        known = ", ".join(name.removeprefix("bench_") for name in names)
        sys.stderr.write(f"There is no benchmark of that name; there are: {known}\n")
        return 2
    servers = {"SQLite": "", "PostgreSQL": os.environ.get("TEST_DATABASE_URL", "")}
    runs = [
        _run(name, server, address)
        for server, address in servers.items()
        if address or server == "SQLite"
        for name in chosen
    ]
    if not servers["PostgreSQL"]:
        _say("Not measured: PostgreSQL (name a server in TEST_DATABASE_URL)")
    return 0 if all(runs) else 1


def _run(name: str, server: str, address: str) -> bool:
    _say(f"\n== {name} on {server}")
    with tempfile.TemporaryDirectory(prefix="layline-bench-") as folder:
        settings = {"DJANGO_SETTINGS_MODULE": "fleet.config.settings", "DATABASE_URL": address}
        threads = {"OPENBLAS_NUM_THREADS": "1", "SECRET_KEY": "0123456789abcdef" * 4}
        command = [sys.executable, "-m", "tests.benchmarks", ONE, name]
        environment = {**os.environ, **settings, **threads, "DATA_DIR": folder}
        return subprocess.call(command, cwd=ROOT, env=environment) == 0


def run_one(name: str) -> None:
    """Run one benchmark here, in an empty database with every table."""
    import django

    django.setup()
    from django.apps import apps
    from django.conf import settings
    from django.db import connection

    # Straight from the models: the way there is not what is measured.
    settings.MIGRATION_MODULES = dict.fromkeys(app.label for app in apps.get_app_configs())
    file = settings.DATA_DIR / "bench.sqlite3"
    scratch = str(file) if connection.vendor == "sqlite" else f"layline_bench_{os.getpid()}"
    connection.settings_dict["TEST"]["NAME"] = scratch
    old = connection.settings_dict["NAME"]
    connection.creation.create_test_db(verbosity=0, autoclobber=True, serialize=False)
    sys.argv = [name]  # a benchmark reads its own options, and is given none here
    try:
        importlib.import_module(f"tests.benchmarks.{name}").main()
    finally:
        connection.creation.destroy_test_db(old, verbosity=0)


def _say(text: str) -> None:
    sys.stdout.write(f"{text}\n")
    sys.stdout.flush()


if __name__ == "__main__":
    if sys.argv[1:2] == [ONE]:
        run_one(sys.argv[2])
    else:
        sys.exit(run_all(sys.argv[1:]))
