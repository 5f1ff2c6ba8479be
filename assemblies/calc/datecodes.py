"""Dates and date codes of hoses and assemblies: everything there is to read them with."""

from assemblies.calc.date_patterns import Order
from assemblies.calc.date_reading import parse_assembly_mark, parse_day, pattern_examples
from assemblies.calc.day_ranges import (
    AmbiguousDate,
    DateError,
    DayRange,
    FutureDate,
    NoSuchDay,
    Precision,
)
from assemblies.calc.laylines import Layline, parse_layline

__all__ = [
    "AmbiguousDate",
    "DateError",
    "DayRange",
    "FutureDate",
    "Layline",
    "NoSuchDay",
    "Order",
    "Precision",
    "parse_assembly_mark",
    "parse_day",
    "parse_layline",
    "pattern_examples",
]
