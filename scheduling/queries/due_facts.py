"""A hose and its dates in the few words that several pages show."""

import datetime as dt
from decimal import Decimal
from typing import Final

from django.db.models import QuerySet

from assemblies.models import Assembly, Stay
from fleet.models.compiled import compiled
from scheduling.calc.inputs import Flag
from scheduling.calc.standing import Dates
from scheduling.models import Due

# The columns of a hose that the words below need: a list reads no others.
HOSE_SHOWN: Final = (
    *("tag", "owner_mark", "hose_type", "size_dn", "size_typed", "length_mm", "hose__code"),
    *("condition", "made_earliest_on", "built_earliest_on"),
)
DATES_SHOWN: Final = ("due_on", "replace_on", "inspect_on", "flags")

_UNCERTAIN: Final = int(
    Flag.UNCERTAIN_DATE
    | Flag.UNKNOWN_AGE
    | Flag.BUILT_FROM_MADE
    | Flag.HOURS_UNKNOWN
    | Flag.ESTIMATED_FROM_DAYS
)


@compiled
def _due(hose_id: int) -> "QuerySet[Due]":
    return Due.objects.filter(assembly=hose_id).only(*DATES_SHOWN, "fingerprint")


def due_of(hose_id: int) -> Due | None:
    """The due row of a hose, without what its lists are put in order by."""
    return _due.first(hose_id)


def dates_of(due: Due | None) -> Dates | None:
    """The dates of a due row, for judging how its hose stands."""
    if due is None:
        return None
    return Dates(due.due_on, due.replace_on, due.inspect_on, due.flags)


def still_uncertain(due: Due | None) -> bool:
    """Whether the dates rest on a day or an hour that isn't known exactly."""
    return due is not None and uncertain_by(due.flags)


def uncertain_by(flags: int) -> bool:
    """Whether the flags of a due row say that a day or an hour isn't known exactly."""
    return flags & _UNCERTAIN != 0


def hose_label(hose: Assembly) -> str:
    """What a hose is called: its own tag, else its owner's mark, else that it has neither."""
    return label_of(hose.pk, hose.tag_id, hose.owner_mark)


def label_of(hose_id: int, tag: str | None, owner_mark: str) -> str:
    """The same from the columns themselves, as a long list reads them."""
    return tag or owner_mark or f"untagged no. {hose_id}"


def hose_words(hose: Assembly) -> str:
    """Type, size and length of a hose as far as they are known."""
    code = hose.hose_type or (hose.hose.code if hose.hose else "")
    return words_of(code, hose.size_dn, hose.size_typed, hose.length_mm)


def words_of(code: str, size_dn: int | None, size_typed: str, length_mm: Decimal | None) -> str:
    """The same words from the columns themselves, as a long list reads them."""
    size = f"DN{size_dn}" if size_dn else size_typed
    length = f"{length_mm:f}".removesuffix(".0") + " mm" if length_mm else ""
    return " ".join(part for part in (code, size, length) if part)


def age_start(hose: Assembly, stay: Stay | None) -> tuple[dt.date | None, str]:
    """The day a hose's age is shown from: built before made, both before fitted."""
    fitted_on = stay.from_earliest_on if stay else None
    return aged_from(hose.built_earliest_on, hose.made_earliest_on, fitted_on)


def aged_from(
    built_on: dt.date | None, made_on: dt.date | None, fitted_on: dt.date | None
) -> tuple[dt.date | None, str]:
    """The same from the columns themselves."""
    if built_on:
        return built_on, "built"
    if made_on:
        return made_on, "hose made"
    return (fitted_on, "fitted") if fitted_on else (None, "")
