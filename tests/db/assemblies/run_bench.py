"""Signed builds with readings, for tests of runs."""

import datetime as dt
from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from assemblies.models import BuildEnd, BuildRecord, Crimper, RecipeRevision, SpecRevision
from fleet.models import Site
from tests import factories as make

STEADY = ("24.60", "24.62", "24.58", "24.61", "24.59")


def built(
    recipe: RecipeRevision,
    *readings: Sequence[str],
    at: Site,
    crimper: Crimper | None = None,
    day: int = 0,
    signed: bool = True,
    spec: SpecRevision | None = None,
    **facts: Any,
) -> BuildRecord:
    """One build; the readings of end A, then of end B where they are given."""
    by = make.person()
    scrapped = facts.pop("scrapped_reason", "")
    record = BuildRecord.objects.create(
        assembly=make.stored(at=at, origin="built"),
        site=at,
        spec=spec or make.spec().revisions.get(),
        crimper=crimper,
        built_on=make.TODAY + dt.timedelta(days=day),
        made_by=by,
        **facts,
    )
    for which, found in zip("AB", readings, strict=False):
        mean = sum((Decimal(mm) for mm in found), Decimal(0)) / max(len(found), 1)
        BuildEnd.objects.create(
            build=record,
            which=which,
            recipe=recipe,
            od_readings=list(found),
            crimp_od_mm=round(mean, 2) if found else None,
        )
    if signed:
        signing = {"signed_at": make.NOW, "signed_by": by, "scrapped_reason": scrapped}
        BuildRecord.objects.filter(pk=record.pk).update(**signing)
    return record


def steady_run(
    recipe: RecipeRevision,
    builds: int,
    *,
    at: Site,
    crimper: Crimper | None = None,
    first_day: int = 0,
) -> list[BuildRecord]:
    """A run that keeps its place: three readings an end, one end a build."""
    spec = make.spec().revisions.get()
    made = []
    for number in range(builds):
        middle = Decimal(STEADY[number * 2 % 5])
        ods = [str(middle + Decimal(step)) for step in ("-0.03", "0", "0.03")]
        made.append(built(recipe, ods, at=at, crimper=crimper, day=first_day + number, spec=spec))
    return made
