"""The cited tables of the trade, typed. Every row carries its source; none is a recommendation.

A figure here is a standard's print and nothing more: the maker's data override it always.
"""

from collections.abc import Mapping
from functools import cache

from assemblies.standards.rows import (
    AgeLimit,
    AngleTolerance,
    BendRadius,
    ConfusableThread,
    EndRating,
    FlangeHead,
    HoseDiameters,
    HosePressure,
    HoseType,
    LengthChange,
    LengthTolerance,
    PrintedTest,
    SizeRow,
    TemperatureRange,
    ThreadRow,
    TubeSizeRow,
)
from assemblies.standards.sources import Row, Source, read_table


@cache
def sizes() -> tuple[SizeRow, ...]:
    """Nominal sizes, smallest first."""
    return tuple(_size(row) for row in read_table("sizes.csv"))


@cache
def tube_sizes() -> tuple[TubeSizeRow, ...]:
    """Sizes of 100R5 and 100R14 hose, smallest first."""
    return tuple(
        TubeSizeRow(row.whole("dash"), row.whole("dn"), row.text("bore_inch"), row.source)
        for row in read_table("tube_sizes.csv")
    )


@cache
def hose_types() -> tuple[HoseType, ...]:
    """Hose types known by name; some have figures from the maker's data only."""
    return tuple(
        HoseType(
            row.text("type"),
            tuple(row.text("names").split()),
            row.text("reinforcement"),
            row.whole_or_none("layers"),
            row.source,
        )
        for row in read_table("hose_types.csv")
    )


@cache
def hose_pressures() -> tuple[HosePressure, ...]:
    """Working pressures by type and size."""
    return tuple(
        HosePressure(*_type_and_dn(row), row.decimal("working_pressure_bar"), row.source)
        for row in read_table("hose_pressures.csv")
    )


@cache
def hose_bend_radii() -> tuple[BendRadius, ...]:
    """Smallest bend radii by type and size."""
    return tuple(
        BendRadius(*_type_and_dn(row), row.decimal("bend_radius_mm"), row.source)
        for row in read_table("hose_bend_radii.csv")
    )


@cache
def hose_test_pressures() -> tuple[PrintedTest, ...]:
    """Proof and burst pressures as printed."""
    return tuple(
        PrintedTest(*_type_and_dn(row), row.text("test"), row.decimal("printed_bar"), row.source)
        for row in read_table("hose_test_pressures.csv")
    )


@cache
def hose_diameters() -> tuple[HoseDiameters, ...]:
    """Reinforcement and outside diameters."""
    return tuple(
        HoseDiameters(
            *_type_and_dn(row),
            row.decimal("reinforcement_min_mm"),
            row.decimal("reinforcement_max_mm"),
            row.decimal("outside_max_mm"),
            row.source,
        )
        for row in read_table("hose_diameters.csv")
    )


@cache
def hose_temperatures() -> tuple[TemperatureRange, ...]:
    """Temperature ranges by type and fluid."""
    return tuple(
        TemperatureRange(
            row.text("type"), row.text("fluid"), row.whole("min_c"), row.whole("max_c"), row.source
        )
        for row in read_table("hose_temperatures.csv")
    )


@cache
def length_changes() -> tuple[LengthChange, ...]:
    """Length changes at working pressure by type."""
    return tuple(
        LengthChange(
            row.text("type"), row.decimal("shortest_pct"), row.decimal("longest_pct"), row.source
        )
        for row in read_table("length_changes.csv")
    )


@cache
def end_ratings() -> tuple[EndRating, ...]:
    """Working pressures of connection ends."""
    return tuple(
        EndRating(
            row.text("end"),
            row.text("size"),
            row.values["thread"] or None,
            row.decimal("working_pressure_bar"),
            row.source,
        )
        for row in read_table("end_ratings.csv")
    )


@cache
def length_tolerances() -> tuple[LengthTolerance, ...]:
    """Length tolerances of assemblies."""
    return tuple(
        LengthTolerance(
            row.whole("dn_from"),
            row.whole("dn_to"),
            row.decimal("over_mm"),
            row.decimal_or_none("up_to_mm"),
            row.decimal("plus"),
            row.decimal("minus"),
            row.one_of("unit", "mm", "percent") == "percent",
            row.source,
        )
        for row in read_table("length_tolerances.csv")
    )


@cache
def angle_tolerances() -> tuple[AngleTolerance, ...]:
    """Tolerances of the angle between two ends."""
    return tuple(
        AngleTolerance(
            row.decimal("over_mm"),
            row.decimal_or_none("up_to_mm"),
            row.decimal("plus_minus_deg"),
            row.source,
        )
        for row in read_table("angle_tolerances.csv")
    )


