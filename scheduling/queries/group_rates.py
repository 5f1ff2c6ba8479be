"""Failures and the hours at risk of groups in a period: by site, class, hose, recipe, batch.

Sites and classes of machines are counted over the hours that their machines ran; hose types,
circuits, recipes and batches over hose-hours: the hours that the machine of each hose ran, by the
counter that ages its position, on the days on which the hose was on it and known.
"""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from typing import Any, Final

from django.db.models import (
    Count,
    ExpressionWrapper,
    F,
    FilteredRelation,
    IntegerField,
    Q,
    QuerySet,
    Sum,
    Value,
)
from django.db.models.functions import Coalesce, Greatest, Least

from assemblies.models import CrimpRecipe, Position, Reel, Stay
from fleet.models import MachineClass, Site
from fleet.models.fields import EPOCH
from scheduling.calc.life.comparison import Group
from scheduling.queries.losses import LossScope, Period, failures_in, of_scope
from scheduling.queries.run_hours import CounterRun, counter_runs


class By(StrEnum):
    """What the register is divided by."""

    SITE = "site"
    CLASS = "machine_class"
    HOSE_TYPE = "hose_type"
    CIRCUIT = "circuit"
    RECIPE = "recipe"
    REEL = "reel"


MACHINE_HOURS: Final = (By.SITE, By.CLASS)
_OF_MACHINE: Final = {By.SITE: "site_id", By.CLASS: "machine__machine_class_id"}
_OF_STAY: Final = {
    By.HOSE_TYPE: ("assembly__hose_type",),
    By.CIRCUIT: ("position__circuit",),
    By.RECIPE: ("end_a__recipe__header_id", "end_b__recipe__header_id"),
    By.REEL: ("assembly__build__reel_id",),
}
_OF_FAILURE: Final = {**_OF_STAY, By.CIRCUIT: ("stay__position__circuit",)}
_NAMED: Final[dict[By, Any]] = {
    By.SITE: Site,
    By.CLASS: MachineClass,
    By.RECIPE: CrimpRecipe,
    By.REEL: Reel,
}


@dataclass(frozen=True, slots=True)
class GroupRates:
    """The groups, and what stands in none of them: failures and hours whose group is not known.

    `too_early` counts failures of hoses that the register did not know yet: they have no hours.
    """

    by: By
    groups: tuple[Group, ...]
    unnamed_events: int
    unnamed_hours: float
    too_early: int


def group_rates(scope: LossScope, period: Period, by: By) -> GroupRates:
    """Every group with its failures and hours at risk. Four reads, whatever the number."""
    runs = counter_runs(scope, period, counts="engine" if by in MACHINE_HOURS else None)
    if by in MACHINE_HOURS:
        hours, events = _machine_hours(runs, by), _machine_failures(scope, period, by)
        early = 0
    else:
        hours = _hose_hours(scope, period, by, runs)
        events, early = _hose_failures(scope, period, by)
    none = ("", "None")
    keys = sorted({*hours, *events} - set(none))
    return GroupRates(
        by=by,
        groups=tuple(Group(key, events.get(key, 0), hours.get(key, 0.0)) for key in keys),
        unnamed_events=sum(events.get(key, 0) for key in none),
        unnamed_hours=sum(hours.get(key, 0.0) for key in none),
        too_early=early,
    )


def _machine_hours(runs: Iterable[CounterRun], by: By) -> dict[str, float]:
    found: defaultdict[str, float] = defaultdict(float)
    for run in runs:
        found[str(run.site_id if by is By.SITE else run.machine_class_id)] += float(run.hours)
    return found


def _machine_failures(scope: LossScope, period: Period, by: By) -> dict[str, int]:
    rows = failures_in(scope, period).order_by().values_list(_OF_MACHINE[by])
    return {str(key): number for key, number in rows.annotate(n=Count("pk"))}


