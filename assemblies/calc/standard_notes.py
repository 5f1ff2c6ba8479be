"""The standard's rows that stand beside a typed figure, each with where it is from."""

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from assemblies.calc.connections import standard_end
from assemblies.standards import tables
from assemblies.standards.sources import Mark, Source

CHECK = "Check against your copy and the maker's data; the maker's data always override."
MARKS = {
    Mark.SEEN: "seen in a public page that quotes the document",
    Mark.MEMORY: "from memory, verify",
    Mark.DERIVED: "derived by arithmetic",
    Mark.PRACTICE: "common practice, no published source",
}


@dataclass(frozen=True, slots=True)
class StandardNote:
    """One figure of a standard, for the field of that name, with document, edition and mark."""

    field: str
    what: str
    figure: str
    source: Source

    @property
    def document(self) -> str:
        return str(self.source)

    @property
    def standing(self) -> str:
        """How the figure was come by, and whether anything else stands behind it."""
        unverified = "; unverified" if self.source.is_unverified else ""
        return f"{MARKS[self.source.mark]}{unverified}"


def hose_notes(hose_type: str, dn: int) -> tuple[StandardNote, ...]:
    """Collect what the standards print for a hose type and size; empty where they print nothing.

    >>> [note.figure for note in hose_notes("2SN", 12)][:2]
    ['275 bar', '180 mm']
    """
    return tuple(_hose_notes(hose_type, dn))


def end_notes(connection: str, size: str) -> tuple[StandardNote, ...]:
    """Collect what the standards print for a connection and size.

    >>> end_notes("DKOL", "L22")[0].figure
    '160 bar'
    """
    row = standard_end(connection, size)
    if row is None:
        return ()
    figure = f"{_plain(row.working_pressure_bar)} bar"
    what = f"Working pressure of {row.end} {row.size}"
    return (StandardNote("working_pressure_bar", what, figure, row.source),)


def _hose_notes(hose_type: str, dn: int) -> Iterator[StandardNote]:
    name = f"{hose_type} DN{dn}"
    pressure = tables.hose_pressure(hose_type, dn)
    if pressure is None:
        return  # the document has no such size: what it says of the type is not said of this hose
    figure = f"{_plain(pressure.working_pressure_bar)} bar"
    yield StandardNote(
        "working_pressure_bar", f"Working pressure of {name}", figure, pressure.source
    )
    radius = tables.bend_radius(hose_type, dn)
    if radius:
        figure = f"{_plain(radius.bend_radius_mm)} mm"
        yield StandardNote("bend_radius_mm", f"Smallest bend of {name}", figure, radius.source)
    for row in tables.hose_temperatures():
        if row.type == hose_type:
            figure = f"{row.min_c} to {row.max_c} °C"
            yield StandardNote("temperature_high_c", f"With {row.fluid}", figure, row.source)
    wide = tables.diameters(hose_type, dn)
    if wide:
        figure = f"{_plain(wide.reinforcement_min_mm)} to {_plain(wide.reinforcement_max_mm)} mm"
        yield StandardNote(
            "reinforcement_diameter_mm", "Over the reinforcement", figure, wide.source
        )
        yield StandardNote(
            "outside_diameter_mm", "Outside, at most", f"{_plain(wide.outside_max_mm)} mm",
            wide.source,
        )  # fmt: skip


def _plain(number: Decimal) -> str:
    return f"{number.normalize():f}"
