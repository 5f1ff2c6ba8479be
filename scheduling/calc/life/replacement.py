"""When changing a hose before it fails pays, and what changing it early or late costs."""

from collections.abc import Callable
from dataclasses import dataclass
from math import inf

from scipy.integrate import quad
from scipy.optimize import brentq, minimize_scalar
from scipy.special import gammainc

from scheduling.calc.life.limits import Limits
from scheduling.calc.life.weibull import Weibull

WORTH_IT = 0.01


@dataclass(frozen=True, slots=True)
class Costs:
    """What a planned change and a failure cost, in one currency's unit or in hours down."""

    planned: float
    failure: float

    def __post_init__(self) -> None:
        if self.planned <= 0 or self.failure <= 0:
            raise ValueError("A planned change and a failure each cost something.")


@dataclass(frozen=True, slots=True)
class BestAge:
    """The age at which changing costs least, or None: run it to failure, and why.

    `rate` is the cost per unit of age at that age, `rate_to_failure` the one without any change;
    `saving` the share between them (0 to 1).
    """

    age: float | None
    rate: float
    rate_to_failure: float
    why: str

    @property
    def saving(self) -> float:
        return 1 - self.rate / self.rate_to_failure


def lived(life: Weibull, age: float) -> float:
    """The mean age reached when changed at `age`: ∫₀^T R = η/β·Γ(1/β)·P(1/β, (T/η)^β).

    >>> round(lived(Weibull(1.0, 1000.0), 1000.0), 4)
    632.1206
    """
    return life.mean * float(gammainc(1 / life.shape, life.hazard_sum(age)))


def cost_rate(life: Weibull, costs: Costs, age: float) -> float:
    """The long-run cost per unit of age when every hose is changed at `age` or at failure.

    g(T) = (Cp·R + Cf·(1 − R))/∫₀^T R. Source: Barlow & Hunter, Operations Research 8 (1960)
    (from memory). An infinite age is running to failure: Cf/mean life.

    >>> round(cost_rate(Weibull(2.5, 1000.0), Costs(1, 5), 500.0), 6)
    0.003462
    """
    if age == inf:
        return costs.failure / life.mean
    alive = life.reliability(age)
    return (costs.planned * alive + costs.failure * (1 - alive)) / lived(life, age)


def best_age(life: Weibull, costs: Costs) -> BestAge:
    """The age at which the cost rate is least: h(T)·∫R − F(T) = Cp/(Cf − Cp).

    Never where the shape is 1 or less (a new hose fails as readily as an old one) or a failure
    costs no more than a planned change. Worth it only from a saving of 1 %.

    >>> found = best_age(Weibull(2.5, 1000.0), Costs(1, 5))
    >>> round(found.age, 4), round(found.saving, 4)
    (493.047, 0.3857)
    """
    never = cost_rate(life, costs, inf)
    if life.shape <= 1:
        return BestAge(
            None, never, never, "It does not wear out: a new one fails as readily as an old one."
        )
    if costs.failure <= costs.planned:
        return BestAge(
            None, never, never, "A failure costs no more than a planned change: run it to failure."
        )
    age = _balance(life, costs)
    if age is None:
        return BestAge(None, never, never, "Changing it early saves nothing that can be counted.")
    rate = cost_rate(life, costs, age)
    if rate > (1 - WORTH_IT) * never:
        why = f"Changing it at {age:,.0f} would save {1 - rate / never:.1%} only: not worth it."
        return BestAge(None, never, never, why)
    return BestAge(age, rate, never, "Changing it at this age costs least in the long run.")


def balance_age(life: Weibull, costs: Costs) -> float | None:
    """The age of least cost rate even where it is hardly worth it; None where there is none.

    >>> round(balance_age(Weibull(1.1, 1000.0), Costs(1, 5)), 1)
    5130.8
    """
    if life.shape <= 1 or costs.failure <= costs.planned:
        return None
    return _balance(life, costs)


