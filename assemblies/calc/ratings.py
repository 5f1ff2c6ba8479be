"""The working pressure of an assembly: the lowest of hose, both ends and recipes."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from assemblies.standards import tables

PROOF_FACTOR = 2
"""Proof pressure over working pressure: SAE J343, ISO 6605."""
BURST_FACTOR = 4
"""Least burst pressure over working pressure: SAE J517, ISO 18752 scope."""


class RatingError(ValueError):
    """An assembly that has no rating; the message says what is missing or wrong."""


class RatingUnknown(RatingError):
    """A part whose working pressure nobody has stated; `parts` names each."""

    def __init__(self, message: str, parts: tuple[str, ...]) -> None:
        super().__init__(message)
        self.parts = parts


class PartsMissing(RatingError):
    """An assembly without its hose or without both ends."""


class RatingNotUsable(RatingError):
    """A stated pressure that is not above zero, or an override without its source."""


class PartKind(StrEnum):
    """What a part is to the assembly."""

    HOSE = "hose"
    END = "end"
    RECIPE = "recipe"


@dataclass(frozen=True, slots=True)
class Override:
    """A working pressure that stands in place of a standard's, with the document it is from."""

    working_pressure_bar: Decimal
    source: str


@dataclass(frozen=True, slots=True)
class PartRating:
    """A part's stated rating; None where nobody has stated it. `source` names the document."""

    kind: PartKind
    name: str
    working_pressure_bar: Decimal | None
    source: str
    max_temperature_c: Decimal | None = None
    override: Override | None = None

    @property
    def effective_bar(self) -> Decimal | None:
        """The pressure that counts: the override's where there is one."""
        return self.override.working_pressure_bar if self.override else self.working_pressure_bar

    @property
    def effective_source(self) -> str:
        """The document behind the pressure that counts."""
        return self.override.source if self.override else self.source


@dataclass(frozen=True, slots=True)
class Rating:
    """An assembly's rating and what binds it.

    `max_temperature_c` is the lowest stated, None where the hose states none. `has_recipe` is
    False where only the ceiling of the parts is known.
    """

    working_pressure_bar: Decimal
    binding: tuple[PartRating, ...]
    proof_bar: Decimal
    burst_min_bar: Decimal
    max_temperature_c: Decimal | None
    has_recipe: bool

    @property
    def sentence(self) -> str:
        """What binds, and by which document, in words."""
        who = " and ".join(part.name for part in self.binding)
        sources = dict.fromkeys(part.effective_source for part in self.binding)
        return (
            f"{_plain(self.working_pressure_bar)} bar, set by {who} ({'; '.join(sources)}); "
            f"proof {_plain(self.proof_bar)} bar, burst at least {_plain(self.burst_min_bar)} bar."
        )


def assembly_rating(parts: Sequence[PartRating]) -> Rating:
    """Rate an assembly by its weakest part.

    Parameters: parts: one hose, two ends, and the recipes there are (pressures in bar).
    Returns the lowest working pressure and every part that sets it; proof = 2 × working,
    least burst = 4 × working.
    Limits: the lowest of hose and ends is a ceiling; a recipe has a rating of its own. Bar and
    psi prints are never converted into each other here.
    Errors: PartsMissing, RatingUnknown (never a guess), RatingNotUsable.
    Source: SAE J517 and ISO 18752, scope (lowest part, burst); SAE J343, ISO 6605 (proof).

    >>> hose = PartRating(PartKind.HOSE, "2SN DN19", Decimal(215), "EN 853")
    >>> ends = [PartRating(PartKind.END, "L22", Decimal(160), "ISO 8434-1"),
    ...         PartRating(PartKind.END, "code 61 3/4", Decimal(345), "SAE J518")]
    >>> assembly_rating([hose, *ends]).sentence
    '160 bar, set by L22 (ISO 8434-1); proof 320 bar, burst at least 640 bar.'
    """
    _refuse_missing(parts)
    for part in parts:
        _refuse_unusable(part)
    stated = [(part.effective_bar, part) for part in parts]
    known = [(bar, part) for bar, part in stated if bar is not None]
    if len(known) < len(stated):
        raise _unknown([part.name for bar, part in stated if bar is None])
    lowest = min(bar for bar, _ in known)
    return Rating(
        working_pressure_bar=lowest,
        binding=tuple(part for bar, part in known if bar == lowest),
        proof_bar=PROOF_FACTOR * lowest,
        burst_min_bar=BURST_FACTOR * lowest,
        max_temperature_c=_lowest_temperature(parts),
        has_recipe=any(part.kind is PartKind.RECIPE for part in parts),
    )


def hose_by_standard(hose_type: str, dn: int) -> PartRating:
    """State a hose's rating as its standard prints it; unknown where none is printed.

    >>> hose_by_standard("2SN", 19).working_pressure_bar, hose_by_standard("R17", 12).source
    (Decimal('215'), 'no standard figure: enter the maker’s')
    """
    row = tables.hose_pressure(hose_type, dn)
    name = f"{hose_type} DN{dn}"
    if row is None:
        return PartRating(PartKind.HOSE, name, None, _NO_FIGURE)
    oil = (r for r in tables.hose_temperatures() if (r.type, r.fluid) == (hose_type, "oil"))
    limit = next((Decimal(r.max_c) for r in oil), None)
    return PartRating(PartKind.HOSE, name, row.working_pressure_bar, str(row.source), limit)


def end_by_standard(end: str, size: str) -> PartRating:
    """State an end's rating as its standard prints it; unknown where none is printed.

    >>> end_by_standard("24° cone S", "20").working_pressure_bar
    Decimal('400')
    """
    row = tables.end_rating(end, size)
    name = f"{end} {size}"
    if row is None:
        return PartRating(PartKind.END, name, None, _NO_FIGURE)
    return PartRating(PartKind.END, name, row.working_pressure_bar, str(row.source))


_NO_FIGURE = "no standard figure: enter the maker’s"


def _refuse_missing(parts: Sequence[PartRating]) -> None:
    hoses = sum(part.kind is PartKind.HOSE for part in parts)
    ends = sum(part.kind is PartKind.END for part in parts)
    if hoses != 1:
        raise PartsMissing(f"An assembly has one hose; {hoses} are given.")
    if ends != 2:
        raise PartsMissing(f"An assembly has two ends; {ends} are given.")


def _refuse_unusable(part: PartRating) -> None:
    if part.override is not None and not part.override.source.strip():
        raise RatingNotUsable(f"The override of {part.name} names no source: write the document.")
    bar = part.effective_bar
    if bar is not None and not (bar.is_finite() and bar > 0):
        raise RatingNotUsable(f"{part.name}: {bar} bar is no working pressure.")


def _unknown(names: Sequence[str]) -> RatingUnknown:
    listed = ", ".join(names)
    return RatingUnknown(
        f"No working pressure is stated for {listed}: enter the maker's figure and its source.",
        tuple(names),
    )


def _lowest_temperature(parts: Sequence[PartRating]) -> Decimal | None:
    """The hose must state one: a fitting's silence says nothing of the rubber."""
    if any(part.kind is PartKind.HOSE and part.max_temperature_c is None for part in parts):
        return None
    return min(part.max_temperature_c for part in parts if part.max_temperature_c is not None)


def _plain(number: Decimal) -> str:
    return f"{number.normalize():f}"
