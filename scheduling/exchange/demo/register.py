"""The register as it is laid out in memory, and its writing."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import groupby
from typing import Any, Final, TypeVar, cast

from django.db import models

from assemblies.models import (
    Assembly,
    AssemblySpec,
    BuildEnd,
    BuildRecord,
    ConditionalRelease,
    Crimper,
    CrimpRecipe,
    CrimpTrial,
    FittingItem,
    FittingRevision,
    HoseItem,
    HoseRevision,
    Instrument,
    Position,
    RecipeRevision,
    RecipeTrial,
    Reel,
    ShellItem,
    ShellRevision,
    SpecEnd,
    SpecRevision,
    SpecSleeve,
    Stay,
    StockItem,
    StockMovement,
    Tag,
    TagLot,
    TrialPress,
    TrialProof,
)
from fleet import audit
from fleet.models import (
    Downtime,
    HourMeter,
    HourReading,
    Machine,
    MachineClass,
    Mount,
    Person,
    Site,
    SiteSpell,
)
from scheduling.models import (
    Exemption,
    Failure,
    Finding,
    Inspection,
    LifeRule,
    LifeRuleRevision,
)

BATCH: Final = 500
"""Rows a statement: SQLite counts the values of one, and takes 32,766."""

# Each table after those that its rows point at.
ORDER: Final[tuple[type[models.Model], ...]] = (
    *(Site, Person, MachineClass, Machine, SiteSpell, Mount, HourMeter, HourReading),
    *(HoseItem, HoseRevision, FittingItem, FittingRevision, ShellItem, ShellRevision),
    *(Crimper, Instrument, CrimpRecipe, RecipeRevision, CrimpTrial, TrialPress),
    *(TrialProof, RecipeTrial),
    *(AssemblySpec, SpecRevision, SpecEnd, SpecSleeve, Position, TagLot, Tag),
    *(Reel, StockItem, StockMovement, Assembly, Stay, ConditionalRelease),
    *(BuildRecord, BuildEnd, Downtime, LifeRule, LifeRuleRevision, Exemption),
    *(Inspection, Finding, Failure),
)
# What may only be closed once its parts stand: a row is written open, then these are set.
CLOSED_LATER: Final[Mapping[type[models.Model], tuple[str, ...]]] = {
    SpecRevision: ("state", "approved_by", "approved_at"),
    BuildRecord: ("signed_at", "signed_by"),
    CrimpTrial: ("closed_at", "outcome", "outcome_detail"),
}

RowT = TypeVar("RowT", bound=models.Model)


@dataclass(frozen=True)
class Told:
    """A deed with who did it and when."""

    at: dt.datetime
    actor: Person | None
    deed: audit.Deed


class Register:
    """Rows that are not written yet, table by table, and the trail that goes with them."""

    def __init__(self) -> None:
        self._rows: dict[type[models.Model], list[models.Model]] = defaultdict(list)
        self._closing: list[tuple[models.Model, dict[str, Any]]] = []
        self.told: list[Told] = []

    def add(self, row: RowT) -> RowT:
        self._rows[type(row)].append(row)
        return row

    def of(self, table: type[RowT]) -> list[RowT]:
        return cast("list[RowT]", self._rows[table])

    def close(self, row: models.Model, **values: Any) -> None:
        """Say with what a row is closed once its parts are written."""
        if tuple(values) != CLOSED_LATER[type(row)]:
            raise ValueError(f"A {row._meta.verbose_name} is closed with other columns.")
        self._closing.append((row, values))

    def tell(
        self,
        deed: str,
        subject: models.Model,
        *,
        at: dt.datetime,
        by: Person | None,
        site: Site | None = None,
        before: Mapping[str, Any] | None = None,
        after: Mapping[str, Any] | None = None,
        reason: str = "",
    ) -> None:
        entry = audit.Deed(deed, subject, site, before or {}, after or {}, reason)
        self.told.append(Told(at, by, entry))

    def write(self) -> dict[str, int]:
        """Write every table and the trail; call inside a transaction. Returns rows a table."""
        for table in ORDER:
            table._default_manager.bulk_create(self._rows[table], batch_size=BATCH)
        for table, columns in CLOSED_LATER.items():
            self._write_closings(table, columns)
        self._write_trail()
        return {str(t._meta.verbose_name_plural): len(self._rows[t]) for t in ORDER}

    def _write_closings(self, table: type[models.Model], columns: tuple[str, ...]) -> None:
        rows = [(row, values) for row, values in self._closing if isinstance(row, table)]
        for row, values in rows:
            for name, value in values.items():
                setattr(row, name, value)
        table._default_manager.bulk_update([row for row, _ in rows], columns, batch_size=BATCH // 2)

    def _write_trail(self) -> None:
        """In order of time; what one person did at one moment goes in together."""
        told = sorted(self.told, key=lambda entry: (entry.at, _name(entry.actor)))
        for (at, _), entries in groupby(told, key=lambda entry: (entry.at, _name(entry.actor))):
            same: Iterable[Told] = list(entries)
            actor = next(iter(same)).actor
            audit.record_many((entry.deed for entry in same), actor=actor, at=at)


def _name(actor: Person | None) -> str:
    return actor.username if actor else ""
