"""`manage.py verify`: prove from the rows what must always hold, and name what does not."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils.module_loading import autodiscover_modules

from fleet.queries.proofs import MOST_SHOWN, prove_all


class Command(BaseCommand):
    help = "Prove from the rows themselves what must always hold; fail where it does not."

    def handle(self, *args: Any, **options: Any) -> None:
        autodiscover_modules("queries.proofs")
        wrong = 0
        for name, sentences in prove_all():
            self.stdout.write(f"{'ok' if not sentences else len(sentences):>6}  {name}")
            for sentence in sentences[:MOST_SHOWN]:
                self.stdout.write(f"          {sentence}")
            if len(sentences) > MOST_SHOWN:
                self.stdout.write(f"          … and {len(sentences) - MOST_SHOWN} more")
            wrong += len(sentences)
        if wrong:
            raise CommandError(f"{wrong} things do not hold.")
        self.stdout.write("All of it holds.")