def _balance(life: Weibull, costs: Costs) -> float | None:
    wanted = costs.planned / (costs.failure - costs.planned)

    def left(age: float) -> float:
        return life.hazard(age) * lived(life, age) - (1 - life.reliability(age)) - wanted

    low, high = life.scale * 1e-6, life.scale
    for _ in range(200):
        if left(high) > 0:
            return float(brentq(left, min(low, high), high, xtol=1e-12 * life.scale, rtol=1e-13))
        low, high = high, high * 2
    return None


def best_age_limits(
    shapes: Limits, scale_for: Callable[[float], float], costs: Costs, *, steps: int = 24
) -> Limits:
    """The best age over the shapes the data allow, each with the scale best for it.

    Infinite where the data allow a shape for which changing early never pays.

    >>> found = best_age_limits(Limits(2.5, 2.0, 3.0), lambda shape: 1000.0, Costs(1, 5))
    >>> round(found.low, 1), round(found.high, 1)
    (493.0, 510.7)
    """
    ratio = (shapes.high / shapes.low) ** (1 / steps) if shapes.low > 0 else inf
    tried = [shapes.low * ratio**i for i in range(steps + 1)] if ratio < inf else [shapes.high]
    ages = [balance_age(Weibull(shape, scale_for(shape)), costs) for shape in tried]
    best = balance_age(Weibull(shapes.estimate, scale_for(shapes.estimate)), costs)
    known = [age for age in (*ages, best) if age is not None]
    open_above = shapes.low <= 1 or None in ages
    return Limits(
        best if best is not None else inf,
        min(known, default=inf),
        inf if open_above else max(known, default=inf),
    )


def penalty(life: Weibull, costs: Costs, best: float, moved_to: float) -> float:
    """What changing at another age than the best costs: ∫ (Cf − Cp)h(u) − g* from best to there.

    0 at the best age, above 0 on both sides: early throws life away, late lets failures grow.
    The marginal cost of Berg, Eur. J. Oper. Res. 4 (1980) and Dekker (from memory); the plan
    prices early and late by it.

    >>> life, costs = Weibull(2.5, 1000.0), Costs(1, 5)
    >>> round(penalty(life, costs, 493.0469576, 1.1 * 493.0469576), 6)
    0.013013
    """
    rate = cost_rate(life, costs, best)
    grown = (costs.failure - costs.planned) * (life.hazard_sum(moved_to) - life.hazard_sum(best))
    return grown - rate * (moved_to - best)


def best_age_of_any(
    survives: Callable[[float], float], costs: Costs, greatest: float
) -> tuple[float, float]:
    """The best age and its cost rate for any survival function, sought up to `greatest`.

    >>> age, rate = best_age_of_any(lambda t: 1 - t / 1000, Costs(1, 5), 1000.0)
    >>> round(age, 3), round(rate, 6)
    (500.0, 0.008)
    """

    def rate(age: float) -> float:
        alive = survives(age)
        reached = quad(survives, 0, age, limit=200)[0]
        return float((costs.planned * alive + costs.failure * (1 - alive)) / reached)

    found = minimize_scalar(
        rate, bounds=(greatest * 1e-6, greatest), method="bounded", options={"xatol": 1e-9}
    )
    return float(found.x), float(found.fun)


def minimal_repair_age(life: Weibull, planned: float, repair: float) -> float:
    """The age to change at when a failure is mended in place to as old as it was.

    T = η·(Cp/(Cr(β − 1)))^(1/β). Source: Barlow & Hunter (1960) (from memory).
    Raises ValueError for a shape of 1 or less.

    >>> round(minimal_repair_age(Weibull(2.5, 1000.0), 1, 5), 4)
    446.6584
    """
    if life.shape <= 1:
        raise ValueError("Without wear there is no best age.")
    return life.scale * float((planned / (repair * (life.shape - 1))) ** (1 / life.shape))
