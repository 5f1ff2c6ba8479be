"""One finding of a duty check, and how its figures are written."""

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum


class Weight(StrEnum):
    """How grave a finding is."""

    FORBIDS = "forbids"
    WARNS = "warns"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class Finding:
    """One finding: what it is about, how grave, the sentence with both figures, its source."""

    about: str
    weight: Weight
    sentence: str
    source: str


def plain(number: Decimal) -> str:
    """A figure without idle noughts.

    >>> plain(Decimal("275.00")), plain(Decimal("6.10"))
    ('275', '6.1')
    """
    return f"{number.normalize():f}"
