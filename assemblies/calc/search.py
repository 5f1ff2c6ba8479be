"""What a typed search means: sizes in any notation, hose types, ends, or plain words."""

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from assemblies.calc.connections import (
    CONE_L,
    CONE_S,
    FLANGE_61,
    FLANGE_62,
    end_named,
    hose_type_named,
)
from assemblies.calc.sizes import AmbiguousSize, SizeError, parse_size
from assemblies.standards import tables
from fleet.calc.typed_numbers import plain

MOST_TERMS = 8
LONGEST = 80
_INCHES = re.compile(r"(?<![\w.])([1-3])[ ](\d{1,2}/\d{1,2})")
_UNIT = re.compile(r"(\d)[ ](mm|inch|in)\b", re.IGNORECASE)
_NAMED = re.compile(r"\b(dn|nw|dash)[ ]+(\d{1,3})\b", re.IGNORECASE)
_SAE_TYPE = re.compile(r"\b(?:sae )?100 ?(?=r\d)", re.IGNORECASE)
_DOCUMENT = re.compile(r"\b(?:din |bs )?(en|iso|sae|din) ?j?(?:iso )?(\d{3,5})\b", re.IGNORECASE)
_LONGEST_NAME = 4
# Names that leave open which of two ends is meant: a search finds both.
_WIDER: Mapping[str, frozenset[str]] = {
    "flange": frozenset({FLANGE_61, FLANGE_62}),
    "sae flange": frozenset({FLANGE_61, FLANGE_62}),
    "split flange": frozenset({FLANGE_61, FLANGE_62}),
    "dko": frozenset({CONE_L, CONE_S}),
    "24° cone": frozenset({CONE_L, CONE_S}),
    "24 cone": frozenset({CONE_L, CONE_S}),
}


@dataclass(frozen=True, slots=True)
class Term:
    """One thing that must be found: by its word, or as any size, type or end that it names.

    `asked` says which sizes a figure could be, where it could be several.
    """

    word: str
    sizes_dn: frozenset[int] = frozenset()
    hose_types: frozenset[str] = frozenset()
    ends: frozenset[str] = frozenset()
    asked: str = ""


def terms_of(text: str) -> tuple[Term, ...]:
    """Part a typed search into its terms; all must fit, each in any of its readings.

    Parameters: text as typed; `1 1/4`, `DN 12`, `SAE code 61`, `EN 853` stay together. A figure
    that could be several sizes means any of them, and says so in `asked`; a name of two ends
    (`SAE flange`) means both.
    Limits: 80 characters, 8 terms. Never raises. Source: the project's own.

    >>> [sorted(term.sizes_dn) for term in terms_of('2SN -8')]
    [[], [12]]
    >>> sorted(terms_of("12")[0].sizes_dn)
    [12, 19]
    >>> [sorted(term.ends) for term in terms_of("flange code 62 -12")]
    [['flange code 62'], []]
    """
    printable = "".join(sign if sign.isprintable() else " " for sign in text[:LONGEST])
    joined = _INCHES.sub(r"\1.\2", plain(printable))
    joined = _UNIT.sub(r"\1\2", _NAMED.sub(r"\1\2", _SAE_TYPE.sub("100", joined)))
    joined = _DOCUMENT.sub(r"\1\2", joined)
    return tuple(_named_or_word(joined.split()))[:MOST_TERMS]


def _named_or_word(words: Sequence[str]) -> Iterator[Term]:
    """Names of several words first, the longest that there is; the rest word by word."""
    at = 0
    while at < len(words):
        longest = min(_LONGEST_NAME, len(words) - at)
        for length in range(longest, 1, -1):
            name = " ".join(words[at : at + length])
            ends = _ends(name)
            if ends:
                yield Term(name, ends=ends)
                at += length
                break
        else:
            yield _term(words[at])
            at += 1


def _term(word: str) -> Term:
    kind = hose_type_named(word)
    # One print names two types that differ in the cover only: a search finds both.
    named = {row.type for row in tables.hose_types() if word.upper() in row.names}
    sizes, asked = _sizes(word)
    types = frozenset(named | ({kind.type} if kind else set()) | _types_of_document(word))
    return Term(word, sizes, types, _ends(word), asked)


def _ends(name: str) -> frozenset[str]:
    wider = _WIDER.get(name.casefold())
    if wider is not None:
        return wider
    end = end_named(name)
    return frozenset({end} if end else ())


def _types_of_document(word: str) -> set[str]:
    """The hose types of a standard that is named by its number: `EN853`."""
    named = re.fullmatch(r"(en|iso|sae|din)(\d{3,5})", word.casefold())
    if named is None:
        return set()
    document = f"{named[1]} {named[2]}" if named[1] != "sae" else f"sae j{named[2]}"
    listed = re.compile(rf"{document}\b")
    rows = tables.hose_types()
    return {row.type for row in rows if listed.search(row.source.document.casefold())}


def _sizes(word: str) -> tuple[frozenset[int], str]:
    try:
        return frozenset({parse_size(word).dn}), ""
    except AmbiguousSize as error:
        each = {size: notation for notation, size in error.readings}
        names = " or ".join(f"{size} as {notation.label}" for size, notation in each.items())
        asked = f"“{word}” could be {names}: all are shown. Write -{word} or DN{word} for one."
        return frozenset(size.dn for _, size in error.readings), asked
    except SizeError:
        return frozenset(), ""
