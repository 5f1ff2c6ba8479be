"""`manage.py build_sheet TAG-or-SPEC --out FILE`: issue a build sheet and write it as a PDF."""

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from assemblies.actions.sheets import issue_sheet
from assemblies.pdf.build_sheet import draw_build_sheet
from assemblies.queries.sheets import SheetOrder, content_of, hose_tagged, spec_coded, spec_for_hose
from fleet.actions.refusals import Refused
from fleet.models import Site
from fleet.pdf.frame import page_size
from fleet.queries.own_address import own_address


class Command(BaseCommand):
    help = "Issue a build sheet, by a hose's tag or a spec's code, and write it as a PDF."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("named", metavar="TAG-or-SPEC", help="A hose's tag, or a spec's code.")
        parser.add_argument("--out", required=True, help="The file to write.")
        parser.add_argument("--page", default="A4", help="A4 or Letter.")
        parser.add_argument("--site", help="For a spec: the code of the site that builds.")
        parser.add_argument("--quantity", type=int, default=1, help="How many pieces.")
        parser.add_argument("--address", help="The register's address, for the codes on the sheet.")

    def handle(self, *args: Any, named: str, out: str, **options: Any) -> None:
        try:
            size = page_size(options["page"])
            spec, order = self._found(named, options)
            address = (options["address"] or own_address()).rstrip("/")
            sheet = issue_sheet(
                spec=spec, order=order, address=address, person=None, at=timezone.now()
            )
        except (Refused, ValueError) as refusal:
            raise CommandError(str(refusal)) from refusal
        path = Path(out)
        try:
            path.write_bytes(draw_build_sheet(content_of(sheet), page=size))
        except OSError as error:
            raise CommandError(f"{path} cannot be written: {error.strerror}.") from error
        self.stdout.write(f"Build sheet {sheet.site.code} {sheet.number} of {spec}: {path}")

    def _found(self, named: str, options: dict[str, Any]) -> tuple[Any, SheetOrder]:
        hose = hose_tagged(named)
        if hose is not None:
            spec, position = spec_for_hose(hose)
            if spec is None:
                raise CommandError(f"No spec stands behind {hose}: name one on its position.")
            return spec, SheetOrder(hose.site, options["quantity"], position)
        spec = spec_coded(named)
        if spec is None:
            raise CommandError(f"“{named}” is neither a tag nor the code of an approved spec.")
        return spec, SheetOrder(self._site(options["site"]), options["quantity"])

    def _site(self, code: str | None) -> Site:
        sites = Site.objects.filter(withdrawn_at=None)
        found = list(sites.filter(code=code) if code else sites)
        if len(found) == 1:
            return found[0]
        known = ", ".join(site.code for site in sites) or "there is none yet"
        raise CommandError(f"Name the site that builds with --site: {known}.")
