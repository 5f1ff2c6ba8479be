"""The report's figures, each with its limits, and in words how it came about."""

from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal

from scheduling.calc.life.rates import compare_rates, mean_time_between, poisson_rate
from scheduling.calc.life.records import StudyRefused, p_words
from scheduling.calc.report import Figure
from scheduling.reports.gathering import Gathered

PER = 1000
CENT = Decimal(100)


def figures(found: Gathered, *, lists: dict[str, str]) -> tuple[Figure, ...]:
    """The figures in the order of the report; `lists` gives the address behind each key."""
    made = [*_failures(found), *_down(found), *_cost(found), *_planned(found), *_people(found)]
    return tuple(replace(figure, link=lists.get(figure.key, "")) for figure in made)


def _failures(found: Gathered) -> Iterator[Figure]:
    number, run = found.sums.failures, found.run
    yield Figure("failures", "Failures in service", Decimal(number), note=_against(found))
    yield Figure(
        "hours",
        "Machine hours run",
        run.hours,
        "h",
        formula="From the first to the last accepted reading of each machine in the period, "
        "carried to its edges at the same pace.",
        note=_estimated(found),
    )
    yield _rate(found)
    yield _between(found)


def _estimated(found: Gathered) -> str:
    run = found.run
    if not run.estimated:
        return f"{run.machines} machines, each by its readings."
    return (
        f"{run.machines} machines; {run.estimated} without two readings in the period count at "
        "their usual hours a day."
    )


def _rate(found: Gathered) -> Figure:
    now = (found.sums.failures, float(found.run.hours))
    return rate_figure(now, (found.before.failures, float(found.run_before.hours)))


def rate_figure(now: tuple[int, float], before: tuple[int, float]) -> Figure:
    """Failures in 1,000 machine hours with limits, and against the period before in words.

    Parameters: failures and machine hours of this period and of the one before.
    """
    words = "Failures per 1,000 machine hours"
    if now[1] <= 0:
        return Figure("rate", words, None, "", 2, why="No machine hour is known in this period.")
    rate = poisson_rate(*now)
    return Figure(
        "rate",
        words,
        _decimal(rate.rate * PER, 2),
        "",
        2,
        _decimal(rate.low * PER, 2),
        _decimal(rate.high * PER, 2),
        formula="Failures ÷ machine hours × 1,000; limits exact for a Poisson count (chi-square, "
        "95 %).",
        note=_trend(now, before),
    )


def _trend(now: tuple[int, float], before: tuple[int, float]) -> str:
    """This period's rate against the one before, in words."""
    try:
        ratio = compare_rates(now, before)
    except StudyRefused as refused:
        return f"Against the period before: {refused.sentence[0].lower()}{refused.sentence[1:]}"
    limits = f"{ratio.low:.2f} to {ratio.high:.2f} times, {p_words(ratio.p_value)}"
    if ratio.p_value > 0.05:
        return f"No change from the period before can be told from chance ({limits})."
    way = "More" if ratio.ratio > 1 else "Fewer"
    return f"{way} than in the period before, beyond chance ({limits})."


def _against(found: Gathered) -> str:
    return f"{found.before.failures:,} in the {found.period.days} days before."


def _between(found: Gathered) -> Figure:
    words, formula = (
        "Machine hours between failures",
        ("Machine hours ÷ failures; limits 2T/χ² with 2r + 2 and 2r degrees, 95 %."),
    )
    if found.run.hours <= 0:
        return Figure("between", words, None, "h", why="No machine hour is known in this period.")
    mean = mean_time_between(found.sums.failures, float(found.run.hours))
    if mean.estimate is None:
        return Figure(
            "between",
            words,
            None,
            "h",
            low=_decimal(mean.low, 0),
            formula="Nothing failed: T ÷ −ln 0.05 is the lower limit.",
            why="Nothing failed in this period.",
        )
    return Figure(
        "between",
        words,
        _decimal(mean.estimate, 0),
        "h",
        low=_decimal(mean.low, 0),
        high=_decimal(mean.high, 0),
        formula=formula,
    )


def _down(found: Gathered) -> Iterator[Figure]:
    once = "Each machine's time down, overlapping spells counted once"
    yield Figure(
        "unplanned",
        "Down, unplanned",
        found.unplanned_h,
        "h",
        1,
        formula=f"{once}; what is both planned and unplanned is unplanned.",
    )
    yield Figure("planned", "Down, planned", found.planned_h, "h", 1, formula=f"{once}.")
    total = found.unplanned_h + found.planned_h
    yield Figure(
        "down_planned_share",
        "Planned share of time down",
        share(found.planned_h, total),
        "%",
        formula="Planned ÷ all time down.",
        why="" if total else "No machine was down in this period.",
    )
    failures = found.sums.failures
    yield Figure(
        "mean_down",
        "Unplanned hours down for each failure",
        _ratio(found.unplanned_h, failures, 1),
        "h",
        1,
        formula="Unplanned hours down ÷ failures; breakdowns that no hose caused are in it.",
        why="" if failures else "Nothing failed in this period.",
    )


def _cost(found: Gathered) -> Iterator[Figure]:
    lost, told = Decimal(found.lost_minor) / CENT, Decimal(found.sums.cost_minor) / CENT
    yield Figure(
        "lost",
        "Unplanned time down cost",
        lost,
        "money",
        formula="Unplanned hours × what an hour down of that machine cost then; where spells of "
        "different prices overlap, the dearest.",
    )
    yield Figure(
        "repair",
        "Parts, oil and labour cost",
        told,
        "money",
        formula="The sum of what was told of failures; what was not told is not in it.",
    )
    yield Figure("cost", "Together", lost + told, "money", formula="The two above, added.")


def _planned(found: Gathered) -> Iterator[Figure]:
    off = found.changes.planned + found.changes.failed
    yield Figure(
        "changed_share",
        "Hoses changed before they failed",
        share(Decimal(found.changes.planned), Decimal(off)),
        "%",
        formula=f"Changed in time, found bad or recalled ÷ all that came off for cause: "
        f"{found.changes.planned:,} of {off:,}.",
        why="" if off else "No hose came off a machine in this period.",
    )
    yield _overdue(found)


def _overdue(found: Gathered) -> Figure:
    words = "Hoses overdue today"
    if found.dues is None:
        return Figure("overdue_share", words, None, "%", why="Kept for sites, not for a class.")
    over, known = found.dues
    return Figure(
        "overdue_share",
        words,
        share(Decimal(over), Decimal(known)),
        "%",
        1,
        formula=f"Overdue today: {over:,} of {known:,} hoses with a due date or without.",
        why="" if known else "No hose is registered.",
    )


def _people(found: Gathered) -> Iterator[Figure]:
    sums = found.sums
    yield Figure("oil", "Oil lost", sums.oil_l, "l", formula="The sum of what was told.")
    yield Figure(
        "harm",
        "Failures with harm, fire or a near miss",
        Decimal(sums.harmed + sums.fires + sums.near_misses),
        formula=f"Harm told {sums.harmed}, fire {sums.fires}, near miss {sums.near_misses}; a "
        "failure with two of them counts twice.",
    )


def _decimal(value: float, places: int) -> Decimal:
    return Decimal(repr(value)).quantize(Decimal(1).scaleb(-places))


def share(part: Decimal, whole: Decimal) -> Decimal | None:
    return None if not whole else (100 * part / whole).quantize(Decimal("0.1"))


def _ratio(value: Decimal, by: int, places: int) -> Decimal | None:
    return None if not by else (value / by).quantize(Decimal(1).scaleb(-places))
