"""A fitting-up sheet's content from a position, what it holds and what goes on."""

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any

from assemblies.calc.fitting_sheet import Access, FittingContent, Place, PortLine
from assemblies.calc.fitting_words import PHASES
from assemblies.calc.sheet_phrases import sleeve_words
from assemblies.calc.sheet_words import bars, short_figure
from assemblies.models import Assembly, FittingRevision, Position, SpecRevision, Stay
from assemblies.queries.choices import held_by
from assemblies.queries.hose_cards import hose_card
from assemblies.queries.parts import EndParts, SpecParts, parts_of
from assemblies.queries.ratings import assembly_rating_of
from assemblies.queries.sheet_lines import sleeve_lines
from assemblies.queries.sheets import approved_spec_of
from assemblies.queries.unmatched import why_unmatched
from fleet.models import Machine
from fleet.navigation import About, alarms_about
from fleet.pdf.qr import usable_link

_MOST_NAMED = 6
_MOST_PLACES = 50


@dataclass(frozen=True, slots=True)
class FittingOrder:
    """What a fitting-up sheet is wanted for: the position, and the hose that goes on if known."""

    position: Position
    new: Assembly | None = None
    job: str = ""


def fitting_content(
    order: FittingOrder, *, number: str, drawn_on: dt.date, link: str
) -> FittingContent:
    """Gather what the sheet says; what the register does not know is left empty for the pen."""
    position, new = order.position, order.new
    spec = _spec_of(position, new)
    parts = parts_of([spec])[spec.pk] if spec else None
    content = FittingContent(
        number=number,
        drawn_on=drawn_on,
        place=_place(position),
        access=_access(position),
        old=hose_card(held_by(position)),
        new=hose_card(new) if new else replace(hose_card(None), spec=_spec_words(spec)),
        ends=(_port("A", position.port_a, parts, new), _port("B", position.port_b, parts, new)),
        job=order.job,
        guards=_guards(parts),
        alerts=tuple(_alerts(order)),
        phases=PHASES,
        link=usable_link(link),
    )
    return _with_bend(content, parts)


def _spec_of(position: Position, new: Assembly | None) -> SpecRevision | None:
    """By what the new hose was built; where it is not known yet, what the position requires."""
    if new is None:
        return approved_spec_of(position)
    return new.spec


def _spec_words(spec: SpecRevision | None) -> str:
    return f"{spec.header.code} rev {spec.number}" if spec else ""


def _place(position: Position) -> Place:
    machine = position.machine
    heat = position.oil_temperature_c
    return Place(
        site=machine.site.name,
        machine=str(machine),
        machine_facts=_machine_facts(machine),
        position=str(position),
        circuit=position.get_circuit_display(),
        counts=position.get_counts_display(),
        pressure_bar=position.pressure_bar,
        surge_bar=position.surge_bar,
        oil_temperature_c=None if heat is None else Decimal(heat),
        fluid=position.fluid or _fluid_elsewhere(position),
        routing_radius_mm=position.bend_radius_mm,
    )


def _machine_facts(machine: Machine) -> str:
    number = f"no. {machine.serial_number}" if machine.serial_number else ""
    facts = (str(machine.machine_class), machine.maker, machine.model, number)
    return ", ".join(fact for fact in facts if fact)


def _fluid_elsewhere(position: Position) -> str:
    """What the machine's other positions name, where this one names none."""
    others = Position.objects.filter(machine=position.machine_id, withdrawn_at=None)
    named = others.exclude(fluid="").order_by("fluid").values_list("fluid", flat=True).distinct()
    fluids = list(named[:_MOST_NAMED])
    return f"{' or '.join(fluids)} (elsewhere on this machine: ask)" if fluids else ""


def _access(position: Position) -> Access:
    return Access(
        labour_h=position.labour_h,
        people=position.people,
        lifting=position.lifting_needed,
        together=_together(position),
        note=position.note,
    )


