"""Issuing build sheets: the content is frozen with its number and checksum, once."""

import datetime as dt
import json
from dataclasses import replace

from django.db import transaction
from django.db.models import Count, F, Q

from assemblies.calc.sheet import SheetContent, to_json
from assemblies.models import FrozenSheet, SpecRevision
from assemblies.queries.parts import SpecParts, parts_of
from assemblies.queries.sheets import (
    MOST_PIECES,
    SheetOrder,
    content_of,
    sheet_content,
    sheet_obstacle,
)
from fleet import audit
from fleet.actions.paper_numbers import hold_numbers, next_number
from fleet.actions.refusals import Refused
from fleet.calc.local_days import local_day
from fleet.models import Machine, Person, Site
from fleet.permissions import READ, require

_LOOKED_BACK = 5
_KIND = "build sheet"


@transaction.atomic
def issue_sheet(
    *, spec: SpecRevision, order: SheetOrder, address: str, person: Person | None, at: dt.datetime
) -> FrozenSheet:
    """Freeze a sheet of a spec at a site and give it a number. Atomic.

    Safe to repeat: where one of the last sheets of this spec at the site says the same in all
    but its number and day, that one is given. Refuses: quantity, spec_not_approved,
    parts_missing, tolerance_unknown. Needs `read_register` at the site.
    """
    if person is not None:
        require(person, READ, order.site)
    return _issue(parts_of([spec])[spec.pk], order, address, person, at)


def issue_book_sheets(
    *,
    specs: list[SpecRevision],
    site: Site,
    machine: Machine | None = None,
    address: str,
    person: Person | None,
    at: dt.datetime,
) -> list[FrozenSheet]:
    """Freeze one sheet for each spec of a machine's hose book, each in a transaction of its own.

    Safe to repeat, and refuses, as `issue_sheet`. Needs `read_register` at the site.
    """
    if person is not None:
        require(person, READ, site)
    parts = parts_of(specs)
    sheets, order = [], SheetOrder(site, machine=machine)
    for spec in specs:
        with transaction.atomic():
            sheets.append(_issue(parts[spec.pk], order, address, person, at))
    return sheets


def _issue(
    parts: SpecParts, order: SheetOrder, address: str, person: Person | None, at: dt.datetime
) -> FrozenSheet:
    _refuse(parts, order)
    today = local_day(at, order.site.time_zone)
    draft = _content(parts, order, 0, today, address)
    counter = hold_numbers(order.site, _KIND)
    before = _said_already(parts.spec, order.site, draft)
    if before is not None:
        return before
    number = next_number(counter)
    content = _content(parts, order, number, today, address)
    sheet = FrozenSheet.objects.create(
        site=order.site,
        number=number,
        spec=parts.spec,
        content=json.loads(to_json(content)),
        checksum=content.checksum,
        issued_at=at,
        issued_by=person,
        position=order.position,
        need_by_on=order.need_by,
        quantity=order.quantity,
    )
    deed = audit.Deed("issued a build sheet", sheet, order.site, {}, {"checksum": sheet.checksum})
    audit.record(deed, actor=person, at=at)
    return sheet


def _refuse(parts: SpecParts, order: SheetOrder) -> None:
    if not 1 <= order.quantity <= MOST_PIECES:
        sentence = f"A sheet is for 1 to {MOST_PIECES} pieces, not {order.quantity}."
        raise Refused("quantity", sentence, field="quantity")
    obstacle = sheet_obstacle(parts)
    if obstacle is not None:
        raise Refused(obstacle.code, obstacle.sentence)


def _content(
    parts: SpecParts, order: SheetOrder, number: int, today: dt.date, address: str
) -> SheetContent:
    return sheet_content(
        parts,
        order,
        number=f"{order.site.code} {number}",
        drawn_on=today,
        address=address,
        job=f"/B/{order.site.pk}/{number}",
    )


def _said_already(spec: SpecRevision, site: Site, draft: SheetContent) -> FrozenSheet | None:
    """One of the last sheets that says the same, its number, day and month of stamping apart.

    One whose pieces are all begun, or that was put aside, is done with: the next order is another.
    """
    found = FrozenSheet.objects.filter(spec=spec, site=site, content__machine=draft.machine)
    begun = Count("builds", filter=Q(builds__scrapped_reason=""))
    waits = found.annotate(begun=begun).filter(aside_at=None, begun__lt=F("quantity"))
    last = waits.order_by("-number")[:_LOOKED_BACK]
    wanted = _bare(draft)
    return next((sheet for sheet in last if _bare(content_of(sheet)) == wanted), None)


def _bare(content: SheetContent) -> SheetContent:
    return replace(content, number="", drawn_on=dt.date.min, job_link="")
