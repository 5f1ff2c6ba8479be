"""Long work of assemblies, done outside the request."""

import datetime as dt
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from assemblies.actions.register.errands import LOOK, WRITE
from assemblies.actions.register.files import look_through, write_register
from assemblies.actions.sheets import issue_book_sheets
from assemblies.calc.sheet import SheetContent
from assemblies.pdf.hose_book import draw_hose_book
from assemblies.queries.hose_books import BOOK, book_file, book_plan
from assemblies.queries.sheets import content_of
from fleet.actions.errand_kinds import register_errand
from fleet.actions.errands import ErrandRun
from fleet.actions.refusals import Refused
from fleet.actions.statistics import freshen_statistics
from fleet.calc.local_days import local_day
from fleet.pdf.frame import page_size
from fleet.queries.reach import machine_for

_KEPT = dt.timedelta(days=7)


@register_errand(BOOK, lease=dt.timedelta(minutes=2))
def draw_book(run: ErrandRun) -> dict[str, Any]:
    """Issue a machine's sheets and draw them as one book into a file of the errand's own."""
    person, payload = run.person, run.payload
    machine = machine_for(person, payload["machine_id"]) if person else None
    if person is None or machine is None:
        raise Refused("machine_unknown", "You may not see this machine any more.")
    now, plan = run.clock(), book_plan(machine)
    sheets = issue_book_sheets(
        specs=list(plan.specs),
        site=machine.site,
        machine=machine,
        address=payload["address"],
        person=person,
        at=now,
    )
    path = book_file(run.errand_id)
    path.parent.mkdir(parents=True, exist_ok=True)
    _tidy(path.parent, before=now - _KEPT)
    today = local_day(now, machine.site.time_zone)

    def told() -> Iterator[SheetContent]:
        for done, sheet in enumerate(sheets, 1):
            yield content_of(sheet)
            run.progress(done, len(sheets))

    with path.open("wb") as out:
        head = plan.head(as_of_on=today)
        draw_hose_book(head, told(), out, page=page_size(payload["page"]))
    return {"machine_id": machine.pk, "name": f"hose-book-{machine.pk}-{today}.pdf"}


def _tidy(folder: Path, *, before: dt.datetime) -> None:
    """Books are drawn anew when they are wanted again; old ones go."""
    for path in folder.glob("*.pdf"):
        if path.stat().st_mtime < before.timestamp():
            path.unlink(missing_ok=True)


@register_errand(LOOK, lease=dt.timedelta(minutes=2))
def look_through_a_register(run: ErrandRun) -> dict[str, Any]:
    """Say of every row of a large register what it would do."""
    file = look_through(file_id=run.payload["file_id"], at=run.clock())
    return {"file_id": file.pk, "state": file.state}


@register_errand(WRITE, lease=dt.timedelta(minutes=2))
def write_a_register(run: ErrandRun) -> dict[str, Any]:
    """Write a large register that a person has confirmed."""
    if run.person is None:
        raise Refused("nobody", "Nobody has confirmed this register.")
    file = write_register(file_id=run.payload["file_id"], person=run.person, at=run.clock())
    freshen_statistics()
    return {"file_id": file.pk, "state": file.state}
