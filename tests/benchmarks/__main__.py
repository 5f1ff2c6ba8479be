"""`python -m tests.benchmarks [NAME...] [--size N] [--keep FOLDER]`: the benchmarks, each in a
process of its own, on SQLite and, where `TEST_DATABASE_URL` names a server, on PostgreSQL.

A benchmark is a module `bench_*.py` with a function `main()`, which prints what it measured. It
has an empty database, or, where it says `ON_REGISTER = True`, a big register of `--size` hoses
that is made once and kept in the folder (`var/bench`). The settings are the real ones: a commit is
kept through a power cut here as it is in the yard.
"""

import argparse
import importlib
import os
import subprocess
import sys
import tempfile
from pathlib import Path
from types import ModuleType

HERE = Path(__file__).parent
ROOT = HERE.parent.parent
ONE = "--one"
SIZE = "100000"


def run_all(wanted: list[str], size: str, keep: str) -> int:
    names = sorted(path.stem for path in HERE.glob("bench_*.py"))
    chosen = [name for name in names if not wanted or name.removeprefix("bench_") in wanted]
    if not chosen:
        known = ", ".join(name.removeprefix("bench_") for name in names)
        sys.stderr.write(f"There is no benchmark of that name; there are: {known}\n")
        return 2
    servers = {"SQLite": "", "PostgreSQL": os.environ.get("TEST_DATABASE_URL", "")}
    told = {"BENCH_HOSES": size, "BENCH_KEEP": keep}
    runs = [
        _run(name, server, {"DATABASE_URL": address, **told})
        for server, address in servers.items()
        if address or server == "SQLite"
        for name in chosen
    ]
    if not servers["PostgreSQL"]:
        _say("Not measured: PostgreSQL (name a server in TEST_DATABASE_URL)")
    return 0 if all(runs) else 1


def _run(name: str, server: str, told: dict[str, str]) -> bool:
    _say(f"\n== {name} on {server}")
    with tempfile.TemporaryDirectory(prefix="layline-bench-") as folder:
        settings = {"DJANGO_SETTINGS_MODULE": "fleet.config.settings", "DATA_DIR": folder}
        threads = {"OPENBLAS_NUM_THREADS": "1", "SECRET_KEY": "0123456789abcdef" * 4}
        command = [sys.executable, "-m", "tests.benchmarks", ONE, name]
        environment = {**os.environ, **settings, **threads, **told}
        return subprocess.call(command, cwd=ROOT, env=environment) == 0


def run_one(name: str) -> None:
    """Run one benchmark here, in an empty database with every table or on the kept register."""
    import django

    django.setup()
    from django.apps import apps
    from django.conf import settings

    # Straight from the models: the way there is not what is measured.
    settings.MIGRATION_MODULES = dict.fromkeys(app.label for app in apps.get_app_configs())
    sys.argv = [name]  # a benchmark reads its own options, and is given none here
    benchmark = importlib.import_module(f"tests.benchmarks.{name}")
    if getattr(benchmark, "ON_REGISTER", False):
        from tests.benchmarks.kept_register import open_register

        keep = os.environ.get("BENCH_KEEP", "var/bench")
        open_register(int(os.environ.get("BENCH_HOSES", SIZE)), ROOT / keep)
        benchmark.main()
    else:
        _in_scratch(benchmark)


def _in_scratch(benchmark: ModuleType) -> None:
    from django.conf import settings
    from django.db import connection

    file = settings.DATA_DIR / "bench.sqlite3"
    scratch = str(file) if connection.vendor == "sqlite" else f"layline_bench_{os.getpid()}"
    connection.settings_dict["TEST"]["NAME"] = scratch
    old = connection.settings_dict["NAME"]
    connection.creation.create_test_db(verbosity=0, autoclobber=True, serialize=False)
    try:
        benchmark.main()
    finally:
        connection.creation.destroy_test_db(old, verbosity=0)


def _say(text: str) -> None:
    sys.stdout.write(f"{text}\n")
    sys.stdout.flush()


def _told() -> argparse.Namespace:
    options = argparse.ArgumentParser(prog="python -m tests.benchmarks")
    options.add_argument("names", nargs="*")
    options.add_argument("--size", default=os.environ.get("BENCH_HOSES", SIZE))
    options.add_argument("--keep", default=os.environ.get("BENCH_KEEP", "var/bench"))
    return options.parse_args()


if __name__ == "__main__":
    if sys.argv[1:2] == [ONE]:
        run_one(sys.argv[2])
    else:
        told = _told()
        sys.exit(run_all(told.names, told.size, told.keep))
