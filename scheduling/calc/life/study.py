"""What a group's data can carry, by its number of failures, in figures and in a sentence."""

from dataclasses import dataclass

from scheduling.calc.life.goodness import Goodness, goodness
from scheduling.calc.life.limits import Limits, life_limits, scale_limits, shape_limits
from scheduling.calc.life.records import Lives, StudyRefused
from scheduling.calc.life.replacement import BestAge, Costs, best_age, best_age_limits
from scheduling.calc.life.small_samples import AssumedShape, assumed_band
from scheduling.calc.life.weibull import Fit, Profile, fit_weibull

FOR_AN_ESTIMATE, FOR_A_FULL_STUDY = 3, 10


@dataclass(frozen=True, slots=True)
class Study:
    """A study of one group. What the data can't carry is None, and `says` why.

    `proposed` is an age of change that may be put before the planner: only where the data show
    wear-out beyond doubt (the lower limit of the shape above 1) and the saving is worth it.
    """

    failures: int
    total: int
    exposure: float
    band: tuple[AssumedShape, ...]
    fit: Fit | None
    shape: Limits | None
    scale: Limits | None
    tenth: Limits | None
    goodness: Goodness | None
    best: BestAge | None
    best_limits: Limits | None
    proposed: float | None
    says: tuple[str, ...]


def study(group: Lives, costs: Costs | None = None, *, confidence: float = 0.95) -> Study:
    """Study a group, ages in one unit; costs of a planned change and of a failure if known.

    No failures: bounds under assumed shapes, the documents' limits stay. 1 or 2: the same with
    an estimate, no change proposed. 3 to 9: estimate with limits; an age only if the lower limit
    of the shape is above 1. From 10: goodness too. (The project's own policy; the coverage of
    its limits is checked by simulation.)

    >>> from scheduling.calc.life.records import lives
    >>> study(lives([4000, 2500], [0, 0], count=[8, 12])).says[0]
    'Nothing has failed in 62,000 lived: the limits of the documents stay as they are.'
    """
    band = assumed_band(group, confidence=confidence)
    if group.failures < FOR_AN_ESTIMATE:
        return _thin(group, band)
    try:
        fit = fit_weibull(group)
    except StudyRefused as refused:
        return _thin(group, band, refused.sentence)
    return _full(group, band, fit, costs, confidence)


def _full(
    group: Lives,
    band: tuple[AssumedShape, ...],
    fit: Fit,
    costs: Costs | None,
    confidence: float,
) -> Study:
    shape = shape_limits(group, fit, confidence=confidence)
    enough = group.failures >= FOR_A_FULL_STUDY
    best = best_age(fit.life, costs) if costs else None
    limits = best_age_limits(shape, Profile.of(group).scale_for, costs) if costs else None
    seen = float(group.exit.max())
    beyond = best is not None and best.age is not None and best.age > seen
    return Study(
        failures=group.failures,
        total=group.total,
        exposure=group.exposure,
        band=band,
        fit=fit,
        shape=shape,
        scale=scale_limits(group, fit, confidence=confidence),
        tenth=life_limits(group, fit, 0.1, confidence=confidence),
        goodness=goodness(group, fit) if enough else None,
        best=best,
        best_limits=limits,
        proposed=best.age if best and shape.low > 1 and not beyond else None,
        says=tuple(_sentences(group, shape, best, beyond=beyond)),
    )


def _thin(group: Lives, band: tuple[AssumedShape, ...], more: str = "") -> Study:
    nothing = group.failures == 0
    lived = f"{group.exposure:,.0f} lived"
    first = (
        f"Nothing has failed in {lived}: the limits of the documents stay as they are."
        if nothing
        else f"{group.failures} failed in {lived}: too few for an estimate of their own; no "
        "change is proposed."
    )
    shapes = "The bounds assume a shape; which is right can't be told from these data."
    return Study(
        failures=group.failures,
        total=group.total,
        exposure=group.exposure,
        band=band,
        fit=None,
        shape=None,
        scale=None,
        tenth=None,
        goodness=None,
        best=None,
        best_limits=None,
        proposed=None,
        says=tuple(said for said in (first, more, shapes) if said),
    )


def _sentences(group: Lives, shape: Limits, best: BestAge | None, *, beyond: bool) -> list[str]:
    said = [f"{group.failures} of {group.total} failed; the others were still running or changed."]
    if shape.low > 1:
        said.append("They wear out: the older the hose, the likelier it fails.")
    elif shape.high < 1:
        said.append(
            "New ones fail more readily than old ones: look at how they are built and fitted."
        )
    else:
        said.append(
            "Whether age matters can't be told: the data allow a shape of 1, a constant rate."
        )
    if best is not None:
        said.append(best.why)
    if beyond:
        said.append("No age is proposed: it lies beyond the oldest hose that was watched.")
    elif best is not None and best.age is not None and shape.low <= 1:
        said.append("No age is proposed, because wear-out is not beyond doubt.")
    return said
