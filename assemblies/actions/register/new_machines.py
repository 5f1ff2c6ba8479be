"""The machines that a register brings or corrects."""

import datetime as dt
from collections.abc import Mapping, Sequence

from django.db.models import F

from assemblies.calc.register.facts import MACHINE_FACTS, Values
from assemblies.calc.register.known import MachineKey
from assemblies.calc.register.plans import MachinePlan
from fleet.actions.machines import UNSORTED, ensure_machine_class
from fleet.calc.keys import text_key
from fleet.models import Counter, HourMeter, Machine, MachineClass, Person, Site, SiteSpell, Usage
from fleet.models.batches import insert_rows, reserve_ids, update_rows

from .days import day_value
from .trail import Noted

_MACHINE_COLUMNS = (
    *("id", "site_id", "fleet_number", "number_key", "machine_class_id"),
    *("maker", "model", "serial_number"),
)
_USAGE_COLUMNS = (
    *("machine_id", "counts", "rate_h_per_day", "low_h_per_day", "high_h_per_day", "basis"),
)


def write_machines(
    machines: Mapping[MachineKey, MachinePlan],
    *,
    site: Site,
    person: Person | None,
    today: dt.date,
) -> tuple[dict[MachineKey, int], list[Noted]]:
    """Make the machines that are needed and not known, and change those that are told otherwise.

    Each new one gets its engine meter, its spell at the site and the usage of its class, as a
    machine that is added by hand. Returns the id of every machine by its key, and what to note.
    """
    needed = [machine for machine in machines.values() if machine.needed]
    ids = {machine.key: machine.known.id for machine in needed if machine.known}
    new = [machine for machine in needed if machine.known is None]
    classes = _classes(needed)
    ids.update(zip((m.key for m in new), reserve_ids(Machine, len(new)), strict=True))
    insert_rows(Machine, _MACHINE_COLUMNS, (_machine_row(m, ids, classes, site) for m in new))
    spells = [(ids[m.key], site.pk, day_value(today), person and person.pk) for m in new]
    insert_rows(SiteSpell, ("machine_id", "site_id", "from_on", "recorded_by_id"), spells)
    insert_rows(HourMeter, ("machine_id",), [(ids[m.key],) for m in new])
    insert_rows(Usage, _USAGE_COLUMNS, (_usage_row(ids[m.key], _class_of(m, classes)) for m in new))
    noted = [_made(m, ids[m.key]) for m in new]
    return ids, noted + _change([m for m in needed if m.known and m.changes], classes)


def _classes(machines: Sequence[MachinePlan]) -> dict[str, MachineClass]:
    names = {text_key(UNSORTED): UNSORTED}
    for machine in machines:
        values = _stated(machine)[0]
        if values[0]:
            names.setdefault(values[0], values[1])
    found = {kind.name_key: kind for kind in MachineClass.objects.filter(name_key__in=names)}
    for key, name in names.items():
        if key not in found:
            found[key] = ensure_machine_class(name=name)
    return found


def _stated(machine: MachinePlan) -> list[Values]:
    """What the rows say of a machine, fact by fact."""
    said = {change.fact.label: change.after for change in machine.changes}
    return [said.get(fact.label, fact.nothing) for fact in MACHINE_FACTS]


def _class_of(machine: MachinePlan, classes: Mapping[str, MachineClass]) -> MachineClass:
    return classes[_stated(machine)[0][0] or text_key(UNSORTED)]


def _machine_row(
    machine: MachinePlan,
    ids: Mapping[MachineKey, int],
    classes: Mapping[str, MachineClass],
    site: Site,
) -> tuple[object, ...]:
    _, (maker,), (model,), (serial,) = _stated(machine)
    kind = _class_of(machine, classes)
    return ids[machine.key], site.pk, machine.number, machine.key, kind.pk, maker, model, serial


def _usage_row(machine_id: int, kind: MachineClass) -> tuple[object, ...]:
    rate = int(kind.hours_per_day * 1000)
    return machine_id, Counter.ENGINE.value, rate, rate, rate, f"no readings: {kind} default"


def _made(machine: MachinePlan, pk: int) -> Noted:
    after = {change.fact.label: change.fact.show(change.after) for change in machine.changes}
    return Noted("added a machine", Machine, pk, machine.number, after)


def _change(machines: Sequence[MachinePlan], classes: Mapping[str, MachineClass]) -> list[Noted]:
    noted: list[Noted] = []
    for machine in machines:
        assert machine.known is not None
        for change in machine.changes:
            column, value = change.fact.columns[0], change.after[0]
            if column == "class_key":
                column, value = "machine_class_id", classes[change.after[0]].pk
            update_rows(Machine, (column,), [(value, machine.known.id)])
        words = [change.in_words() for change in machine.changes]
        before = {label: old for label, old, _ in words}
        after = {label: new for label, _, new in words}
        noted.append(
            Noted("changed a machine", Machine, machine.known.id, machine.number, after, before)
        )
    ids = [machine.known.id for machine in machines if machine.known]
    Machine.objects.filter(pk__in=ids).update(version=F("version") + 1)
    return noted
