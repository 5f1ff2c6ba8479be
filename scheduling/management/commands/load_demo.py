"""`manage.py load_demo`: Blackmere Aggregates into an empty register."""

import datetime as dt
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from fleet.actions.refusals import Refused
from scheduling.exchange.demo.days import LONDON
from scheduling.exchange.demo.load import demo_stands, load_demo


class Command(BaseCommand):
    help = "Load the demo, Blackmere Aggregates. Leaves it as it is where it stands already."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--seed", type=int, default=1, help="Another seed, another story.")
        parser.add_argument(
            "--today",
            type=dt.date.fromisoformat,
            help="The day up to which it is told: 2026-03-09.",
        )

    def handle(self, *args: Any, seed: int, today: dt.date | None, **options: Any) -> None:
        if stands := demo_stands():
            self.stdout.write(f"The demo stands already, {stands}: left as it is.")
            return
        now = timezone.now()
        try:
            loaded = load_demo(seed=seed, today=today or timezone.localdate(now, LONDON), at=now)
        except Refused as refused:
            raise CommandError(refused.sentence) from refused
        self.stdout.write(loaded.sentence)
