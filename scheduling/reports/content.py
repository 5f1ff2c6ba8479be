"""The report's whole content: figures, tables and pictures made from what was gathered."""

import datetime as dt
from collections import Counter
from collections.abc import Iterator, Sequence
from decimal import Decimal

from scheduling.calc.charts.bars import (
    Bar,
    Limits,
    Month,
    limits_scene,
    months_scene,
    pareto_scene,
)
from scheduling.calc.life.rates import poisson_rate
from scheduling.calc.report import (
    Cell,
    Column,
    Picture,
    ReportContent,
    Row,
    Study,
    Table,
    small_number_warning,
)
from scheduling.models import Failure
from scheduling.reports.figures import PER, figures
from scheduling.reports.gathering import Gathered

LABELS = dict(Failure.Cause.choices)
MODES = dict(Failure.Mode.choices)


def report_content(
    found: Gathered,
    *,
    scope_words: str,
    currency: str,
    made_on: dt.date,
    lists: dict[str, str],
    places: dict[int, str],
    studies: Sequence[Study] = (),
) -> ReportContent:
    """The report of what was gathered. `lists` are the addresses behind figures, `places` those
    of positions, both for pages; paper and workbook leave them out."""
    period = found.period
    warning = small_number_warning(found.sums.failures)
    return ReportContent(
        title="Failures and time down",
        scope=scope_words,
        from_on=period.from_on,
        to_on=period.to_on,
        made_on=made_on,
        currency=currency,
        figures=figures(found, lists=lists),
        tables=(_months_table(found), _causes(found), _modes(found), _worst(found, places)),
        pictures=tuple(_pictures(found)),
        studies=tuple(studies),
        warnings=tuple(said for said in (warning, *_warnings(found)) if said),
    )


def _warnings(found: Gathered) -> list[str]:
    open_ones = found.sums.not_completed
    if not open_ones:
        return []
    return [
        f"{open_ones:,} of {found.sums.failures:,} failures have no known cause: the causes below "
        "are of the others."
    ]


def _pictures(found: Gathered) -> list[Picture]:
    months = [
        Month(f"{day:%b %y}", (float(lost), float(asked))) for day, lost, asked in found.months()
    ]
    drawn = [
        Picture(
            "months",
            "Hours down, month by month",
            months_scene(months, ["unplanned", "planned"], unit="hours down", title="Time down"),
        )
    ]
    rates = list(_rates(found))
    if len(rates) > 1:
        scene = limits_scene(rates, unit="failures in 1,000 machine hours", title="Failure rate")
        drawn.append(Picture("rates", "Failures per 1,000 machine hours, part by part", scene))
    bars = [Bar(words, count) for words, count in _by_cause(found)]
    if bars:
        scene = pareto_scene(bars, unit="failures", title="Failures by cause")
        drawn.append(Picture("causes", "Failures by cause, the most frequent first", scene))
    return drawn


def _rates(found: Gathered) -> Iterator[Limits]:
    """The rate of each part of the period, from its first day, with its limits."""
    for part in found.parts:
        if part.hours > 0:
            rate = poisson_rate(part.failures, float(part.hours))
            words = f"from {part.period.from_on.day} {part.period.from_on:%b %y}"
            yield Limits(words, *(PER * one for one in (rate.rate, rate.low, rate.high)))


def _by_cause(found: Gathered) -> list[tuple[str, int]]:
    counted: Counter[str] = Counter()
    for cause, _, number in found.causes:
        counted[LABELS[cause]] += number
    return sorted(counted.items(), key=lambda pair: (-pair[1], pair[0]))


def _months_table(found: Gathered) -> Table:
    rows = tuple(Row((f"{day:%b %Y}", lost, asked)) for day, lost, asked in found.months())
    columns = (Column("Month"), Column("Unplanned", "h", 1), Column("Planned", "h", 1))
    return Table("months", "Hours down by month", columns, rows)


def _causes(found: Gathered) -> Table:
    total, so_far = found.sums.failures, 0
    rows = []
    for words, number in _by_cause(found):
        so_far += number
        rows.append(Row((words, Decimal(number), _percent(number, total), _percent(so_far, total))))
    columns = (
        Column("Cause"),
        Column("Failures", "", 0),
        Column("Share", "%", 1),
        Column("Share so far", "%", 1),
    )
    return Table("causes", "Failures by cause", columns, tuple(rows), "Nothing failed.")


def _modes(found: Gathered) -> Table:
    """What was seen, by why: modes down, causes across, the most frequent first."""
    causes = [words for words, _ in _by_cause(found)][:6]
    modes: Counter[str] = Counter()
    cells: Counter[tuple[str, str]] = Counter()
    for cause, mode, number in found.causes:
        modes[MODES[mode]] += number
        cells[MODES[mode], LABELS[cause]] += number
    rows = []
    for mode, total in sorted(modes.items(), key=lambda pair: (-pair[1], pair[0])):
        own: list[Cell] = [_count(cells[mode, cause]) for cause in causes]
        rows.append(Row((mode, *own, Decimal(total))))
    columns = (Column("Seen"), *(Column(words, "", 0) for words in causes), Column("All", "", 0))
    return Table("modes", "What was seen, by cause", columns, tuple(rows), "Nothing failed.")


def _count(number: int) -> Cell:
    return Decimal(number) if number else None


def _worst(found: Gathered, places: dict[int, str]) -> Table:
    rows = tuple(
        Row(
            (f"{one.machine}, {one.place}", Decimal(one.failures), one.oil_l),
            places.get(one.position_id, ""),
        )
        for one in found.worst
    )
    columns = (Column("Position"), Column("Failures", "", 0), Column("Oil lost", "l", 1))
    return Table("worst", "Positions that failed most", columns, rows, "Nothing failed.")


def _percent(part: int, whole: int) -> Decimal | None:
    return None if not whole else (Decimal(100 * part) / whole).quantize(Decimal("0.1"))
