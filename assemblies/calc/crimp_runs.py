"""The run of crimps of one recipe on one crimper: where it stands, where it goes, what trips.

One point is one crimped end. The tolerance of a recipe is for the mean OD of an end, so the chart
of means has limits by moving ranges (I–MR): what differs from crimp to crimp, dial and die among
it, is not seen in the readings round one crimp. Those carry the chart of ranges, and the narrower
X̄–R limits that stand beside. The ends may have different numbers of readings.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from assemblies.calc.capability import (
    BUILDS_FOR_LIMITS,
    Capability,
    ChartLimits,
    Trip,
    capability,
    individuals_limits,
    moving_range_sigma,
    subgroup_limits,
    trips,
)

RECENT_ENDS = 8
MOST_READINGS = 25


@dataclass(frozen=True, slots=True)
class CrimpPoint:
    """One crimped end: the build it is of, the readings round it in mm."""

    build_id: int
    readings_mm: tuple[float, ...]

    @property
    def mean_mm(self) -> float:
        return sum(self.readings_mm) / len(self.readings_mm)

    @property
    def range_mm(self) -> float:
        return max(self.readings_mm) - min(self.readings_mm)


@dataclass(frozen=True, slots=True)
class Aim:
    """What the recipe asks of the mean OD of an end, in mm."""

    od_mm: float
    lower_mm: float
    upper_mm: float


@dataclass(frozen=True, slots=True)
class Drift:
    """How a run moves, in mm: by the median slope, first end to last; the last against the aim."""

    ends: int
    per_end_mm: float
    over_all_mm: float
    last_mm: float
    off_aim_mm: float


@dataclass(frozen=True, slots=True)
class RunStudy:
    """One run studied. Limits, Cp and Cpk are None before 25 builds or where nothing varies."""

    builds: int
    drift: Drift | None
    outside_tolerance: tuple[int, ...]
    limits: ChartLimits | None = None
    moving: ChartLimits | None = None
    within: ChartLimits | None = None
    usual_readings: int = 0
    range_limits: tuple[ChartLimits | None, ...] = ()
    capability: Capability | None = None
    trips: tuple[Trip, ...] = field(default=())

    @property
    def recent(self) -> tuple[Trip, ...]:
        """The trips that reach the last ends: what the next build must know of."""
        ends = self.drift.ends if self.drift else 0
        return tuple(trip for trip in self.trips if trip.last >= ends - RECENT_ENDS)


def study_run(points: Sequence[CrimpPoint], aim: Aim | None) -> RunStudy:
    """Study the ends of one run, the first one first.

    Parameters: points in the order they were crimped; the recipe's aim (None where it has no
    OD). Limits come from the first 25 builds of the run and are held against all of it, Cp and
    Cpk from all of it. A rule of direction (six in a row) is looked for from the first end on.
    Source: see `capability`; which limits are used is this project's own choice, said above.

    >>> run = [CrimpPoint(n, (24.6, 24.7)) for n in range(3)]
    >>> study = study_run(run, Aim(24.6, 24.5, 24.7))
    >>> study.builds, study.limits, round(study.drift.off_aim_mm, 2)
    (3, None, 0.05)
    """
    means = [point.mean_mm for point in points]
    builds = len({point.build_id for point in points})
    drift, outside = drift_of(means, aim), _outside(means, aim)
    if builds < BUILDS_FOR_LIMITS or len(means) < 2:
        going = trips(means, None) if len(means) > 1 else []
        return RunStudy(builds, drift, outside, trips=tuple(going))
    first = _first_builds(points)
    limits, moving = individuals_limits([point.mean_mm for point in first])
    within, usual = _within(first)
    ranges = _range_limits(points, first)
    wide = [
        Trip("range", place, place, up=True)
        for place, (point, limit) in enumerate(zip(points, ranges, strict=True))
        if limit is not None and point.range_mm > limit.upper
    ]
    return RunStudy(
        builds=builds,
        drift=drift,
        outside_tolerance=outside,
        limits=limits,
        moving=moving,
        within=within,
        usual_readings=usual,
        range_limits=ranges,
        capability=_capability(means, aim),
        trips=(*trips(means, limits), *wide),
    )


def drift_of(means_mm: Sequence[float], aim: Aim | None) -> Drift | None:
    """How the means of a run move: the median of the slopes between all pairs (Theil–Sen).

    Parameters: means in mm, shape (n,), in order. None where there is none. Source: Sen 1968.

    >>> drift_of([24.60, 24.61, 24.62], None).over_all_mm.__round__(3)
    0.02
    """
    if not means_mm:
        return None
    values = np.asarray(means_mm, dtype=np.float64)
    i, j = np.triu_indices(len(values), 1)
    slope = float(np.median((values[j] - values[i]) / (j - i))) if len(i) else 0.0
    off = float(values[-1]) - aim.od_mm if aim else 0.0
    return Drift(len(values), slope, slope * (len(values) - 1), float(values[-1]), off)


def _outside(means: Sequence[float], aim: Aim | None) -> tuple[int, ...]:
    if aim is None:
        return ()
    low, high = aim.lower_mm - 1e-9, aim.upper_mm + 1e-9
    return tuple(place for place, mean in enumerate(means) if not low <= mean <= high)


def _first_builds(points: Sequence[CrimpPoint]) -> list[CrimpPoint]:
    """The ends of the first 25 builds."""
    firsts = list(dict.fromkeys(point.build_id for point in points))[:BUILDS_FOR_LIMITS]
    return [point for point in points if point.build_id in set(firsts)]


def _many(points: Sequence[CrimpPoint]) -> list[CrimpPoint]:
    """The ends with readings enough for a range."""
    return [point for point in points if 2 <= len(point.readings_mm) <= MOST_READINGS]


def _within(first: Sequence[CrimpPoint]) -> tuple[ChartLimits | None, int]:
    """The X̄–R limits of the means for the number of readings that is usual here."""
    many = _many(first)
    if not many:
        return None, 0
    usual = Counter(len(point.readings_mm) for point in many).most_common(1)[0][0]
    means, _ = subgroup_limits([point.readings_mm for point in many])
    place = next(i for i, point in enumerate(many) if len(point.readings_mm) == usual)
    return means[place], usual


def _range_limits(
    points: Sequence[CrimpPoint], first: Sequence[CrimpPoint]
) -> tuple[ChartLimits | None, ...]:
    """The limits of each end's range, for its own number of readings, by the first builds."""
    known: dict[int, ChartLimits] = {}
    many = _many(first)
    if many:
        _, ranges = subgroup_limits([point.readings_mm for point in many])
        known = {len(point.readings_mm): limit for point, limit in zip(many, ranges, strict=True)}
    return tuple(known.get(len(point.readings_mm)) for point in points)


def _capability(means: Sequence[float], aim: Aim | None) -> Capability | None:
    sigma, degrees = moving_range_sigma(means)
    if aim is None or sigma <= 0 or aim.lower_mm >= aim.upper_mm:
        return None
    return capability(means, aim.lower_mm, aim.upper_mm, sigma=sigma, degrees=degrees)
