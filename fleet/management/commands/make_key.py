"""`manage.py make_key NAME --for PERSON`: an API key from the command line."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from fleet.actions.keys import make_key
from fleet.actions.refusals import Refused
from fleet.calc.keys import text_key
from fleet.models import Person, Site


class Command(BaseCommand):
    """Print a new key, once."""

    help = "Make an API key for a person and print it. It is kept nowhere and shown this once."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("name", help="What the key is for.")
        parser.add_argument("--for", dest="person", required=True, help="The owner's log-in name.")
        parser.add_argument("--site", help="Code of the one site it sees; else all of the owner's.")
        parser.add_argument("--write", action="store_true", help="It may record, not only read.")
        parser.add_argument("--days", type=int, default=90, help="How long it lasts.")

    def handle(self, *args: Any, **options: Any) -> None:
        owner = Person.objects.filter(username=options["person"]).first()
        if owner is None:
            raise CommandError(f"Nobody has the log-in name “{options['person']}”.")
        try:
            _, text = make_key(
                owner=owner,
                name=options["name"],
                site=self._site(options["site"]),
                may_write=options["write"],
                days=options["days"],
                by=None,
                at=timezone.now(),
            )
        except Refused as refusal:
            raise CommandError(refusal.sentence) from refusal
        self.stdout.write(str(text))

    def _site(self, code: str | None) -> Site | None:
        if code is None:
            return None
        found = Site.objects.filter(code_key=text_key(code), withdrawn_at=None).first()
        if found is None:
            raise CommandError(f"There is no site with the code “{code}”.")
        return found
