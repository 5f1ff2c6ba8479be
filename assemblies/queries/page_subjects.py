"""What a page is about, where its address names a position, a hose, its tag, build or papers."""

from collections.abc import Iterable, Mapping
from typing import Any

from django.db.models import QuerySet

from assemblies.calc.tags import NotATag, check_tag
from assemblies.models import (
    Assembly,
    BuildBatch,
    BuildRecord,
    FrozenPaper,
    FrozenSheet,
    Position,
    SpecCopy,
    Stay,
)
from fleet.models import Errand, Person
from fleet.models.compiled import compiled
from fleet.navigation import About, lead_by


def lead_there() -> None:
    """Say which parts of an address lead to a machine or a hose."""
    lead_by("position_id", way=_by_position)
    lead_by("hose_id", way=lambda person, parts: of_hoses(person, [parts["hose_id"]]))
    lead_by("typed", way=_by_tag)
    lead_by("site_id", "number", way=_by_sheet)
    lead_by("errand_id", way=_by_book)
    lead_by("build_id", way=_by_build)
    lead_by("batch_id", way=_by_batch)
    lead_by("paper_id", way=_by_paper)
    lead_by("copy_id", way=_by_copy)


def of_hoses(person: Person, ids: Iterable[int]) -> About:
    """The hoses that the person may see, and the machines they are on."""
    hoses = frozenset(_seen(person, list(ids)))
    return About(frozenset(_machines_of(hoses)), hoses)


@compiled
def _seen(person: Person, hose_ids: list[int]) -> "QuerySet[Assembly, int]":
    seen = Assembly.objects.visible_to(person).filter(pk__in=hose_ids)
    return seen.values_list("pk", flat=True)


@compiled
def _machines_of(hose_ids: frozenset[int]) -> "QuerySet[Stay, int]":
    stays = Stay.objects.filter(assembly__in=hose_ids, is_open=True, position__isnull=False)
    return stays.values_list("position__machine", flat=True)


def of_position(position_id: int | None) -> About:
    """The machine that a position is on."""
    if position_id is None:
        return About()
    return About(machines=frozenset(_machine_of_position(position_id)))


@compiled
def _machine_of_position(position_id: int) -> "QuerySet[Position, int]":
    return Position.objects.filter(pk=position_id).values_list("machine", flat=True)


def _by_position(_: Person, parts: Mapping[str, Any]) -> About:
    return of_position(parts["position_id"])


def _by_tag(person: Person, parts: Mapping[str, Any]) -> About:
    try:
        code = check_tag(parts["typed"])
    except NotATag:
        return About()
    return of_hoses(person, _tagged(code))


@compiled
def _tagged(code: str) -> "QuerySet[Assembly, int]":
    return Assembly.objects.filter(tag=code).values_list("pk", flat=True)


def _by_sheet(person: Person, parts: Mapping[str, Any]) -> About:
    seen = FrozenSheet.objects.visible_to(person)
    found = seen.filter(site=parts["site_id"], number=parts["number"])
    return of_position(found.values_list("position", flat=True).first())


def _by_book(person: Person, parts: Mapping[str, Any]) -> About:
    asked = Errand.objects.filter(pk=parts["errand_id"], person=person)
    payload: Mapping[str, Any] = asked.values_list("payload", flat=True).first() or {}
    machine_id = payload.get("machine_id")
    return About(machines=frozenset([machine_id] if isinstance(machine_id, int) else []))


def _by_build(person: Person, parts: Mapping[str, Any]) -> About:
    """A build is about its hose, and about the place that its sheet was drawn for."""
    found = BuildRecord.objects.visible_to(person).filter(pk=parts["build_id"])
    return _of_rows(person, found.values_list("assembly", "sheet__position"))


def _by_batch(person: Person, parts: Mapping[str, Any]) -> About:
    found = BuildBatch.objects.visible_to(person).filter(pk=parts["batch_id"])
    return _of_rows(person, found.values_list("builds__assembly", "sheet__position"))


def _by_paper(person: Person, parts: Mapping[str, Any]) -> About:
    found = FrozenPaper.objects.visible_to(person).filter(pk=parts["paper_id"])
    return _of_rows(person, found.values_list("assembly", "position"))


def _by_copy(person: Person, parts: Mapping[str, Any]) -> About:
    found = SpecCopy.objects.visible_to(person).filter(pk=parts["copy_id"])
    return _of_rows(person, found.values_list("assembly", "position"))


def _of_rows(person: Person, rows: Iterable[tuple[int | None, int | None]]) -> About:
    found = list(rows)
    hoses = of_hoses(person, [hose for hose, _ in found if hose is not None])
    return hoses | of_position(next((place for _, place in found if place is not None), None))
