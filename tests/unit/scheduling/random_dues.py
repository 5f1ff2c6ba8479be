"""Seeded random assemblies, rules and exemptions, with every kind of gap in the data."""

import datetime as dt
from typing import Any

import numpy as np

from scheduling.calc.due import NONE, DueInputs, Exemptions, RuleTable
from scheduling.calc.inputs import SCOPES
from tests.unit.scheduling.slow_due import day, months_later, number

EPOCH = dt.date(1970, 1, 1)
# Days near month ends and leap days come up far more often than by chance.
AWKWARD = [
    (dt.date(*d) - EPOCH).days
    for d in [(2016, 2, 29), (2020, 2, 29), (2019, 12, 31), (2021, 1, 31), (2024, 2, 29)]
] + [(dt.date(2022, m, 1) - EPOCH).days - 1 for m in range(2, 13)]


def _maybe(rng: Any, values: Any, chance_none: Any) -> Any:
    return np.where(rng.random(values.size) < chance_none, NONE, values)


def _days(rng: Any, n: Any, chance_none: Any = 0.2) -> Any:
    spread = rng.integers(15_000, 20_600, n)
    awkward = rng.choice(AWKWARD, n)
    return _maybe(rng, np.where(rng.random(n) < 0.4, awkward, spread), chance_none)


def _span(rng: Any, n: Any, chance_none: Any = 0.25) -> Any:
    early = _days(rng, n, chance_none)
    width = rng.choice([0, 0, 0, 30, 89, 365, -5], n)
    late = np.where(early == NONE, _maybe(rng, early, 0.7), early + width)
    return early, _maybe(rng, late, 0.1)


def _build_on_the_last_day(rng: Any, made: Any, built: Any) -> Any:
    """Some hoses built on the very day on which their reel reached 48 months."""
    for index in np.flatnonzero((rng.random(made[0].size) < 0.1) & (made[0] != NONE)):
        last_day = number(months_later(day(int(made[0][index])), 48))
        made[1][index], built[0][index], built[1][index] = made[0][index], last_day, last_day


def _scopes(rng: Any, n: Any, chance_none: Any) -> Any:
    return {s: _maybe(rng, rng.integers(1, 4, n), chance_none) for s in SCOPES}


def inputs(rng: Any, n: Any) -> Any:
    rates = np.sort(rng.choice([0, 0, 1, 250, 3_333, 8_000, 16_001, 24_000], (n, 3)), axis=1)
    rates[rng.random(n) < 0.15] = 0
    made, built, placed = (_span(rng, n) for _ in range(3))
    _build_on_the_last_day(rng, made, built)
    start = rng.choice([0, 12_345, 500_000, 999_990], n)
    run = rng.choice([-40, 0, 1, 399, 15_000, 20_000, 39_999, 2_000_000], n)
    columns = {
        "assembly": np.arange(1, n + 1),
        "position": _maybe(rng, np.arange(1, n + 1) + 500, 0.2),
        **_scopes(rng, n, 0.1),
        "place": rng.choice([1, 1, 1, 1, 2, 3, 4], n),
        "made_early_on": made[0],
        "made_late_on": made[1],
        "built_early_on": built[0],
        "built_late_on": built[1],
        "placed_early_on": placed[0],
        "placed_late_on": placed[1],
        "known_from_on": _days(rng, n, 0),
        "placed_tenths": _maybe(rng, start, 0.2),
        "meter_tenths": _maybe(rng, np.maximum(start + run, 0), 0.2),
        "meter_on": _days(rng, n),
        "earlier_tenths": rng.choice([0, 0, 7, 15_000, 20_000, 25_000], n),
        "earlier_missing": rng.choice([0, 0, 0, 2], n),
        "rate_low_milli": rates[:, 0],
        "rate_milli": rates[:, 1],
        "rate_high_milli": rates[:, 2],
        "class_rate_milli": rng.choice([0, 1, 5_001, 20_000], n),
        "inspected_on": _days(rng, n, 0.5),
        "inspected_tenths": _maybe(rng, start + rng.choice([-10, 0, 500, 15_000], n), 0.3),
        "recheck_on": _days(rng, n, 0.9),
        "replace_by_on": _days(rng, n, 0.9),
        "take_out_on": _days(rng, n, 0.95),
        "kinds": rng.choice([0, 1, 2, 3], n),
        "release_on": _days(rng, n, 0.95),
    }
    return DueInputs(**{k: v.astype(np.int64) for k, v in columns.items()})


def rules(rng: Any, n: Any) -> Any:
    def limits(values: Any, chance_none: Any = 0.5) -> Any:
        return _maybe(rng, rng.choice(values, n), chance_none)

    columns = {
        "rule": rng.permutation(np.arange(10, 10 + n)),
        **_scopes(rng, n, 0.75),
        "made_months": limits([72, 120, 121]),
        "built_months": limits([1, 24, 72, 72, 13]),
        "fitted_months": limits([12, 24, 96_001]),
        "storage_months": limits([24, 12]),
        "reel_age_months": limits([48, 12, 3, 96_001]),
        "fitting_tenths": limits([20_000, 40_000, 400, 900_000_000]),
        "total_tenths": limits([20_000, 25_000, 60_000]),
        "inspect_months": limits([6, 12, 3]),
        "inspect_tenths": limits([5_000, 500]),
    }
    return RuleTable(**{k: v.astype(np.int64) for k, v in columns.items()})


def exemptions(rng: Any, n: Any, rows: Any) -> Any:
    triggers = np.where(rng.random(n) < 0.4, 0, rng.integers(1, 1 << 15, n) & ~1)
    columns = {
        "assembly": _maybe(rng, rng.integers(1, rows + 1, n), 0.5),
        "position": _maybe(rng, rng.integers(501, rows + 501, n), 0.6),
        **_scopes(rng, n, 0.8),
        "triggers": triggers,
        "until_on": _days(rng, n, 0),
    }
    return Exemptions(**{k: v.astype(np.int64) for k, v in columns.items()})
