"""`manage.py write_due_lists`: each site's due list as CSV and PDF into a folder."""

import datetime as dt
from collections.abc import Iterator
from itertools import chain
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from fleet.models import Site
from scheduling.exchange.due_csv import due_csv
from scheduling.exchange.due_paper import due_paper
from scheduling.pdf.due_list import draw_due_list
from scheduling.queries.due_list import DueLine, DueSought, due_lines

PRINTED_DAYS = 90


class Command(BaseCommand):
    help = "Write every site's due list, as CSV (all of it) and PDF (what falls due in 90 days)."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--out", required=True, help="The folder to write into.")
        parser.add_argument("--site", help="Only the site with this code.")

    def handle(self, *args: Any, out: str, site: str | None, **options: Any) -> None:
        folder, now = Path(out), timezone.now()
        sites = Site.objects.filter(withdrawn_at=None)
        sites = sites.filter(code=site) if site else sites
        if not sites:
            raise CommandError(f"There is no site {site}." if site else "There is no site yet.")
        folder.mkdir(parents=True, exist_ok=True)
        for one in sites:
            today = now.astimezone(ZoneInfo(one.time_zone)).date()
            self._write(one, folder / f"due-{one.code}-{today}", today)

    def _write(self, site: Site, stem: Path, today: dt.date) -> None:
        with stem.with_suffix(".csv").open("wb") as file:
            for piece in due_csv(_lines(site, today)):
                file.write(piece)
        until = today + dt.timedelta(days=PRINTED_DAYS)
        content = due_paper(
            _lines(site, today, until),
            site=site.name,
            as_of_on=today,
            filtered=f"due by {until}, and what has no date",
        )
        stem.with_suffix(".pdf").write_bytes(draw_due_list(content))
        self.stdout.write(f"{site.name}: {content.summary} on paper; all in {stem.name}.csv")


def _lines(site: Site, today: dt.date, until: dt.date | None = None) -> Iterator[DueLine]:
    dated = DueSought(site_id=site.pk, until_on=until)
    undated = DueSought(site_id=site.pk, standing="undated")
    return chain(*(due_lines(None, sought, today=today) for sought in (dated, undated)))
