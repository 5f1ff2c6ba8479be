"""The hoses of a trace or a recall as a CSV file: one row a hose, a list to act on."""

from collections.abc import Iterable, Iterator

from fleet.tabular.writing import WrittenValue
from scheduling.exchange.due_csv import STANDING_WORDS, csv_pieces
from scheduling.queries.recalls import RecalledLine
from scheduling.queries.traced import TracedLine

HEADS = (
    *("site", "where", "machine", "place", "if it fails", "own tag", "owner's mark", "hose"),
    *("standing", "due", "what is due"),
)
RECALL_HEADS = (*HEADS, "dealt with", "by whom", "how")


def traced_csv(lines: Iterable[TracedLine]) -> Iterator[bytes]:
    """The hoses that come from a source."""
    return csv_pieces(HEADS, (_cells(line) for line in lines))


def recalled_csv(lines: Iterable[RecalledLine]) -> Iterator[bytes]:
    """The hoses of a recall, with what was done about each."""
    return csv_pieces(RECALL_HEADS, (_recalled(line) for line in lines))


def _cells(line: TracedLine) -> tuple[WrittenValue, ...]:
    return (
        line.site_code,
        line.where,
        line.machine,
        line.place,
        line.consequence,
        line.tag,
        line.owner_mark,
        line.words,
        "scrapped" if line.standing is None else STANDING_WORDS[line.standing],
        line.due_on,
        line.what,
    )


def _recalled(line: RecalledLine) -> tuple[WrittenValue, ...]:
    settled = line.dealt_with_at.date() if line.dealt_with_at else "no"
    return (*_cells(line.hose), settled, line.dealt_with_by, line.how)
