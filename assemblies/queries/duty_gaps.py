"""Hoses on machines that are rated below what their position asks of them."""

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Final

from django.db.models import Q, QuerySet

from assemblies.models import Position, SpecRevision, Stay
from assemblies.queries.ratings import RatingFacts, spec_ratings
from fleet.models import Person

CHUNK: Final = 2000
_COLUMNS: Final = (
    "position_id",
    "position__machine_id",
    "position__machine__fleet_number",
    "position__machine__site__code",
    "position__place",
    "position__place_no",
    "position__pressure_bar",
    "position__surge_bar",
    "assembly_id",
    "assembly__tag_id",
    "assembly__owner_mark",
    "assembly__working_pressure_bar",
    "assembly__spec_id",
)


@dataclass(frozen=True, slots=True)
class DutyGap:
    """A hose on a position that asks more of it. `asked_bar` is the greater of pressure and surge.

    `surge` says that it is the surge that asks more. A hose whose rating nobody knows is no gap:
    nothing is said of it here.
    """

    position_id: int
    machine_id: int
    assembly_id: int
    site_code: str
    machine: str
    place: str
    place_no: int
    hose: str
    rated_bar: Decimal
    rated_by: str
    asked_bar: Decimal
    surge: bool

    @property
    def sentence(self) -> str:
        """Both figures, where they are from, and how far apart they are."""
        kind = "with the stated surge" if self.surge else "in working"
        number = f" ({self.place_no})" if self.place_no > 1 else ""
        return (
            f"{self.machine}, {self.place}{number}: the hose {self.hose} is rated "
            f"{_plain(self.rated_bar)} bar ({self.rated_by}), the position asks "
            f"{_plain(self.asked_bar)} bar {kind}: {_plain(self.asked_bar - self.rated_bar)} bar "
            "too little."
        )


def duty_gaps(
    person: Person | None, *, site_id: int | None = None, machine_id: int | None = None
) -> tuple[DutyGap, ...]:
    """Every gap that the person may see, by machine and walk round it.

    A hose bears the lowest of what its spec's parts and approved recipes bear and what the
    register states of it. Source: SAE J517, ISO 18752 (lowest part). `person` None is the
    register itself. The number of queries does not grow with the rows, save by chunks of specs.
    """
    ratings = _ratings(person)
    found = _asking(person)
    if site_id is not None:
        found = found.filter(position__machine__site=site_id)
    if machine_id is not None:
        found = found.filter(position__machine=machine_id)
    order = ("position__machine__number_key", "position__machine_id", "position__walk_order", "id")
    rows = found.order_by(*order).values(*_COLUMNS).iterator(chunk_size=CHUNK)
    return tuple(_gaps(rows, ratings))


def _asking(person: Person | None) -> "QuerySet[Stay]":
    """Open stays on positions that state a pressure."""
    states = Q(position__pressure_bar__isnull=False) | Q(position__surge_bar__isnull=False)
    held: QuerySet[Stay] = Stay.objects.filter(states, is_open=True, position__isnull=False)
    if person is None:
        return held
    return held.filter(position__in=Position.objects.visible_to(person))


def _ratings(person: Person | None) -> dict[int, RatingFacts]:
    """The rating of every spec by which some hose is fitted that asks anything."""
    used = _asking(person).filter(assembly__spec__isnull=False)
    ids = set(used.values_list("assembly__spec_id", flat=True))
    return spec_ratings(list(SpecRevision.objects.filter(pk__in=ids).select_related("hose")))


def _gaps(rows: Any, ratings: dict[int, RatingFacts]) -> Iterator[DutyGap]:
    for row in rows:
        rated = _rated(row, ratings.get(row["assembly__spec_id"]))
        pressure, surge = row["position__pressure_bar"], row["position__surge_bar"]
        asked = max(bar for bar in (pressure, surge) if bar is not None)
        if rated is not None and rated[0] < asked:
            yield _gap(row, rated, asked, surge=pressure is None or asked > pressure)


def _rated(row: dict[str, Any], by_spec: RatingFacts | None) -> tuple[Decimal, str] | None:
    """The lowest known rating of a hose, and whose word it is."""
    known = []
    stated = row["assembly__working_pressure_bar"]
    if by_spec is not None and by_spec.rating is not None:
        binding = " and ".join(part.name for part in by_spec.rating.binding)
        known.append((by_spec.rating.working_pressure_bar, f"set by {binding}"))
    if stated is not None:
        known.append((stated, "as the register states it"))
    return min(known, key=lambda pair: pair[0], default=None)


def _gap(
    row: dict[str, Any], rated: tuple[Decimal, str], asked: Decimal, *, surge: bool
) -> DutyGap:
    return DutyGap(
        position_id=row["position_id"],
        machine_id=row["position__machine_id"],
        assembly_id=row["assembly_id"],
        site_code=row["position__machine__site__code"],
        machine=row["position__machine__fleet_number"],
        place=row["position__place"],
        place_no=row["position__place_no"],
        hose=row["assembly__tag_id"] or row["assembly__owner_mark"] or "without a tag",
        rated_bar=rated[0],
        rated_by=rated[1],
        asked_bar=asked,
        surge=surge,
    )


def _plain(bar: Decimal) -> str:
    return f"{bar.normalize():f}"
