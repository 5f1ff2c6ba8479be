"""What can't be true of one hose at once."""

from collections.abc import Iterator, Mapping

from .entries import Dated, Measured
from .fields import FACTS, Field

_IN_TIME = ((Field.MADE, Field.BUILT), (Field.BUILT, Field.FITTED), (Field.MADE, Field.FITTED))


def contradictions(values: Mapping[Field, object]) -> list[tuple[Field, str]]:
    """The fields that contradict another, each with the reason.

    Dates: hose made, then assembly built, then fitted; two dates contradict only where the
    earliest day of the first is after the latest day of the second. Hours at fitting are not
    above the hours now. A hose is on a machine or in the store, not both. Never raises.

    >>> contradictions({Field.MACHINE: "EX-01", Field.STORE: "rack 3"})[0][0] is Field.STORE
    True
    """
    found: list[tuple[Field, str]] = []
    if Field.BUILT in values or (Field.MADE in values and Field.FITTED in values):
        found += _dates(values)
    if Field.HOURS_NOW in values:
        found += _hours(values)
    if Field.STORE in values:
        found += _places(values)
    return found


def _dates(values: Mapping[Field, object]) -> list[tuple[Field, str]]:
    for first, then in _IN_TIME:
        before, after = values.get(first), values.get(then)
        if before is None or after is None:
            continue
        assert isinstance(before, Dated)
        assert isinstance(after, Dated)
        if before.earliest > after.latest:
            later, earlier = FACTS[then].label.capitalize(), FACTS[first].label
            wrong = f"{later} {after.typed} is before {earlier} {before.typed}"
            return [(then, f"{wrong}: one of the two is wrong.")]
    return []


def _hours(values: Mapping[Field, object]) -> Iterator[tuple[Field, str]]:
    fitted, now = values.get(Field.FITTED_HOURS), values.get(Field.HOURS_NOW)
    if isinstance(fitted, Measured) and isinstance(now, Measured) and fitted.value > now.value:
        yield (
            Field.FITTED_HOURS,
            f"It was fitted at {fitted.value} h, and the machine has {now.value} h now: if the "
            "meter was changed, record that on the machine and leave this cell empty.",
        )


def _places(values: Mapping[Field, object]) -> Iterator[tuple[Field, str]]:
    if Field.MACHINE in values and Field.STORE in values:
        yield (
            Field.STORE,
            f"It is on machine {values[Field.MACHINE]} and in the store at "
            f"{values[Field.STORE]}: leave the one empty where it is not.",
        )
