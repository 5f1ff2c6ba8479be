"""`manage.py write_due_sheets`: the build sheets of what falls due next at each site."""

import datetime as dt
from itertools import islice
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from assemblies.actions.sheets import issue_sheet
from assemblies.models import Assembly, FrozenSheet
from assemblies.pdf.build_sheet import draw_build_sheet
from assemblies.queries.sheets import SheetOrder, content_of, spec_for_hose
from fleet.actions.refusals import Refused
from fleet.calc.local_days import local_day
from fleet.models import Site
from fleet.pdf.frame import PageSize, page_size
from fleet.queries.own_address import own_address
from scheduling.queries.due_list import DueLine, DueSought, due_lines

LOOKED_THROUGH = 200


class Command(BaseCommand):
    help = "Write the build sheets of what falls due next at each site, as PDFs into a folder."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--out", required=True, help="The folder to write into.")
        parser.add_argument("--most", type=int, default=5, help="Sheets for each site.")
        parser.add_argument("--page", default="A4", help="A4 or Letter.")

    def handle(self, *args: Any, out: str, most: int, page: str, **options: Any) -> None:
        try:
            size = page_size(page)
        except ValueError as error:
            raise CommandError(str(error)) from error
        folder, now = Path(out), timezone.now()
        folder.mkdir(parents=True, exist_ok=True)
        written = sum(
            self._write(site, folder, size, now, most)
            for site in Site.objects.filter(withdrawn_at=None)
        )
        self.stdout.write(f"{written} build sheets in {folder}")

    def _write(self, site: Site, folder: Path, size: PageSize, now: dt.datetime, most: int) -> int:
        today = local_day(now, site.time_zone)
        lines = due_lines(None, DueSought(site_id=site.pk), today=today)
        found = (_sheet(line, site, now, today) for line in islice(lines, LOOKED_THROUGH))
        sheets = list(islice((sheet for sheet in found if sheet is not None), most))
        for sheet in sheets:
            pdf = draw_build_sheet(content_of(sheet), page=size)
            (folder / f"sheet-{site.code}-{sheet.number}.pdf").write_bytes(pdf)
        return len(sheets)


def _sheet(line: DueLine, site: Site, now: dt.datetime, today: dt.date) -> FrozenSheet | None:
    """The sheet to build the replacement by; None where no approved spec stands behind the hose."""
    hose = Assembly.objects.select_related("site", "spec__header").get(pk=line.hose_id)
    spec, position = spec_for_hose(hose)
    if spec is None:
        return None
    wanted = line.replace_on or line.due_on
    order = SheetOrder(site, position=position, need_by=max(wanted, today) if wanted else today)
    try:
        return issue_sheet(spec=spec, order=order, address=own_address(), person=None, at=now)
    except Refused:
        return None
