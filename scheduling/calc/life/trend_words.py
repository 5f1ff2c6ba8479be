"""What the failures of one machine or position, in their order, say: faster, slower, or nothing."""

from collections.abc import Sequence

from scheduling.calc.life.mean_cumulative import MeanCumulative
from scheduling.calc.life.recurrence import in_words, laplace, power_law, power_law_trend

FOR_A_TREND, FOR_LIMITS = 4, 10


def trend_words(ages: Sequence[float], until: float) -> tuple[str, ...]:
    """Both trend tests and the power law of one system, in sentences; below 4 failures none.

    Ages at failure and the end of the watch in hours, counted from when the watch began. (That
    fewer than 4 say nothing is the project's own choice: with 3 the tests find hardly anything.)

    >>> trend_words([100.0], 2000.0)
    ('1 failure in 2,000 h watched: from fewer than 4 no trend can be told.',)
    >>> trend_words([500.0, 900.0, 960.0, 985.0, 990.0], 1000.0)[1]
    'Laplace’s test: the failures come closer together: it is getting worse (p 0.004).'
    """
    number = len(ages)
    watched = f"{number} failure{'s' * (number != 1)} in {until:,.0f} h watched"
    if number == 0:
        return (f"Nothing failed in {until:,.0f} h watched.",)
    if number < FOR_A_TREND:
        return (f"{watched}: from fewer than {FOR_A_TREND} no trend can be told.",)
    fitted = power_law(ages, until)
    low, high = fitted.power_limits()
    said = (
        f"{watched}.",
        f"Laplace’s test: {_after(in_words(laplace([ages], [until])))}",
        f"Military handbook’s test: {_after(in_words(power_law_trend(ages, until)))}",
        f"Power law: β {fitted.power:.2f} ({low:.2f} to {high:.2f}); above 1 they come faster.",
    )
    if low <= 1 <= high:
        return said
    return (
        *said,
        f"By it a failure is now to be expected every {fitted.mtbf_now():,.0f} h; over the whole "
        f"watch it was every {until / number:,.0f} h.",
    )


def _after(sentence: str) -> str:
    return sentence[0].lower() + sentence[1:]


def pooled_trend_words(histories: Sequence[Sequence[float]], ends: Sequence[float]) -> str:
    """Laplace's test over systems of one kind together, each with its own watch, in a sentence.

    >>> pooled_trend_words([[10.0], []], [100.0, 100.0])
    'From 1 failure on 2 machines no trend can be told.'
    """
    number = sum(len(one) for one in histories)
    if number < FOR_A_TREND:
        counted = f"{number or 'no'} failure{'s' * (number != 1)}"
        return f"From {counted} on {len(ends):,} machines no trend can be told."
    return in_words(laplace(histories, ends))


def mean_words(found: MeanCumulative, machines: int) -> str:
    """The mean number of failures by the last age that failed, in a sentence.

    The limits rest on how machines differ: below 10 of them they are called too narrow (the
    project's own choice).

    >>> from scheduling.calc.life.mean_cumulative import mean_cumulative
    >>> mean_words(mean_cumulative([[5.0], [6.0], []], [9.0, 9.0, 9.0]), 10)
    'By 6 h watched a machine has had 0.67 failures in the mean (0.30 to 1.48).'
    """
    low, high = found.limits()
    said = (
        f"By {found.ages[-1]:,.0f} h watched a machine has had {found.mean[-1]:.2f} failures in "
        f"the mean ({low[-1]:.2f} to {high[-1]:.2f})."
    )
    if machines >= FOR_LIMITS:
        return said
    return f"{said} From {machines} machines such limits come out too narrow: don’t lean on them."
