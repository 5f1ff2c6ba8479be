"""Groups set side by side by their failure rates: limits, drawn toward the fleet, in words."""

from collections.abc import Sequence
from dataclasses import dataclass

from scheduling.calc.life.rates import Comparison, Rate, compare_rates, poisson_rate, shrink_rates
from scheduling.calc.life.records import StudyRefused, p_words

FEW, LEVEL = 5, 0.05


@dataclass(frozen=True, slots=True)
class Group:
    """One group: its key, how many failed, and the hours at risk."""

    key: str
    events: int
    hours: float


@dataclass(frozen=True, slots=True)
class GroupLine:
    """One group beside all the others. Rates are failures in so many hours as were asked for.

    `rate` is None where no hour is known; `drawn` is the rate drawn toward that of all groups,
    None where that can't be said; `stands_out` is above 0 where it fails more than the others
    beyond chance, below 0 where less.
    """

    key: str
    rate: Rate | None
    events: int
    hours: float
    drawn: float | None
    against: str
    stands_out: int

    @property
    def few(self) -> bool:
        return self.events < FEW


@dataclass(frozen=True, slots=True)
class SideBySide:
    """Groups, those with most failures first, how many more there are than were asked for, the
    rate of all of them, and what to beware of."""

    lines: tuple[GroupLine, ...]
    more: int
    all_of_them: Rate | None
    beware: tuple[str, ...]


def side_by_side(groups: Sequence[Group], *, per: float = 1000.0, most: int = 40) -> SideBySide:
    """Each group's rate with exact limits, drawn toward the fleet, and against all the others.

    The `most` groups with most failures are told; all of them count. Rates are in `per` hours at
    risk. Source of the parts: `calc/life/rates.py`; below 5 failures a group is called few (the
    project's own choice).

    >>> found = side_by_side([Group("a", 12, 1000.0), Group("b", 3, 4000.0), Group("c", 4, 3000.0)])
    >>> [line.stands_out for line in found.lines]
    [1, 0, -1]
    >>> found.lines[0].against[:32]
    'More than the others, beyond cha'
    """
    ordered = sorted(groups, key=lambda one: (-one.events, -one.hours, one.key))
    at_risk = [one for one in ordered if one.hours > 0]
    events, hours = sum(one.events for one in at_risk), sum(one.hours for one in at_risk)
    drawn = _drawn(at_risk, per)
    lines = tuple(_line(one, events, hours, per, drawn.get(one.key)) for one in ordered[:most])
    whole = _scaled(poisson_rate(events, hours), per) if hours > 0 else None
    return SideBySide(lines, len(ordered) - len(lines), whole, tuple(_beware(at_risk, events)))


def _drawn(groups: Sequence[Group], per: float) -> dict[str, float]:
    try:
        found = shrink_rates([one.events for one in groups], [one.hours for one in groups])
    except StudyRefused:
        return {}
    return {one.key: float(rate) * per for one, rate in zip(groups, found.rates, strict=True)}


def _line(one: Group, events: int, hours: float, per: float, drawn: float | None) -> GroupLine:
    if one.hours <= 0:
        why = "No hour at risk is known: no rate can be said."
        return GroupLine(one.key, None, one.events, one.hours, None, why, 0)
    rate = _scaled(poisson_rate(one.events, one.hours), per)
    try:
        found = compare_rates((one.events, one.hours), (events - one.events, hours - one.hours))
    except StudyRefused as refused:
        alone = hours - one.hours <= 0
        why = "There is no other group to set it against." if alone else refused.sentence
        return GroupLine(one.key, rate, one.events, one.hours, drawn, why, 0)
    far = found.p_value <= LEVEL
    stands_out = 0 if not far else 1 if found.ratio > 1 else -1
    return GroupLine(one.key, rate, one.events, one.hours, drawn, against_words(found), stands_out)


def against_words(found: Comparison) -> str:
    """A comparison with all the others in a sentence.

    >>> against_words(Comparison(1.1, 0.4, 2.9, 0.8))
    'No difference from the others can be told from chance (0.40 to 2.9 times, p 0.800).'
    """
    high = "any number of" if found.high == float("inf") else _times(found.high)
    told = f"{_times(found.low)} to {high} times, {p_words(found.p_value)}"
    if found.p_value > LEVEL:
        return f"No difference from the others can be told from chance ({told})."
    way = "More" if found.ratio > 1 else "Less"
    return f"{way} than the others, beyond chance ({told})."


def _times(ratio: float) -> str:
    return f"{ratio:.2f}" if ratio < 1 else f"{ratio:.1f}" if ratio < 100 else f"{ratio:,.0f}"


def _scaled(one: Rate, per: float) -> Rate:
    return Rate(one.events, one.exposure, one.rate * per, one.low * per, one.high * per)


def _beware(groups: Sequence[Group], events: int) -> list[str]:
    if not groups:
        return []
    if len(groups) == 1:
        return ["There is one group only: nothing can be set against it."]
    said = [
        f"{len(groups):,} groups are each set against the others: where nothing differs at all, "
        f"{_chance(len(groups))} by chance alone."
    ]
    few = sum(one.events < FEW for one in groups)
    if few:
        said.append(
            f"{few:,} of them had fewer than {FEW} failures: their limits are wide, and one more "
            "or less changes much. The rate drawn toward all of them is the safer one to read."
        )
    if events == 0:
        said.append("Nothing failed in this period: no difference can be told.")
    return said


def _chance(groups: int) -> str:
    """What chance alone makes of so many comparisons."""
    expected = LEVEL * groups
    if expected >= 1.5:
        return f"about {expected:.0f} would still stand out"
    looks = round(1 / (1 - (1 - LEVEL) ** groups))
    return f"one look in {looks} would still show one that stands out"
