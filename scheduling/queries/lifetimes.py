"""Every installation of a scope as a life: watched from an age, to an age, and how it ended."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from django.db.models import F, Q, QuerySet

from assemblies.models import Stay
from assemblies.queries.stay_hours import BEGAN_H, ENDED_H
from fleet.models import HourReading, Person, Usage
from scheduling.calc.life.installations import (
    Clock,
    Ended,
    Installation,
    LifeTable,
    life_table,
)

EPOCH: Final = dt.date(1970, 1, 1)

Counters = Mapping[tuple[int, str], tuple[list[int], list[int]]]


@dataclass(frozen=True, slots=True)
class LifeScope:
    """Which installations: all that are named must match; what is empty is any."""

    site_id: int | None = None
    machine_class_id: int | None = None
    machine_id: int | None = None
    circuit: str = ""
    hose_type: str = ""
    hose_id: int | None = None
    consequence: str = ""
    exposure: str = ""
    recipe_id: int | None = None
    reel_id: int | None = None

    def asked(self) -> Q:
        """The scope over stays. Site and type are those of the stay and the hose themselves."""
        named = {
            "site_id": self.site_id,
            "position__machine__machine_class_id": self.machine_class_id,
            "position__machine_id": self.machine_id,
            "position__circuit": self.circuit,
            "assembly__hose_type": self.hose_type,
            "assembly__hose_id": self.hose_id,
            "position__consequence": self.consequence,
            "position__exposure": self.exposure,
            "assembly__build__ends__recipe__header_id": self.recipe_id,
            "assembly__build__reel_id": self.reel_id,
        }
        return Q(**{path: value for path, value in named.items() if value not in (None, "")})


def lifetimes(person: Person, scope: LifeScope, clock: Clock, *, today: dt.date) -> LifeTable:
    """The lives of a scope on one clock, with what was left out and why. Four reads at most.

    Only installations at the person's sites count. A removal noted as a failure ends in failure,
    with the cause that was reported; every other removal is a change in time.
    """
    stays = Stay.objects.visible_to(person).filter(place="position").exclude(removal="corrected")
    found_rows = _rows(stays.filter(scope.asked()).distinct())
    rows = list({row["id"]: row for row in found_rows}.values())  # one told twice is one life
    counters = _counters(rows) if clock is Clock.HOURS else {}
    latest = _latest(rows) if clock is Clock.HOURS else {}
    run = _run_before(rows) if clock is Clock.HOURS else {}
    day = _number(today)
    found = (_installation(row, counters, latest, run, day) for row in rows)
    return life_table(found, clock)


def _rows(stays: "QuerySet[Stay]") -> Iterable[Mapping[str, Any]]:
    return stays.order_by("id").values(
        "id",
        "assembly_id",
        "from_earliest_on",
        "from_latest_on",
        "to_on",
        "is_open",
        "removal",
        began_h=BEGAN_H,
        ended_h=ENDED_H,
        known_on=F("assembly__known_from_on"),
        machine_id=F("position__machine_id"),
        counts=F("position__counts"),
        cause=F("failures__cause"),
        failure_id=F("failures__id"),
    )


def _installation(
    row: Mapping[str, Any],
    counters: Counters,
    latest: Mapping[tuple[int, str], int],
    run: Mapping[int, int | None],
    today: int,
) -> Installation:
    meter = (row["machine_id"], row["counts"])
    failed = row["failure_id"] is not None or row["removal"] == Stay.Removal.FAILED
    known = _number(row["known_on"])
    still = row["is_open"] and not failed
    end_h = latest.get(meter) if row["is_open"] else _tenths(row["ended_h"])
    return Installation(
        fitted_earliest_on=_day(row["from_earliest_on"]),
        fitted_latest_on=_day(row["from_latest_on"]),
        fitted_h=_tenths(row["began_h"]),
        earlier_h=run.get(row["id"], 0),
        known_on=known,
        known_h=_hours_at(counters.get(meter), known),
        end_on=today if row["is_open"] else _number(row["to_on"]),
        end_h=end_h,
        ended=Ended.FAILED if failed else Ended.RUNNING if still else Ended.CHANGED,
        cause=(row["cause"] or "unknown") if failed else "",
    )


def _counters(rows: Iterable[Mapping[str, Any]]) -> Counters:
    """The readings of each counter that has a late entry, as days and tenths, in order."""
    late = {
        row["machine_id"]
        for row in rows
        if row["from_latest_on"] is None or row["known_on"] > row["from_latest_on"]
    }
    taken: defaultdict[tuple[int, str], tuple[list[int], list[int]]] = defaultdict(lambda: ([], []))
    counting = Q(doubt="") | Q(accepted_at__isnull=False)
    readings = HourReading.objects.filter(counting, set_aside_at=None)
    for machine_id, counts, on, hours in (
        readings.filter(meter__machine_id__in=late)
        .order_by("read_on", "machine_h")
        .values_list("meter__machine_id", "meter__counts", "read_on", "machine_h")
    ):
        days, tenths = taken[machine_id, counts]
        days.append(_number(on))
        tenths.append(int(hours * 10))
    return taken


def _hours_at(counter: tuple[list[int], list[int]] | None, day: int) -> int | None:
    """The counter on a day, between the readings either side; None outside them."""
    if counter is None or not counter[0][0] <= day <= counter[0][-1]:
        return None
    return round(float(np.interp(day, counter[0], counter[1])))


def _latest(rows: Iterable[Mapping[str, Any]]) -> dict[tuple[int, str], int]:
    """The last accepted reading of each counter with a hose still running."""
    running = {row["machine_id"] for row in rows if row["is_open"]}
    usages = Usage.objects.filter(machine_id__in=running, machine_h__isnull=False)
    kept = usages.values_list("machine_id", "counts", "machine_h")
    return {(machine, counts): _tenths(hours) or 0 for machine, counts, hours in kept}


def _run_before(rows: Iterable[Mapping[str, Any]]) -> dict[int, int | None]:
    """The tenths each hose ran on positions before each of its stays; None where unknown.

    Corrected hours that run backwards tell nothing: unknown too.
    """
    hoses = {row["assembly_id"] for row in rows}
    stays = Stay.objects.filter(assembly_id__in=hoses, place="position")
    found: dict[int, int | None] = {}
    so_far: dict[int, int | None] = {}
    for stay_id, hose, start, end in stays.order_by("assembly_id", "id").values_list(
        "id", "assembly_id", BEGAN_H, ENDED_H
    ):
        found[stay_id] = before = so_far.get(hose, 0)
        ran = None if start is None or end is None or end < start else int((end - start) * 10)
        so_far[hose] = None if before is None or ran is None else before + ran
    return found


def _tenths(hours: Any) -> int | None:
    return None if hours is None else int(hours * 10)


def _day(on: dt.date | None) -> int | None:
    return None if on is None else _number(on)


def _number(on: dt.date) -> int:
    """A day as days since 1970-01-01."""
    return (on - EPOCH).days
