"""A run of crimps in sentences: where it drifts, what trips, what its capability says."""

from collections.abc import Sequence

from assemblies.calc.capability import BUILDS_FOR_LIMITS, Capability, Trip
from assemblies.calc.crimp_runs import Aim, CrimpPoint, RunStudy

STILL_MM = 0.01
LOOK = "Look for the cause before the next press: die, dial, shell lot, hose lot, the measuring."


def drift_sentence(study: RunStudy, aim: Aim | None) -> str:
    """Where a run stands and where it goes, from its first end on.

    Under a hundredth of a mm over the whole run it is said to hold its place (our own choice).

    >>> from assemblies.calc.crimp_runs import study_run
    >>> aim = Aim(24.6, 24.5, 24.7)
    >>> drift_sentence(study_run([CrimpPoint(n, (24.60 + n / 100,)) for n in range(5)], aim), aim)
    'Over 5 ends the OD rose by 0.04 mm; the last one is 0.04 mm above the recipe’s 24.60 mm.'
    """
    drift = study.drift
    if drift is None:
        return "No end has been read yet."
    against = f"; the last one is {_off(drift.off_aim_mm, aim)}" if aim else ""
    if drift.ends == 1:
        return f"One end so far: {drift.last_mm:.2f} mm{against}."
    if abs(drift.over_all_mm) < STILL_MM:
        return f"Over {drift.ends} ends the OD holds its place{against}."
    way = "rose" if drift.over_all_mm > 0 else "fell"
    return f"Over {drift.ends} ends the OD {way} by {abs(drift.over_all_mm):.2f} mm{against}."


def trip_sentence(trip: Trip, study: RunStudy, points: Sequence[CrimpPoint], names: str) -> str:
    """One rule that trips, with its figures. `names` says which end or ends it is about.

    >>> from assemblies.calc.crimp_runs import study_run
    >>> run = [CrimpPoint(n, (24.5 + n / 100,)) for n in range(6)]
    >>> study = study_run(run, None)
    >>> trip_sentence(study.trips[0], study, run, "to 9 Mar 2026")
    '6 ends in a row rise, 24.50 to 24.55 mm (to 9 Mar 2026).'
    """
    first, last = points[trip.first], points[trip.last]
    count = trip.last - trip.first + 1
    if trip.rule == "range":
        limit = study.range_limits[trip.first]
        top = f"{limit.upper:.2f}" if limit else "–"
        return (
            f"The readings round one crimp lie {first.range_mm:.2f} mm apart, more than the "
            f"{top} mm that is usual here ({names})."
        )
    if trip.rule == "run":
        way = "rise" if trip.up else "fall"
        return (
            f"{count} ends in a row {way}, {first.mean_mm:.2f} to {last.mean_mm:.2f} mm ({names})."
        )
    limits = study.limits
    if limits is None:
        raise ValueError("Only a run with limits trips this rule.")
    if trip.rule == "side":
        side = "above" if trip.up else "below"
        return (
            f"{count} ends in a row lie {side} the run’s mean of {limits.centre:.2f} mm ({names})."
        )
    between = f"{limits.lower:.2f} to {limits.upper:.2f} mm ({names})"
    if count > 1:
        return (
            f"{count} crimps in a row, {first.mean_mm:.2f} to {last.mean_mm:.2f} mm, lie outside "
            f"the run’s limits, {between}."
        )
    return f"A crimp of {first.mean_mm:.2f} mm lies outside the run’s limits, {between}."


def waiting_sentence(study: RunStudy) -> str:
    """How far a run is from limits; empty once it has them.

    >>> waiting_sentence(RunStudy(7, None, ()))
    '7 of 25 builds: limits and Cpk are worked out from 25 on.'
    """
    if study.builds >= BUILDS_FOR_LIMITS:
        return ""
    return (
        f"{study.builds} of {BUILDS_FOR_LIMITS} builds: limits and Cpk are worked out from "
        f"{BUILDS_FOR_LIMITS} on."
    )


def capability_sentence(study: RunStudy) -> str:
    """What the capability says, its confidence limits with it; a run that trips is not judged.

    >>> capability_sentence(RunStudy(7, None, ()))
    ''
    """
    found = study.capability
    if found is None:
        return "" if study.limits is None else "Every end reads the same: there is no spread."
    sentence = (
        f"Cpk {found.cpk:.2f}, with 95 % confidence between {found.cpk_low:.2f} and "
        f"{found.cpk_high:.2f}, from {found.n} ends."
    )
    if study.trips:
        return f"{sentence} The run is not steady: as long as that is so, don’t build on it."
    return f"{sentence} {_verdict(found)}"


def _verdict(found: Capability) -> str:
    if found.cpk_low >= 1:
        return "Even the lower limit is above 1: the run keeps within the recipe’s tolerance."
    if found.cpk_high < 1:
        return "Even the upper limit is below 1: the run does not keep within the tolerance."
    return "The limits lie on both sides of 1: that is not known well enough for a verdict."


def _off(off_mm: float, aim: Aim | None) -> str:
    od = f"the recipe’s {aim.od_mm:.2f} mm" if aim else ""
    if abs(off_mm) < STILL_MM / 2:
        return f"on {od}"
    return f"{abs(off_mm):.2f} mm {'above' if off_mm > 0 else 'below'} {od}"
