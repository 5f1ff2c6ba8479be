"""From bytes to written rows: opened, understood, planned, compared, written."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from django.db import IntegrityError, transaction

from assemblies.calc.register.entries import ReadRow
from assemblies.calc.register.matching import plan_register
from assemblies.calc.register.plans import RegisterPlan
from assemblies.calc.register.understanding import (
    Chosen,
    ReadRegister,
    Understood,
    read_register,
    understand,
)
from assemblies.queries.register_known import read_known
from fleet.actions.refusals import Refused
from fleet.models import Site
from fleet.tabular import TableFile, open_table

from .inspection_book import last_inspections
from .unhindered import without_ring_search
from .writing import Import, write_plan


@dataclass(frozen=True, slots=True)
class Given:
    """A file, and all that a person has said of it."""

    content: bytes | Path
    name: str
    chosen: Chosen = field(default_factory=Chosen)
    answers: Mapping[str, str] = field(default_factory=dict)
    encoding: str | None = None
    remembered: Mapping[str, Sequence[str]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Opened:
    """A file opened and its columns understood."""

    table: TableFile
    found: Understood


def open_register(given: Given) -> Opened:
    """Open a file and understand its columns. Raises `TableRefused` with the reason."""
    table = open_table(given.content, name=given.name, encoding=given.encoding)
    return Opened(table, understand(table, given.chosen, given.remembered))


def read_rows(opened: Opened, *, answers: Mapping[str, str], today: dt.date) -> ReadRegister:
    """Read every row. Raises `TableRefused` where the file turns out not to be readable."""
    with without_ring_search():
        return read_register(opened.table, opened.found, answers, today)


def plan_rows(*, site: Site, rows: Sequence[ReadRow]) -> RegisterPlan:
    """Set the rows against the register as it is now."""
    return plan_register(rows, read_known(site=site, rows=rows, last_inspections=last_inspections))


def write_rows(
    *,
    rows: Sequence[ReadRow],
    into: Import,
    take_good_rows: bool = False,
    shown_digest: str = "",
) -> RegisterPlan:
    """Plan against the register as it stands, and write. Atomic: all of it or nothing.

    Safe to repeat: the same rows a second time are all the same. Refuses: rows_refused (unless
    the good rows are wanted), nothing_to_write (no row is a hose), register_changed (the outcomes
    are not those that were shown, or someone changed the register in this very moment).
    """
    try:
        with without_ring_search(), transaction.atomic():
            Site.objects.select_for_update().get(pk=into.site.pk)
            plan = plan_rows(site=into.site, rows=rows)
            _refuse_what_may_not_be_written(plan, take_good_rows, shown_digest)
            write_plan(plan, into)
    except IntegrityError as error:
        raise register_changed() from error
    return plan


def _refuse_what_may_not_be_written(
    plan: RegisterPlan, take_good_rows: bool, shown_digest: str
) -> None:
    if shown_digest and plan.digest() != shown_digest:
        raise register_changed()
    counts = plan.counts()
    if counts["refused"] and not take_good_rows:
        rows = "1 row is" if counts["refused"] == 1 else f"{counts['refused']:,} rows are"
        raise Refused(
            "rows_refused",
            f"{rows} refused, so nothing was written. Mend them, or take the good rows.",
        )
    if not counts["new"] + counts["changed"] + counts["same"]:
        raise Refused("nothing_to_write", "No row of the file is a hose that can be taken.")


def register_changed() -> Refused:
    return Refused(
        "register_changed",
        "The register has changed since these rows were looked through. Nothing was written: "
        "look at what would happen now.",
    )
