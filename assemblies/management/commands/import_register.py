"""`manage.py import_register FILE --site CODE`: a register brought in from the command line."""

import json
import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any, cast

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from assemblies.actions.register.by_command import Answered, Commanded, import_by_command, pairs
from assemblies.calc.register.fields import Field
from assemblies.exchange.register import Form, refused_rows_file
from assemblies.exchange.register_report import report_of, words_of_report
from assemblies.queries.register_files import reasons
from fleet.actions.refusals import Refused
from fleet.calc.keys import text_key
from fleet.models import Site
from fleet.tabular import TableRefused

FIELDS = ", ".join(Field)
ASKED, REFUSED = 2, 1


class Command(BaseCommand):
    help = (
        "Bring a register of hoses (CSV or XLSX) into a site: all of it or nothing. "
        f"Fields: {FIELDS}. Exit: 0 done, 1 refused, 2 something must be answered first."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, help="the register, CSV or XLSX")
        parser.add_argument("--site", required=True, metavar="CODE", help="the site's code")
        parser.add_argument("--dry-run", action="store_true", help="show, write nothing")
        parser.add_argument("--json", action="store_true", help="answer as JSON")
        parser.add_argument(
            "--take-good-rows",
            action="store_true",
            help="write the good rows though some are refused",
        )
        parser.add_argument(
            "--answer",
            action="append",
            default=[],
            metavar="COLUMN=VALUE",
            help="answer a question: size=dash, fitted=dmy, machine=above, hours_now=2026-03-01",
        )
        parser.add_argument(
            "--column",
            action="append",
            default=[],
            metavar="FIELD=HEADER",
            help="say which column holds a field, by its header or its letter; empty: none does",
        )
        parser.add_argument("--sheet", default="", help="the sheet of a workbook that has several")
        parser.add_argument("--header-row", type=int, default=0, help="the row with the names")
        parser.add_argument("--encoding", help="the table of letters of a CSV that is not UTF-8")
        parser.add_argument(
            "--refused", type=Path, metavar="FILE", help="write the refused rows here"
        )

    def handle(self, *_args: Any, **options: Any) -> None:
        try:
            answered = import_by_command(_commanded(options), at=timezone.now())
        except (TableRefused, Refused) as refused:
            self._refuse(refused.code, refused.sentence, options)
            sys.exit(REFUSED)
        report = report_of(answered)
        self.stdout.write(
            json.dumps(report, ensure_ascii=False, indent=2)
            if options["json"]
            else words_of_report(report)
        )
        if options["refused"] and answered.plan is not None:
            _write_refused(answered, options["refused"])
        if answered.questions:
            sys.exit(ASKED)
        if answered.refusal is not None:
            sys.exit(REFUSED)

    def _refuse(self, code: str, sentence: str, options: dict[str, Any]) -> None:
        if options["json"]:
            refusal = {"written": False, "refusal": {"code": code, "sentence": sentence}}
            self.stdout.write(json.dumps(refusal, ensure_ascii=False, indent=2))
        else:
            self.stderr.write(sentence)


def _commanded(options: dict[str, Any]) -> Commanded:
    path: Path = options["file"]
    if not path.is_file():
        raise CommandError(f"There is no file {path}.")
    site = Site.objects.filter(code_key=text_key(options["site"])).first()
    if site is None:
        codes = ", ".join(Site.objects.values_list("code", flat=True)) or "none yet"
        raise CommandError(f"There is no site {options['site']}. The sites are: {codes}.")
    if options["dry_run"] and options["take_good_rows"]:
        raise CommandError("A dry run writes nothing: leave --take-good-rows out.")
    try:
        answers, columns = pairs(options["answer"]), pairs(options["column"])
    except ValueError as error:
        raise CommandError(str(error)) from error
    return Commanded(
        path=path,
        site=site,
        sheet=options["sheet"],
        header_row=options["header_row"],
        encoding=options["encoding"],
        answers=answers,
        columns=columns,
        dry_run=options["dry_run"],
        take_good_rows=options["take_good_rows"],
    )


def _write_refused(answered: Answered, path: Path) -> None:
    assert answered.plan is not None
    refused = {
        row.row_number: reasons([[r.cell, r.header, r.found, r.reason] for r in row.refusals])
        for row in answered.plan.rows
        if row.outcome == "refused"
    }
    opened, form = answered.opened, "xlsx" if path.suffix.lower() == ".xlsx" else "csv"
    content = refused_rows_file(
        opened.table, opened.found, answered.read.rows, refused, form=cast("Form", form)
    )
    path.write_bytes(content)
