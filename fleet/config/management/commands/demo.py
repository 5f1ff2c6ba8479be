"""`manage.py demo`: Blackmere Aggregates, from an empty folder to due lists and a server."""

import csv
import datetime as dt
import io
import shutil
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import DatabaseError, connection, transaction
from django.utils import timezone

from fleet.config.lock import HeldElsewhere, hold
from fleet.config.steps import Halt, Steps
from fleet.models import Person, Site


class Command(BaseCommand):
    help = "Load the demo, compute its dues, write due lists and build sheets, then serve."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--fresh", action="store_true", help="Begin with an empty database.")
        parser.add_argument("--no-serve", action="store_true", help="Stop after the due lists.")

    def handle(self, *args: Any, fresh: bool, no_serve: bool, **options: Any) -> None:
        steps = Steps(self._line)
        try:
            if fresh:
                steps.do("earlier data", _set_aside, timezone.now())
            self._prepare(steps)
        except Halt as halt:
            raise CommandError(_said(halt)) from halt
        self._tell_log_ins()
        if not no_serve:
            call_command("serve", stdout=self.stdout)

    def _prepare(self, steps: Steps) -> None:
        steps.do("secret key", lambda: f"kept in {_shown(settings.DATA_DIR / 'secret-key')}")
        steps.do("database", _migrate)
        steps.do("Blackmere Aggregates", _load)
        steps.do("dues", _quietly, "refresh_dues")
        folder = settings.DATA_DIR / "due-lists"
        steps.do("due lists", _write_lists, folder)
        steps.do("build sheets", _quietly, "write_due_sheets", "--out", str(folder))
        steps.do("page files", _quietly, "collectstatic", "--noinput")
        self._line(f"\nThe due lists of both sites, as CSV and PDF, are in {_shown(folder)}/,")
        self._line("with the build sheets of what falls due next.")

    def _tell_log_ins(self) -> None:
        there = set(Person.objects.filter(demo=True, is_active=True).values_list("username"))
        self._line("Demo log-ins, from this machine only (name, password, role):")
        with (settings.BASE_DIR / "fixtures/demo/people.csv").open(newline="") as file:
            for row in csv.DictReader(file):
                if (row["username"],) in there:
                    role = f"{row['role']}, {row['sites'].replace(' ', ', ') or 'every site'}"
                    self._line(f"    {row['username']:<14}{row['password']:<22}{role}")
        self._line("To start afresh: make fresh (what stands now is set aside, not deleted)")

    def _line(self, text: str) -> None:
        self.stdout.write(text)
        self.stdout.flush()


def _migrate() -> str:
    made = not _tables()
    settings.DATA_DIR.mkdir(parents=True, exist_ok=True)
    call_command("migrate", interactive=False, verbosity=0)
    return "made" if made else "stands"


def _tables() -> list[str]:
    try:
        return connection.introspection.table_names()
    except DatabaseError as error:
        mend = "start the database server, or leave DATABASE_URL out to use SQLite"
        raise Halt(f"The database does not answer: {str(error).splitlines()[0]}", mend) from error


def _load() -> str:
    """Load the demo once, whole or not at all; a register that stands is never loaded over."""
    sites = list(Site.objects.values_list("name", flat=True))
    if sites and not Person.objects.filter(demo=True).exists():
        raise Halt("The database holds a register that is not the demo.", "make serve")
    if sites:
        return f"stands, used again: {', '.join(sites)}"
    with transaction.atomic():
        _quietly("load_demo")
    return f"loaded: {', '.join(Site.objects.values_list('name', flat=True))}"


def _write_lists(folder: Path) -> str:
    folder.mkdir(parents=True, exist_ok=True)
    _quietly("write_due_lists", "--out", str(folder))
    written = [path for path in folder.iterdir() if path.suffix in {".csv", ".pdf"}]
    return f"{len(written)} files written"


def _quietly(name: str, *arguments: str) -> str:
    """Run a command; its last line is the step's note."""
    said = io.StringIO()
    call_command(name, *arguments, stdout=said, verbosity=1)
    lines = [line for line in said.getvalue().splitlines() if line.strip()]
    return lines[-1].strip()[:60] if lines else "done"


def _set_aside(at: dt.datetime) -> str:
    """Move the database, its files and the lists out of the way; delete nothing."""
    if not settings.ON_SQLITE:
        raise Halt(
            "DATABASE_URL names a database server, whose data is not set aside from here.",
            "make an empty database there, name it in DATABASE_URL, then run make demo",
        )
    try:
        with hold(settings.DATA_DIR / "serving"):
            return _moved(settings.DATA_DIR / "set-aside" / f"{at:%Y-%m-%d-%H%M%S}")
    except HeldElsewhere as held:
        raise Halt("Layline is serving this data.", "press Ctrl-C where it runs") from held


def _moved(aside: Path) -> str:
    connection.close()
    names = ["layline.sqlite3", "layline.sqlite3-wal", "layline.sqlite3-shm", "due-lists", "files"]
    found = [settings.DATA_DIR / name for name in names if (settings.DATA_DIR / name).exists()]
    if not found:
        return "none"
    aside.mkdir(parents=True)
    for path in found:
        shutil.move(path, aside / path.name)
    return f"moved to {_shown(aside)}"


def _said(halt: Halt) -> str:
    return f"{halt.sentence} Mend it with:\n    {halt.mend}"


def _shown(path: Path) -> str:
    """A path as a person in this folder would write it."""
    base = settings.BASE_DIR
    return str(path.relative_to(base)) if path.is_relative_to(base) else str(path)
