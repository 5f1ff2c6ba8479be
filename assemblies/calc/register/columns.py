"""Which column holds what: people's own names matched to fields, units in the name kept."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache

from .fields import FACTS, JOINED, Field
from .folding import words_of
from .words import ABOUT_OTHERS, EXACT, LIKE

_UNIT_SIGNS = re.compile(r'"|″|\'\'|”')
_PRESSURE_UNITS = {"bar": "bar", "psi": "psi", "mpa": "MPa", "kpa": "kPa"}
_LENGTH_UNITS = {
    "mm": "mm", "cm": "cm", "m": "m", "metre": "m", "metres": "m", "meter": "m", "meters": "m",
    "in": "in", "inch": "in", "inches": "in", "zoll": "in", "ft": "ft", "feet": "ft",
    "millimetres": "mm", "millimeter": "mm", "pouces": "in", "pulgadas": "in",
}  # fmt: skip
_SIZE_NOTATIONS = {
    "dn": "dn", "nw": "dn", "dash": "dash", "mm": "mm", "in": "inch", "inch": "inch",
    "inches": "inch", "zoll": "inch", "pouces": "inch", "pulgadas": "inch",
}  # fmt: skip
_HOUR_WORDS = {"h": "h", "hr": "h", "hrs": "h", "hours": "h", "std": "h"}
# From this place on in the list of names for the maker, the machine is not named.
_BARE_MAKER = 4
_FILLERS = {"the", "of", "in", "at", "on", "de", "du", "la", "le", "der", "des", "del", "al", "a"}


@dataclass(frozen=True, slots=True)
class Match:
    """What a header's text says: the field, the unit or notation it names, how sure it is."""

    field: Field
    unit: str = ""
    exact: bool = True
    rank: int = 0  # how far down the field's list of names it stands


@dataclass(frozen=True, slots=True)
class Column:
    """One column of the file. `field` is None where it is not read; `why` then says so."""

    index: int
    header: str
    field: Field | None = None
    unit: str = ""
    why: str = ""


@lru_cache(maxsize=5_000)
def match_header(text: str) -> Match | None:
    """Read a column's name.

    Parameters: text, as it stands in the header. Returns None where no field is recognised.
    Never raises. Source: the project's own tables of words.

    >>> match_header("WP (psi)")
    Match(field=<Field.PRESSURE: 'pressure'>, unit='psi', exact=True, rank=1)
    >>> match_header("Next inspection due") is None
    True
    """
    if len(text) > 120:
        return None
    words = words_of(_UNIT_SIGNS.sub(" inch ", text)).split()
    if not words:
        return None
    bare = _without_units(words)
    if bare == ["id"] and any(word in _LENGTH_UNITS for word in words):
        return Match(Field.SIZE, _unit(Field.SIZE, words))  # the inside diameter
    for name in (words, bare):
        exact = _exact().get(" ".join(name))
        if exact is not None and _unit_fits(exact[0], words):
            return Match(exact[0], _unit(exact[0], words), rank=exact[1])
    return _like(words)


def match_columns(
    headers: Sequence[str],
    *,
    by_hand: Mapping[Field, Sequence[int]] | None = None,
) -> tuple[Column, ...]:
    """Give each column its field, or the reason why it is not read.

    Parameters: headers, the text over each column; by_hand, columns (from 0) a person named
    for a field: these are taken first, and an empty list says that a field has no column.
    Returns a Column for each header. Never raises.

    >>> [c.field for c in match_columns(["Tag", "Length mm", "Colour"])]
    [<Field.TAG: 'tag'>, <Field.LENGTH: 'length'>, None]
    """
    said = dict(by_hand or {})
    fixed = {index: field for field, indexes in said.items() for index in indexes}
    found = _told_apart({index: match_header(header) for index, header in enumerate(headers)})
    taken: dict[Field, int] = {}
    columns: dict[int, Column] = {}
    for index, field in fixed.items():
        if 0 <= index < len(headers):
            columns[index] = Column(index, headers[index], field, unit_in(headers[index], field))
    order = sorted(found, key=lambda at: (*_strength(found[at]), at))
    for index in order:
        if index not in columns:
            columns[index] = _column(index, headers[index], found[index], taken, said)
    return tuple(columns[index] for index in sorted(columns))


def _told_apart(found: dict[int, Match | None]) -> dict[int, Match | None]:
    """A bare “Make” is the machine's only beside a model: else it may well be the hose's."""
    fields = {match.field for match in found.values() if match is not None}
    if Field.MACHINE_MODEL in fields:
        return found
    bare = {
        index
        for index, match in found.items()
        if match is not None and match.field is Field.MACHINE_MAKER and match.rank >= _BARE_MAKER
    }
    return {index: None if index in bare else match for index, match in found.items()}


def unit_in(header: str, field: Field) -> str:
    """The unit or notation that a header names for a field; empty where none or two are named."""
    return _unit(field, words_of(_UNIT_SIGNS.sub(" inch ", header)).split())


def _strength(match: Match | None) -> tuple[bool, int]:
    return (not match.exact, match.rank) if match else (True, 0)


def _column(
    index: int,
    header: str,
    match: Match | None,
    taken: dict[Field, int],
    said: Mapping[Field, Sequence[int]],
) -> Column:
    if match is None:
        why = "no name above it" if not header else "its name is not known"
        return Column(index, header, None, "", why)
    if match.field in said:
        return Column(index, header, None, "", "another column was chosen by hand")
    if match.field in taken and match.field not in JOINED:
        label = FACTS[match.field].label
        return Column(index, header, None, "", f"an earlier column is read as “{label}”")
    taken.setdefault(match.field, index)
    return Column(index, header, match.field, match.unit)


@cache
def _exact() -> Mapping[str, tuple[Field, int]]:
    return {
        " ".join(phrase.split()): (field, rank)
        for field, phrases in EXACT.items()
        for rank, phrase in enumerate(phrases.split("|"))
    }


@cache
def _likes() -> tuple[tuple[Field, frozenset[str]], ...]:
    return tuple(
        (field, frozenset(phrase.split())) for field, line in LIKE for phrase in line.split("|")
    )


def _like(words: list[str]) -> Match | None:
    held = set(words)
    if held & ABOUT_OTHERS:
        return None
    for field, wanted in _likes():
        if wanted <= held:
            return Match(field, _unit(field, words), exact=False)
    return None


def _without_units(words: list[str]) -> list[str]:
    units = {*_PRESSURE_UNITS, *_LENGTH_UNITS, *_SIZE_NOTATIONS, *_HOUR_WORDS}
    kept = [word for word in words if word not in units]
    return kept or words


def _unit_fits(field: Field, words: list[str]) -> bool:
    """Whether the units in the name are units of the field (an `Hours (mm)` is not known)."""
    kinds = {
        "pressure": _PRESSURE_UNITS,
        "length": _LENGTH_UNITS,
        "size": _SIZE_NOTATIONS,
        "hours": _HOUR_WORDS,
    }
    known: Mapping[str, str] = kinds.get(FACTS[field].kind, {})
    others = {word for units in kinds.values() for word in units} - known.keys() - _FILLERS
    return not others & set(words)


def _unit(field: Field, words: list[str]) -> str:
    kind = FACTS[field].kind
    known: Mapping[str, str] = {}
    if kind == "pressure":
        known = _PRESSURE_UNITS
    elif kind == "length":
        known = _LENGTH_UNITS
    elif kind == "size":
        known = _SIZE_NOTATIONS
    named = {known[word] for word in words if word in known}
    return named.pop() if len(named) == 1 else ""