def _hose_failures(scope: LossScope, period: Period, by: By) -> tuple[dict[str, int], int]:
    """Failures on machines by group, and how many came before the register knew the hose."""
    found = failures_in(scope, period).filter(stay__position__isnull=False).order_by()
    known = Q(failed_on__gte=F("assembly__known_from_on"))
    events: defaultdict[str, int] = defaultdict(int)
    keys = _OF_FAILURE[by]
    for *told, number in (
        _with_ends(found.filter(known), by).values_list(*keys).annotate(n=Count("pk"))
    ):
        for key in _keys(told):
            events[key] += number
    return events, found.exclude(known).count()


def _hose_hours(
    scope: LossScope, period: Period, by: By, runs: Iterable[CounterRun]
) -> dict[str, float]:
    pace = {(run.machine_id, run.counts): float(run.h_per_day) for run in runs}
    hours: defaultdict[str, float] = defaultdict(float)
    stays = _with_ends(_stays(scope, period), by).annotate(days=_days(period))
    rows = stays.filter(days__gt=0).values_list(
        "position__machine_id", "position__counts", *_OF_STAY[by]
    )
    for machine, counts, *told, days in rows.annotate(n=Sum("days")):
        for key in _keys(told):
            hours[key] += pace.get((machine, counts), 0.0) * days
    return hours


def _with_ends(found: "QuerySet[Any]", by: By) -> "QuerySet[Any]":
    """For recipes each end apart: a hose counts once under each recipe that its ends have."""
    if by is not By.RECIPE:
        return found
    ends = "assembly__build__ends"
    apart: QuerySet[Any] = found.annotate(
        end_a=FilteredRelation(ends, condition=Q(**{f"{ends}__which": "A"})),
        end_b=FilteredRelation(ends, condition=Q(**{f"{ends}__which": "B"})),
    )
    return apart


def _keys(told: Iterable[Any]) -> set[str]:
    """The groups of a row; one that is told nothing stands in the group without a name."""
    return {str(key) for key in told if key not in (None, "")} or {""}


def _stays(scope: LossScope, period: Period) -> "QuerySet[Stay]":
    """Installations that touch the period, as far as the register knew of them."""
    stays = scope.rows(Stay).filter(place="position")
    ended = Q(to_on=None) | Q(to_on__gt=period.from_on)
    begun = Q(from_earliest_on=None) | Q(from_earliest_on__lte=period.to_on)
    found = stays.filter(ended, begun, assembly__known_from_on__lte=period.to_on)
    asked = of_scope(scope, machine="position__machine")
    return found.filter(asked).exclude(removal="corrected").order_by()


def _days(period: Period) -> Any:
    """Days of a stay within a period: from its begin or the day it was known, until the day off."""
    first, after = ((day - EPOCH).days for day in (period.from_on, period.to_on))
    whole = IntegerField()
    known = F("assembly__known_from_on")
    begun = Coalesce(F("from_earliest_on"), known, output_field=whole)
    begins = Greatest(Value(first), begun, known, output_field=whole)
    end = Value(after + 1)
    ends = Least(end, Coalesce(F("to_on"), end, output_field=whole), output_field=whole)
    return ExpressionWrapper(ends - begins, output_field=whole)


def words_of(by: By, keys: Iterable[str]) -> dict[str, str]:
    """What the groups are called. One read at most."""
    wanted = list(keys)
    if by is By.CIRCUIT:
        return {key: str(dict(Position.Circuit.choices).get(key, key)) for key in wanted}
    if by is By.HOSE_TYPE:
        return {key: key for key in wanted}
    rows = _NAMED[by].objects.filter(pk__in=[int(key) for key in wanted])
    if by is By.REEL:
        return {str(row.pk): f"{row.code}, {row.hose}" for row in rows.select_related("hose")}
    related = ("hose", "fitting", "shell") if by is By.RECIPE else ()
    return {str(row.pk): str(row) for row in rows.select_related(*related)}
