"""A study as it is kept: plain figures in and out, so that what was decided on never shifts."""

from dataclasses import asdict
from math import isinf
from typing import Any

import numpy as np

from scheduling.calc.charts.lives import cost_scene, survival_scene
from scheduling.calc.life.limits import Limits
from scheduling.calc.life.records import Lives, StudyRefused
from scheduling.calc.life.replacement import BestAge, Costs, cost_rate
from scheduling.calc.life.study import Study
from scheduling.calc.life.survival import ENOUGH_AT_RISK, Survival, survival
from scheduling.calc.life.weibull import Weibull
from scheduling.calc.report import Picture

ARRAYS = ("ages", "at_risk", "failed", "survival", "low", "high", "hazard")


def kept(
    found: Study, group: Lives, costs: Costs | None, today: tuple[float, str] | None
) -> dict[str, Any]:
    """A study's figures as JSON takes them; infinite is null. `today` is the age at which the
    hoses are changed today and who says so, where it is known: what the best age would save.

    >>> from scheduling.calc.life.records import lives
    >>> from scheduling.calc.life.study import study
    >>> group = lives([100.0, 80.0], [0, 0])
    >>> kept(study(group), group, None, None)["failures"]
    0
    """
    fit = found.fit
    return {
        "failures": found.failures,
        "total": found.total,
        "exposure": found.exposure,
        "until": float(group.exit.max()),
        "says": list(found.says),
        "band": [_plain(asdict(one)) for one in found.band],
        "shape": _limits(found.shape),
        "scale": _limits(found.scale),
        "tenth": _limits(found.tenth),
        "best": _plain(asdict(found.best)) if found.best else None,
        "best_limits": _limits(found.best_limits),
        "proposed": found.proposed,
        "costs": _plain(asdict(costs)) if costs else None,
        "goodness": _plain(asdict(found.goodness)) if found.goodness else None,
        "log_likelihood": fit.log_likelihood if fit else None,
        "curve": _curve(group),
        "today": _today(found, costs, today),
    }


def _today(
    found: Study, costs: Costs | None, today: tuple[float, str] | None
) -> dict[str, Any] | None:
    """Today's rule and, where the data carry it, its cost rate and what the best age saves."""
    if today is None:
        return None
    age, source = today
    told: dict[str, Any] = {"age": age, "from": source, "rate": None, "saving": None}
    if found.fit is None or costs is None or found.best is None:
        return told
    rate = cost_rate(found.fit.life, costs, age)
    return told | {"rate": rate, "saving": 1 - found.best.rate / rate}


def _limits(limits: Limits | None) -> dict[str, Any] | None:
    return None if limits is None else _plain(asdict(limits))


def _plain(values: dict[str, Any]) -> dict[str, Any]:
    return {
        name: None if isinstance(value, float) and isinf(value) else value
        for name, value in values.items()
    }


def _curve(group: Lives) -> dict[str, Any] | None:
    try:
        found = survival(group, enough=ENOUGH_AT_RISK)
    except StudyRefused:
        return None
    return {name: getattr(found, name).tolist() for name in ARRAYS} | {"from_age": found.from_age}


def pictures(stored: dict[str, Any], *, unit: str, title: str) -> tuple[Picture, ...]:
    """The pictures of a kept study: survival, and cost against the age of change.

    >>> pictures({"curve": None, "best": None, "shape": None}, unit="h", title="T")
    ()
    """
    fitted = _life(stored)
    drawn = []
    if stored["curve"]:
        scene = survival_scene(
            _survival(stored["curve"]), fitted, until=stored["until"], unit=unit, title=title
        )
        drawn.append(Picture("survival", "Share still running against age", scene))
    if fitted is not None and stored["best"] and stored["costs"]:
        best = BestAge(**stored["best"])
        scene = cost_scene(fitted, Costs(**stored["costs"]), best, unit=unit, title=title)
        drawn.append(Picture("cost", "Cost against the age of change", scene))
    return tuple(drawn)


def _life(stored: dict[str, Any]) -> Weibull | None:
    if not stored["shape"] or not stored["scale"]:
        return None
    return Weibull(stored["shape"]["estimate"], stored["scale"]["estimate"])


def _survival(curve: dict[str, Any]) -> Survival:
    columns = {name: np.asarray(curve[name], dtype=np.float64) for name in ARRAYS}
    none = np.zeros(len(columns["ages"]))
    return Survival(**columns, survival_se=none, hazard_se=none, from_age=curve["from_age"])
