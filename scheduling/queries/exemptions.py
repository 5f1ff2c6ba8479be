"""Exemptions as the pages show them, and what each of them puts off."""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from django.db.models import Q, QuerySet

from assemblies.models import Assembly, Stay
from fleet.models import Person
from fleet.models.compiled import compiled
from scheduling.calc.due import due_dates
from scheduling.calc.due_words import TITLES
from scheduling.calc.exemptions import put_off_until
from scheduling.calc.inputs import DueInputs, Exemptions, Trigger
from scheduling.models import Exemption
from scheduling.queries.due_columns import Some, due_inputs
from scheduling.queries.due_facts import hose_label
from scheduling.queries.rule_tables import alone, rulebook

MOST: Final = 60
MOST_COUNTED: Final = 5000  # hoses beyond which the list leaves counting to the exemption's page
_NAMED: Final = (
    *("assembly__tag", "position__machine", "site", "machine__site", "machine_class"),
    *("granted_by", "ended_by"),
)


@dataclass(frozen=True, slots=True)
class PutOff:
    """How many hoses an exemption covers, and how many due days it moves."""

    covered: int
    moved: int


@dataclass(frozen=True, slots=True)
class ExemptionLine:
    """One exemption in words. `state` is standing, over or ended."""

    exemption_id: int
    covers: str
    triggers: str
    reason: str
    granted_by: str
    granted_on: dt.date
    until_on: dt.date
    ended_at: dt.datetime | None
    ended_by: str
    state: str
    hose_id: int | None
    position_id: int | None
    put_off: PutOff | None


def exemptions_seen(person: Person, *, today: dt.date) -> tuple[ExemptionLine, ...]:
    """Standing exemptions by their last day, then those over or ended, the latest first.

    The queries do not grow with the exemptions.
    """
    seen = _seen(person)
    standing = list(seen.filter(_standing(today)).order_by("until_on", "id")[:MOST])
    gone = list(seen.exclude(_standing(today)).order_by("-until_on", "-id")[:MOST])
    counts = _counts(standing)
    return tuple(_line(one, today, counts.get(one.pk)) for one in (*standing, *gone))


def exemption_for(person: Person, exemption_id: int) -> Exemption | None:
    """The exemption, where the person may see it."""
    return _seen(person).filter(pk=exemption_id).first()


def exemption_line(exemption: Exemption, *, today: dt.date) -> ExemptionLine:
    """One exemption with what it puts off, however many hoses it covers."""
    ids = list(_covered_ids([exemption]))
    counted = _counted(ids, [exemption]) if exemption.ended_at is None else {}
    return _line(exemption, today, counted.get(exemption.pk))


def exemptions_of(hose: Assembly, *, today: dt.date) -> tuple[ExemptionLine, ...]:
    """The standing exemptions that cover a hose, by its own name, its position or their scope."""
    standing = _standing_for(hose.pk, today)
    if not standing:
        return ()
    book = rulebook()
    inputs = due_inputs(Some(ids=(hose.pk,)), book)
    held = [one for one in standing if _covers(inputs, alone(one, book)).any()]
    return tuple(_line(one, today, None) for one in held)


@compiled
def _standing_for(hose_id: int, today: dt.date) -> "QuerySet[Exemption]":
    """The standing exemptions that name no other hose and no other position."""
    held = Stay.objects.filter(assembly=hose_id, is_open=True).values("position")
    hose = Q(assembly=None) | Q(assembly=hose_id)
    place = Q(position=None) | Q(position__in=held)
    found = Exemption.objects.filter(hose, place, _standing(today))
    return found.select_related(*_NAMED)


def _standing(today: dt.date) -> Q:
    return Q(ended_at=None, until_on__gte=today)


def _seen(person: Person) -> "QuerySet[Exemption]":
    found = Exemption.objects.select_related(*_NAMED)
    if person.sees_every_site:
        return found
    ids = person.seen_site_ids
    own = Q(assembly__site__in=ids) | Q(position__machine__site__in=ids) | Q(site__in=ids)
    free = Q(assembly=None, position=None, site=None)
    return found.filter(own | (free & (Q(machine__site__in=ids) | Q(machine=None))))