@cache
def age_presets() -> tuple[AgeLimit, ...]:
    """Limits of the named age presets; a site chooses a preset and may edit its copy."""
    return tuple(
        AgeLimit(
            row.text("preset"),
            row.text("title"),
            row.one_of("limit", "reel_age_at_build", "storage", "life", "inspection"),
            row.whole("value"),
            row.one_of("unit", "years", "months", "quarters"),
            row.one_of("counts_from", "hose_made", "built", "fitted", "inspected"),
            row.source,
        )
        for row in read_table("age_presets.csv")
    )


@cache
def confusable_threads() -> tuple[ConfusableThread, ...]:
    """Ends that go together and must not."""
    return tuple(
        ConfusableThread(
            row.text("thread"), row.text("first"), row.text("second"), row.text("why"), row.source
        )
        for row in read_table("confusable_threads.csv")
    )


@cache
def threads() -> tuple[ThreadRow, ...]:
    """Threads of connection ends."""
    return tuple(
        ThreadRow(
            row.text("end"),
            row.text("size"),
            row.text("thread"),
            row.decimal("major_mm"),
            row.decimal("pitch_mm"),
            row.decimal_or_none("threads_per_inch"),
            row.decimal_or_none("tube_mm"),
            row.one_of("seat", "24", "30", "37", "45", "60", "flat", "thread"),
            row.one_of("tapered", "yes", "no") == "yes",
            row.source,
        )
        for row in read_table("threads.csv")
    )


@cache
def flange_heads() -> tuple[FlangeHead, ...]:
    """Four-bolt flange heads."""
    return tuple(
        FlangeHead(
            row.text("end"),
            row.text("size"),
            row.decimal("head_mm"),
            row.decimal("spacing_mm"),
            row.source,
        )
        for row in read_table("flange_heads.csv")
    )


def hose_pressure(hose_type: str, dn: int) -> HosePressure | None:
    """Find the printed working pressure of a type and size; None where none is printed.

    >>> hose_pressure("2SN", 12).working_pressure_bar
    Decimal('275')
    """
    return next((r for r in hose_pressures() if (r.type, r.dn) == (hose_type, dn)), None)


def bend_radius(hose_type: str, dn: int) -> BendRadius | None:
    """Find the printed bend radius of a type and size; None where none is printed.

    >>> bend_radius("2SN", 12).bend_radius_mm
    Decimal('180')
    """
    return next((r for r in hose_bend_radii() if (r.type, r.dn) == (hose_type, dn)), None)


def diameters(hose_type: str, dn: int) -> HoseDiameters | None:
    """Find the printed diameters of a type and size; None where none are printed."""
    return next((r for r in hose_diameters() if (r.type, r.dn) == (hose_type, dn)), None)


def end_rating(end: str, size: str) -> EndRating | None:
    """Find the printed working pressure of an end; None where none is printed.

    >>> end_rating("24° cone L", "22").working_pressure_bar
    Decimal('160')
    """
    return next((r for r in end_ratings() if (r.end, r.size) == (end, size)), None)


def sources_by_table() -> Mapping[str, tuple[Source, ...]]:
    """Every source of every table, by the table's name."""
    return {name: tuple(row.source for row in read_table(f"{name}.csv")) for name in TABLES}


def unverified_counts() -> Mapping[str, int]:
    """Count the rows of each table that nothing but their own source stands behind.

    >>> unverified_counts()["hose_diameters"]
    10
    """
    return {
        name: sum(source.is_unverified for source in found)
        for name, found in sources_by_table().items()
    }


TABLES = (
    "sizes",
    "tube_sizes",
    "hose_types",
    "hose_pressures",
    "hose_bend_radii",
    "hose_test_pressures",
    "hose_diameters",
    "hose_temperatures",
    "length_changes",
    "end_ratings",
    "length_tolerances",
    "angle_tolerances",
    "age_presets",
    "confusable_threads",
    "threads",
    "flange_heads",
)


def _size(row: Row) -> SizeRow:
    aliases = tuple(int(alias) for alias in row.values["aliases"].split())
    return SizeRow(
        row.whole("dn"),
        row.whole("dash"),
        row.text("inch"),
        row.decimal("bore_mm"),
        aliases,
        row.source,
    )


def _type_and_dn(row: Row) -> tuple[str, int]:
    return row.text("type"), row.whole("dn")