def _together(position: Position) -> str:
    """The neighbours that are changed together with it."""
    if not position.access_group:
        return ""
    others = Position.objects.filter(
        machine=position.machine_id, access_group=position.access_group, withdrawn_at=None
    ).exclude(pk=position.pk)
    named = [str(other) for other in others[: _MOST_NAMED + 1]]
    more = " and more" if len(named) > _MOST_NAMED else ""
    listed = ", ".join(named[:_MOST_NAMED])
    return f"{position.access_group}: {listed}{more}" if listed else position.access_group


def _port(label: str, port: str, parts: SpecParts | None, new: Assembly | None) -> PortLine:
    end = next((one for one in parts.ends if one.end.which == label), None) if parts else None
    if end is not None and end.fitting is not None:
        return _known_port(label, port, end, end.fitting)
    stated = {"A": new.end_a, "B": new.end_b}[label] if new else ""
    return PortLine(label, port, stated)


def _known_port(label: str, port: str, end: EndParts, fitting: FittingRevision) -> PortLine:
    named = (str(end.end.fitting), fitting.maker, fitting.product, fitting.get_form_display())
    joins = (fitting.connection, fitting.connection_standard, fitting.connection_size)
    return PortLine(
        label=label,
        port=port,
        fitting=", ".join(part for part in named if part),
        connection=" ".join(part for part in joins if part),
        seal=fitting.small_parts,
        torque_nm=fitting.torque_nm,
        torque_source=fitting.torque_source,
    )


def _guards(parts: SpecParts | None) -> tuple[str, ...]:
    if parts is None or not parts.ends:
        return ()
    return tuple(sleeve_words(n, sleeve) for n, sleeve in enumerate(sleeve_lines(parts), 1))


def _with_bend(content: FittingContent, parts: SpecParts | None) -> FittingContent:
    hose = parts.hose if parts else None
    if hose is None or hose.bend_radius_mm is None:
        return content
    return replace(content, bend_radius_mm=hose.bend_radius_mm, bend_from="inside of bend")


def _alerts(order: FittingOrder) -> Iterator[str]:
    """What must be read first: the machine's and the new hose's alarms, then what does not fit."""
    position, new = order.position, order.new
    hoses = frozenset([new.pk] if new else [])
    about = About(frozenset([position.machine_id]), hoses)
    yield from (alarm.on_paper for alarm in alarms_about(about))
    if new is None:
        return
    if why := why_unmatched(new):
        yield (
            f"UNMATCHED: no published chart names the parts of {new} together ({why}). Shorter "
            "life, first inspection early."
        )
    yield from _below_duty(position, new)
    yield from _another_spec(position, new)


def _below_duty(position: Position, new: Assembly) -> Iterator[str]:
    asked = max((b for b in (position.pressure_bar, position.surge_bar) if b), default=None)
    bears = assembly_rating_of(new).working_pressure_bar
    if bears is None:
        yield f"Nobody has stated the working pressure of {new}: find it out before it goes on."
    elif asked is not None and bears < asked:
        yield (
            f"TOO WEAK: {new} bears {bars(bears)}, the position asks {bars(asked)} "
            f"({short_figure(asked - bears)} bar more). Do not fit it."
        )


def _another_spec(position: Position, new: Assembly) -> Iterator[str]:
    wanted = position.required_spec
    if wanted is None or (new.spec is not None and new.spec.header_id == wanted.pk):
        return
    built = f"built by {new.spec.header.code}" if new.spec else "of no spec in the register"
    yield f"NOT THE REQUIRED SPEC: the position requires {wanted.code}, {new} is {built}."


def places_for(hose: Assembly) -> list[dict[str, Any]]:
    """Where a hose that is in store could go: the positions of its site that require its spec."""
    if hose.spec is None:
        return []
    found = Position.objects.filter(
        required_spec=hose.spec.header_id, machine__site=hose.site_id, withdrawn_at=None
    ).select_related("machine")
    rows = found.order_by("machine__number_key", "walk_order", "id")[:_MOST_PLACES]
    return [{"id": row.pk, "words": f"{row.machine}, {row}"} for row in rows]


def place_of(hose: Assembly) -> Position | None:
    """The position that a hose is on now."""
    stay = Stay.objects.filter(assembly=hose, is_open=True, position__isnull=False)
    found = stay.select_related("position__machine__site", "position__required_spec").first()
    return found.position if found else None
