"""The hose book of a machine: its positions in walk-round order and the specs to build them by."""

import datetime as dt
from dataclasses import dataclass, replace
from pathlib import Path

from django.conf import settings

from assemblies.models import Assembly, AssemblySpec, Position, SpecRevision, Stay
from assemblies.pdf.hose_book import BookEntry, BookHead
from assemblies.queries.parts import parts_of
from assemblies.queries.sheets import machine_alerts, sheet_obstacle
from fleet.models import Machine

BOOK = "hose_book"
"""The kind of errand that draws a book."""


def book_file(errand_id: int) -> Path:
    """Where the book of an errand stands when it is drawn."""
    return Path(settings.MEDIA_ROOT) / "books" / f"{int(errand_id)}.pdf"


@dataclass(frozen=True, slots=True)
class BookPlan:
    """What a book would hold: the entries, the specs with a sheet, and what is left out and why."""

    machine: Machine
    entries: tuple[BookEntry, ...]
    specs: tuple[SpecRevision, ...]
    left_out: tuple[str, ...]
    alerts: tuple[str, ...]

    def head(self, *, as_of_on: dt.date, number: str = "") -> BookHead:
        """The book's first pages."""
        return BookHead(
            machine=str(self.machine),
            site=self.machine.site.name,
            as_of_on=as_of_on,
            entries=self.entries,
            number=number,
            remarks=self.alerts,
            left_out=self.left_out,
        )


def book_plan(machine: Machine) -> BookPlan:
    """Look through a machine's positions; the number of queries doesn't grow with them."""
    positions = list(
        Position.objects.filter(machine=machine, withdrawn_at=None).order_by("walk_order", "id")
    )
    fitted = _fitted(machine)
    wanted = {place.pk: _spec_id(place, fitted.get(place.pk)) for place in positions}
    headers = {spec for spec in wanted.values() if spec is not None}
    approved = _approved(headers)
    left_out = _left_out(headers, approved)
    drawn = {header: rev for header, rev in approved.items() if header not in left_out}
    entries = tuple(
        replace(
            _entry(number, place, fitted.get(place.pk), drawn.get(wanted[place.pk] or 0)),
            no_sheet=left_out.get(wanted[place.pk] or 0, ("", ""))[0],
        )
        for number, place in enumerate(positions, 1)
    )
    specs = dict.fromkeys(wanted[place.pk] for place in positions)
    return BookPlan(
        machine=machine,
        entries=entries,
        specs=tuple(drawn[header] for header in specs if header in drawn),
        left_out=tuple(sentence for _, sentence in left_out.values()),
        alerts=tuple(machine_alerts(machine)),
    )


def _fitted(machine: Machine) -> dict[int, Assembly]:
    stays = Stay.objects.filter(is_open=True, position__machine=machine)
    found = stays.select_related("assembly__spec")
    return {stay.position_id: stay.assembly for stay in found if stay.position_id is not None}


def _spec_id(place: Position, hose: Assembly | None) -> int | None:
    """What the position requires; else what the hose on it was built by."""
    if place.required_spec_id is not None:
        return place.required_spec_id
    return hose.spec.header_id if hose is not None and hose.spec is not None else None


def _approved(headers: set[int]) -> dict[int, SpecRevision]:
    found = SpecRevision.objects.filter(header__in=headers, state="approved")
    return {row.header_id: row for row in found.select_related("header", "hose")}


def _left_out(headers: set[int], approved: dict[int, SpecRevision]) -> dict[int, tuple[str, str]]:
    """The specs that get no sheet, by header: in a word for the contents, and why."""
    parts = parts_of(list(approved.values()))
    found: dict[int, tuple[str, str]] = {}
    for spec in AssemblySpec.objects.filter(pk__in=headers).order_by("code_key"):
        revision = approved.get(spec.pk)
        if revision is None:
            sentence = f"{spec} has no approved revision: no sheet is drawn from it."
            found[spec.pk] = (f"{spec}: not approved", sentence)
        elif obstacle := sheet_obstacle(parts[revision.pk]):
            found[spec.pk] = (f"{spec}: no sheet, see above", obstacle.sentence)
    return found


def _entry(
    number: int, place: Position, hose: Assembly | None, spec: SpecRevision | None
) -> BookEntry:
    return BookEntry(
        walk_no=str(number),
        position=str(place),
        circuit=place.get_circuit_display(),
        tag=str(hose) if hose is not None else "",
        spec=f"{spec.header.code} rev {spec.number}" if spec is not None else "",
    )
