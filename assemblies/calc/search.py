"""What a typed search means: sizes in any notation, hose types, ends, or plain words."""

import re
from dataclasses import dataclass

from assemblies.calc.connections import end_named, hose_type_named
from assemblies.calc.sizes import AmbiguousSize, SizeError, parse_size
from assemblies.standards import tables
from fleet.calc.typed_numbers import plain

MOST_TERMS = 8
LONGEST = 80
_INCHES = re.compile(r"(\d{1,2})[ ](\d{1,2}/\d{1,2})")
_UNIT = re.compile(r"(\d)[ ](mm|inch|in)\b", re.IGNORECASE)
_NAMED = re.compile(r"\b(dn|nw|dash)[ ]+(\d{1,3})\b", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Term:
    """One thing that must be found: by its word, or as any size, type or end that it names."""

    word: str
    sizes_dn: frozenset[int] = frozenset()
    hose_types: frozenset[str] = frozenset()
    ends: frozenset[str] = frozenset()


def terms_of(text: str) -> tuple[Term, ...]:
    """Part a typed search into its terms; all must fit, each in any of its readings.

    Parameters: text as typed; `1 1/4`, `DN 12` stay together. A figure that could be several
    sizes means any of them: a search asks nothing.
    Limits: 80 characters, 8 terms. Never raises. Source: the project's own.

    >>> [sorted(term.sizes_dn) for term in terms_of('2SN -8')]
    [[], [12]]
    >>> sorted(terms_of("12")[0].sizes_dn)
    [12, 19]
    """
    printable = "".join(sign if sign.isprintable() else " " for sign in text[:LONGEST])
    joined = _INCHES.sub(r"\1.\2", plain(printable))
    joined = _UNIT.sub(r"\1\2", _NAMED.sub(r"\1\2", joined))
    return tuple(_term(word) for word in joined.split()[:MOST_TERMS])


def _term(word: str) -> Term:
    kind, end = hose_type_named(word), end_named(word)
    # One print names two types that differ in the cover only: a search finds both.
    named = {row.type for row in tables.hose_types() if word.upper() in row.names}
    return Term(
        word,
        _sizes(word),
        frozenset(named | ({kind.type} if kind else set())),
        frozenset({end} if end else ()),
    )


def _sizes(word: str) -> frozenset[int]:
    try:
        return frozenset({parse_size(word).dn})
    except AmbiguousSize as error:
        return frozenset(size.dn for _, size in error.readings)
    except SizeError:
        return frozenset()
