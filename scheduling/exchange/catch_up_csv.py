"""A catch-up plan as CSV: every hose with its week, and its true age and date beside it."""

from collections.abc import Iterable, Iterator

from fleet.tabular.writing import WrittenValue, write_csv
from scheduling.queries.catch_up import PlannedHose

HEADER = (
    *("week of", "rank", "hose", "what it is", "machine", "place", "why then"),
    *("true age from", "counted from", "truly due", "due for", "done"),
)


def catch_up_csv(hoses: Iterable[PlannedHose]) -> bytes:
    """The file."""
    return write_csv(rows_of(hoses))


def rows_of(hoses: Iterable[PlannedHose]) -> Iterator[tuple[WrittenValue, ...]]:
    """The table's rows, the header first."""
    yield HEADER
    for hose in hoses:
        yield (
            hose.week_on,
            hose.rank + 1,
            hose.label,
            hose.words,
            hose.machine,
            hose.place,
            hose.why,
            hose.aged_from_on or "not known",
            hose.aged_from,
            hose.due_on or "no date",
            hose.due_what,
            "yes" if hose.done else "no",
        )
