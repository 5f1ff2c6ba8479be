"""`manage.py refresh_dues`: work out every due, or only say which have drifted."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from fleet.actions.usages import refresh_usage
from fleet.models import Machine
from scheduling.actions.due_dates import refresh_all
from scheduling.actions.stale import refresh_everything
from scheduling.actions.tallies import recount_tallies
from scheduling.queries.tallies import wrong_tallies

BATCH = 500


class Command(BaseCommand):
    help = "Work out the dues of every assembly and write those that changed."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "--check", action="store_true", help="Change nothing; fail if any due has drifted."
        )
        parser.add_argument(
            "--usage", action="store_true", help="First work out the hours a day of every machine."
        )

    def handle(self, *args: Any, check: bool, usage: bool, **options: Any) -> None:
        if check:
            self._check()
            return
        if usage:
            self.stdout.write(f"{_refresh_usages()} counters changed their hours a day")
        done = refresh_everything()
        self.stdout.write(
            f"{done.seen} hoses: {done.changed} dues changed, {done.added} new, "
            f"{done.removed} taken out"
        )
        for site in recount_tallies():
            self.stdout.write(f"the counts kept of {site.code} are put right")

    def _check(self) -> None:
        found = refresh_all(check=True)
        miscounted = ", ".join(site.code for site in wrong_tallies())
        if found.written:
            named = ", ".join(str(number) for number in found.examples)
            raise CommandError(
                f"{found.written} of {found.seen} dues are not what they would be worked out as "
                f"now: {found.changed} differ, {found.added} are missing, {found.removed} have no "
                f"hose. Assemblies no. {named}. Mend it with: manage.py refresh_dues"
            )
        if miscounted:
            raise CommandError(
                f"The counts kept of {miscounted} are not those of the dues. Mend it with: "
                "manage.py refresh_dues"
            )
        self.stdout.write(f"{found.seen} dues stand as they would be worked out now")


def _refresh_usages() -> int:
    ids = list(Machine.objects.order_by("pk").values_list("pk", flat=True))
    batches = (ids[start : start + BATCH] for start in range(0, len(ids), BATCH))
    return sum(refresh_usage(machine_ids=batch) for batch in batches)
