"""`manage.py restore BACKUP`: a backup into an empty installation."""

from pathlib import Path
from typing import Any

from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError, CommandParser

from fleet.config.backups import restore_backup
from fleet.config.steps import Halt


class Command(BaseCommand):
    help = "Put a backup into an empty installation, bring it up to this Layline, and prove it."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("backup", type=Path)

    def handle(self, *args: Any, backup: Path, **options: Any) -> None:
        try:
            manifest = restore_backup(backup)
        except Halt as halt:
            raise CommandError(f"{halt.sentence} Mend it with: {halt.mend}") from halt
        call_command("migrate", interactive=False, verbosity=0)
        self.stdout.write(f"Restored what was kept on {manifest.made_at} (UTC).")
        call_command("verify", stdout=self.stdout)
