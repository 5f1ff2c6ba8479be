"""`manage.py backup FOLDER`: everything that would be missed, while the server runs."""

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from fleet.config.backups import write_backup
from fleet.config.steps import Halt


class Command(BaseCommand):
    help = "Write a backup of the database and the files as a new folder in FOLDER."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("folder", type=Path)

    def handle(self, *args: Any, folder: Path, **options: Any) -> None:
        try:
            made = write_backup(folder, made_at=f"{timezone.now():%Y-%m-%d-%H%M%S}")
        except Halt as halt:
            raise CommandError(f"{halt.sentence} Mend it with: {halt.mend}") from halt
        self.stdout.write(f"Backup written: {made}")
