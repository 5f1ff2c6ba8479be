"""How fast lives are fitted, beside one pass of log and exp, lifelines and a loop over groups; and
how often the limits of a simulated fleet hold what they claim.

`BENCH_RUNS` (1000) sets the number of simulated fleets. Only ratios taken in one run mean anything.
"""

import os
import time

import lifelines
import numpy as np
from scipy.optimize import brentq

from scheduling.calc.life.groups import fit_groups
from scheduling.calc.life.limits import scale_limits, shape_limits
from scheduling.calc.life.records import Floats, Lives, lives
from scheduling.calc.life.weibull import fit_weibull
from tests.benchmarks.timing import paired, say

LIVES, GROUP = 100_000, 200
SHAPE, SCALE = 2.3, 6200.0


def main() -> None:
    rng = np.random.default_rng(20260309)
    life, stop = SCALE * rng.weibull(SHAPE, LIVES), rng.uniform(0, 9000, LIVES)
    group = lives(np.minimum(life, stop), life <= stop)
    _one_fit(group)
    _many_groups(group)
    _coverage(int(os.environ.get("BENCH_RUNS", "1000")))


def _one_fit(group: Lives) -> None:
    ours, floor = paired(lambda: fit_weibull(group), lambda: np.exp(2.3 * np.log(group.exit)), 51)
    began = time.perf_counter()
    theirs = lifelines.WeibullFitter().fit(group.exit, group.failed)
    other = time.perf_counter() - began
    found = fit_weibull(group).life
    apart = abs(found.shape / theirs.rho_ - 1), abs(found.scale / theirs.lambda_ - 1)
    say(f"{LIVES:,} lives, {group.failures:,} failures: {1000 * ours:.1f} ms")
    say(f"  {ours / floor:.1f} x one pass of log and exp, 1/{other / ours:.0f} of lifelines")
    say(f"  apart from lifelines by {apart[0]:.1e} (shape) and {apart[1]:.1e} (scale)")


def _many_groups(group: Lives) -> None:
    starts = np.arange(0, LIVES, GROUP)
    parts = [lives(group.exit[i : i + GROUP], group.failed[i : i + GROUP]) for i in starts]
    at_once, own = paired(
        lambda: fit_groups(group, starts), lambda: [fit_weibull(part) for part in parts], 15
    )
    _, plain = paired(
        lambda: fit_groups(group, starts), lambda: [_plain(part) for part in parts], 7
    )
    shapes, _ = fit_groups(group, starts)
    loop = [_plain(part) for part in parts]
    say(f"{len(starts)} groups of {GROUP} at once: {1000 * at_once:.1f} ms")
    say(f"  {plain / at_once:.0f} x faster than a loop that brackets each score (scipy's brentq)")
    say(f"  {own / at_once:.1f} x faster than a loop over our own fit of one")
    say(f"  shapes apart by at most {np.abs(shapes / loop - 1).max():.1e}")


def _plain(group: Lives) -> float:
    """The textbook's way: the score of the shape alone, bracketed."""
    unit = group.exit.max()
    ages = group.exit / unit
    mean = np.log(ages[group.failed]).mean()

    def score(shape: float) -> float:
        powers = ages**shape
        return float((powers * np.log(ages)).sum() / powers.sum() - 1 / shape - mean)

    return float(brentq(score, 0.01, 100.0, xtol=1e-10))


def _coverage(runs: int) -> None:
    rng = np.random.default_rng(20260310)
    held = np.zeros(2, dtype=int)
    for _ in range(runs):
        group = _fleet(rng)
        fit = fit_weibull(group)
        shape, scale = shape_limits(group, fit), scale_limits(group, fit)
        held += [shape.low <= SHAPE <= shape.high, scale.low <= SCALE <= scale.high]
    shares = held / runs
    say(f"{runs:,} fleets of known life, late entries, changes at an age: limits of 95 % hold the")
    say(f"  shape in {shares[0]:.1%}, the scale in {shares[1]:.1%} of them (wanted: 93 to 97 %)")


def _fleet(rng: np.random.Generator) -> Lives:
    """120 hoses: two in five came under watch late, all are changed at 6000 h, some still run."""
    n = 120
    life: Floats = SCALE * rng.weibull(SHAPE, n)
    entry = np.where(rng.random(n) < 0.4, rng.uniform(0, 4000, n), 0.0)
    seen = life > entry  # one that failed before the register began is not in it
    life, entry = life[seen], entry[seen]
    until = np.minimum(6000.0, entry + rng.uniform(200, 6000, len(life)))
    until = np.maximum(until, entry + 1)
    return lives(np.minimum(life, until), life <= until, entry=entry)
