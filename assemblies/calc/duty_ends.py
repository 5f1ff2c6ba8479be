"""The ends of a spec against the ports of a position, and the threads that are mistaken."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from assemblies.calc.connections import (
    CONE_37,
    FLANGE_61,
    FLANGE_62,
    FLAT_FACE,
    end_named,
    standard_end,
)
from assemblies.calc.duty_words import Finding, Weight
from assemblies.calc.sizes import SizeError, parse_size
from assemblies.standards import tables


@dataclass(frozen=True, slots=True)
class EndAsked:
    """One end of a spec: its name (near, far), connection and size as the catalogue writes them."""

    name: str
    connection: str
    size: str

    @property
    def words(self) -> str:
        return f"{self.connection} {self.size}".strip()


def end_findings(ports: tuple[str, str], ends: Sequence[EndAsked]) -> Iterator[Finding]:
    """Hold each end against its port, and name what it could be mistaken for.

    Parameters: the two ports as a position states them, empty where it does not; the ends in the
    same order. A port is compared by the kind of its connection, as far as both are known names.
    Source: the tables of ends and of confusable threads.

    >>> ends = [EndAsked("near", "DKOL", "L22")]
    >>> [one.sentence for one in end_findings(("24° cone S", ""), ends)][0]
    'The near end is a 24° cone L (DKOL L22), its port a 24° cone S (24° cone S).'
    """
    for port, end in zip(ports, ends, strict=False):
        if port.strip():
            yield from _port(port, end)
    for end in ends:
        yield from _mistaken(end)


def _port(port: str, end: EndAsked) -> Iterator[Finding]:
    mine, theirs = end_named(end.connection), _end_in(port)
    if mine is None or theirs is None:
        yield Finding(
            "ports",
            Weight.UNKNOWN,
            f"The {end.name} end is {end.words}, its port “{port}”: whether they go together is "
            "for a person to say.",
            "the names as written",
        )
    elif mine != theirs:
        yield Finding(
            "ports",
            Weight.FORBIDS,
            f"The {end.name} end is a {mine} ({end.words}), its port a {theirs} ({port}).",
            "the names as written",
        )


def _end_in(port: str) -> str | None:
    """The kind of connection that a port's text begins with, its size left away word by word."""
    words = port.replace(",", " ").split()
    found = (end_named(" ".join(words[:count])) for count in range(len(words), 0, -1))
    return next((name for name in found if name is not None), None)


def _mistaken(end: EndAsked) -> Iterator[Finding]:
    label = label_of(end)
    for row in tables.confusable_threads():
        pair = (_folded(row.first), _folded(row.second))
        if label and _folded(label) in pair:
            other = row.second if pair[0] == _folded(label) else row.first
            yield Finding(
                "mistaken",
                Weight.WARNS,
                f"The {end.name} end, {label}, is easily mistaken for {other} ({row.thread}): "
                f"{row.why}.",
                str(row.source),
            )


def label_of(end: EndAsked) -> str:
    """An end as the table of confusable threads names it; empty where it can't be told.

    >>> label_of(EndAsked("near", "DKOL", "L22")), label_of(EndAsked("far", "JIC", "-6"))
    ('24° cone L22', '37° cone -6')
    """
    kind = end_named(end.connection)
    if kind in (FLANGE_61, FLANGE_62):
        return kind
    row = standard_end(end.connection, end.size)
    if row is not None:
        return f"{row.end}{row.size}"
    if kind in (CONE_37, FLAT_FACE):
        try:
            return f"{kind} -{parse_size(end.size).dash}"
        except SizeError:
            return ""
    return ""


def _folded(text: str) -> str:
    return text.casefold().replace("-face", " face")