def _counts(standing: Sequence[Exemption]) -> Mapping[int, PutOff]:
    """What each puts off, in one reading of the hoses they cover, as long as those are few."""
    if not standing:
        return {}
    ids = list(_covered_ids(standing)[: MOST_COUNTED + 1])
    return _counted(ids, standing) if len(ids) <= MOST_COUNTED else {}


def _counted(ids: Sequence[int], exemptions: Iterable[Exemption]) -> dict[int, PutOff]:
    book = rulebook()
    inputs = due_inputs(Some(ids=tuple(ids)), book)
    nobody = Exemptions.from_rows(np.array([], dtype=np.int64))
    bare = due_dates(inputs, book.rules, nobody)
    found = {}
    for one in exemptions:
        table = alone(one, book)
        moved = due_dates(inputs, book.rules, table).due_on > bare.due_on
        found[one.pk] = PutOff(int(_covers(inputs, table).sum()), int(moved.sum()))
    return found


def _covers(inputs: DueInputs, table: Exemptions) -> Any:
    """Which rows the one exemption of a table covers."""
    until = put_off_until(inputs, table)
    covered = np.zeros(inputs.size, dtype=bool)
    for column in until.values():
        covered |= column == int(table.until_on[0])
    return covered


def _covered_ids(exemptions: Iterable[Exemption]) -> "QuerySet[Assembly, int]":
    """Hoses that may be covered: a wide net, which the computation narrows."""
    net = Q(pk__in=[])
    for one in exemptions:
        net |= _net(one)
    return (
        Assembly.objects.filter(net, withdrawn_at=None).order_by("pk").values_list("pk", flat=True)
    )


def _net(one: Exemption) -> Q:
    held = Stay.objects.filter(is_open=True).values("assembly")
    if one.assembly_id is not None:
        return Q(pk=one.assembly_id)
    if one.position_id is not None:
        return Q(pk__in=held.filter(position=one.position_id))
    if one.machine_id is not None:
        return Q(pk__in=held.filter(position__machine=one.machine_id))
    narrowed = Q(site=one.site_id) if one.site_id is not None else Q()
    if one.machine_class_id is not None:
        kind = held.filter(position__machine__machine_class=one.machine_class_id)
        narrowed &= Q(pk__in=kind)
    return narrowed or Q(pk__isnull=False)


def _line(one: Exemption, today: dt.date, put_off: PutOff | None) -> ExemptionLine:
    state = "ended" if one.ended_at else "over" if one.until_on < today else "standing"
    return ExemptionLine(
        exemption_id=one.pk,
        covers=covers_words(one),
        triggers=trigger_words(one.triggers),
        reason=one.reason,
        granted_by=str(one.granted_by),
        granted_on=one.granted_on,
        until_on=one.until_on,
        ended_at=one.ended_at,
        ended_by=str(one.ended_by or ""),
        state=state,
        hose_id=one.assembly_id,
        position_id=one.position_id,
        put_off=put_off,
    )


def covers_words(one: Exemption) -> str:
    """What an exemption is for, in words."""
    if one.assembly is not None:
        return f"hose {hose_label(one.assembly)}"
    if one.position is not None:
        return f"{one.position.machine}, {one.position}"
    parts = (
        str(one.machine or ""),
        str(one.machine_class or ""),
        one.circuit and f"{one.get_circuit_display()} circuits",
        one.hose_type,
        one.consequence and f"where a failure {one.get_consequence_display()}",
        one.exposure and f"exposed to {one.get_exposure_display()}",
    )
    what = ", ".join(part for part in parts if part) or "every hose"
    return f"{what} at {one.site or (one.machine.site if one.machine else 'every site')}"


def trigger_words(names: Iterable[str]) -> str:
    """The triggers that are put off, in words."""
    titles = [TITLES[Trigger[name.upper()]] for name in names]
    return ", ".join(titles) if titles else "every trigger but take out now"
