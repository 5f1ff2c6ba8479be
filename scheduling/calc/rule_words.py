"""A life rule's limits in words."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Final

_MONTHS: Final = {
    "reel_age_months": "{} from hose made until it is built",
    "storage_months": "{} in storage",
    "made_months": "{} from hose made",
    "built_months": "{} from assembly built, storage counted",
    "fitted_months": "{} from fitted",
    "inspect_months": "inspect every {}",
}
_HOURS: Final = {
    "hours_fitting": "{} h on one fitting",
    "hours_total": "{} h in all",
    "inspect_hours": "inspect every {} h",
}


def rule_words(limits: Mapping[str, int | Decimal | None]) -> tuple[str, ...]:
    """Each limit that a rule sets, in words.

    Parameters: limits by the name of their column; months whole, hours decimal; None or 0 is no
    limit. Returns them in a fixed order.

    >>> rule_words({"built_months": 72, "inspect_months": 6, "hours_total": Decimal("6000.0")})
    ('6 years from assembly built, storage counted', 'inspect every 6 months', '6000 h in all')
    """
    months = ((words, limits.get(name)) for name, words in _MONTHS.items())
    hours = ((words, limits.get(name)) for name, words in _HOURS.items())
    return (
        *(words.format(_span(int(limit))) for words, limit in months if limit),
        *(words.format(_plain(limit)) for words, limit in hours if limit),
    )


def _span(months: int) -> str:
    count, unit = (months // 12, "year") if months % 12 == 0 else (months, "month")
    return f"{count} {unit}{'s' * (count != 1)}"


def _plain(hours: int | Decimal) -> str:
    text = f"{hours:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
