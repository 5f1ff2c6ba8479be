"""The due list as a CSV file: one row a hose, the same figures as the page."""

from collections.abc import Iterable, Iterator

from fleet.tabular.writing import WrittenValue, write_csv
from scheduling.queries.due_list import DueLine

HEADS = (
    *("site", "machine", "class", "place", "circuit", "if it fails", "own tag", "owner's mark"),
    *("hose", "standing", "due", "what is due", "what binds", "replace early", "replace by"),
    *("replace late", "inspect by", "certain"),
)
BATCH = 500
STANDING_WORDS = {
    "out": "take out now",
    "over": "overdue",
    "soon": "falls due",
    "fine": "in date",
    "undated": "no date known",
}


def due_csv(lines: Iterable[DueLine]) -> Iterator[bytes]:
    """The due list as a file, piece by piece."""
    return csv_pieces(HEADS, (_cells(line) for line in lines))


def csv_pieces(
    heads: tuple[WrittenValue, ...], rows: Iterable[tuple[WrittenValue, ...]]
) -> Iterator[bytes]:
    """A file piece by piece: the heads, then the rows; only the first carries the mark of UTF-8."""
    batch: list[tuple[WrittenValue, ...]] = [heads]
    first = True
    for row in rows:
        batch.append(row)
        if len(batch) >= BATCH:
            yield _piece(batch, first)
            batch, first = [], False
    if batch:
        yield _piece(batch, first)


def _cells(line: DueLine) -> tuple[WrittenValue, ...]:
    return (
        line.site_code,
        line.machine,
        line.class_name,
        line.place,
        line.circuit,
        line.consequence,
        line.tag,
        line.owner_mark,
        line.words,
        STANDING_WORDS[line.standing],
        line.due_on,
        line.what,
        line.binds,
        line.replace_early_on,
        line.replace_on,
        line.replace_late_on,
        line.inspect_on,
        "no" if line.uncertain else "yes",
    )


def _piece(rows: list[tuple[WrittenValue, ...]], first: bool) -> bytes:
    written = write_csv(rows)
    return written if first else written.removeprefix(b"\xef\xbb\xbf")
