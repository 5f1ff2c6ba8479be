"""Finding the header: beneath titles and blank rows, of one row or more, merged or not."""

from collections.abc import Sequence
from dataclasses import dataclass

from fleet.tabular import Cell, Row

from .columns import match_columns, match_header
from .folding import words_of

SEARCHED_ROWS = 60
_DEEPEST = 3
_FIELD = 10
_UNIT_WORDS = frozenset(
    [
        *("mm", "cm", "m", "in", "inch", "inches", "ft", "bar", "psi", "mpa", "kpa"),
        *("h", "hr", "hrs", "hours", "dn", "dash"),
    ]
)


@dataclass(frozen=True, slots=True)
class Header:
    """Where the names of the columns stand (rows counted from 1) and what they are."""

    first_row: int
    last_row: int
    texts: tuple[str, ...]
    known: int = 0  # ten for each field its names match, one for each unit


def find_header(rows: Sequence[Row]) -> Header | None:
    """Find the header among the first rows of a sheet.

    Parameters: rows, the first of the sheet (more than `SEARCHED_ROWS` are not looked at).
    Returns the block of one to three rows whose names match most fields, the first of equals;
    None where no row matches two. Never raises. Source: the project's own.

    >>> from fleet.tabular import open_table
    >>> table = open_table(b"Machine;Place;Size\\nEX-01;Boom;1/2\\n", name="register.csv")
    >>> header = find_header(list(table.rows(None)))
    >>> header.texts if header else ()
    ('Machine', 'Place', 'Size')
    """
    searched = rows[:SEARCHED_ROWS]
    best: Header | None = None
    for at, row in enumerate(searched):
        if row.is_blank:
            continue
        for depth in range(1, _DEEPEST + 1):
            block = searched[at : at + depth]
            if len(block) < depth or not _may_be_header(block):
                break
            header = header_of(block)
            # A deeper block must be better, or its lower row is no part of the header.
            if header.known >= 2 * _FIELD and (best is None or header.known > best.known):
                best = header
    return best


def header_of(block: Sequence[Row]) -> Header:
    """The header that a block of rows makes: the words over each column, from top to bottom."""
    width = max(_width(row) for row in block)
    texts = tuple(_over(block, column) for column in range(width))
    columns = match_columns(texts)
    known = {column.field for column in columns if column.field is not None}
    units = sum(bool(column.unit) for column in columns)
    return Header(block[0].number, block[-1].number, texts, _FIELD * len(known) + units)


def is_header_again(row: Row, header: Header) -> bool:
    """Whether a row repeats the header's names, as printed registers do on each page."""
    named = 0
    for at, cell in enumerate(row.cells):
        if cell.kind == "blank":
            continue
        text = header.texts[at] if at < len(header.texts) else ""
        if _begins_otherwise(cell.text, text):
            return False
        if not _repeats(words_of(cell.text), words_of(text)):
            return False
        named += 1
    return named >= 2


def _begins_otherwise(text: str, name: str) -> bool:
    """Told at once for most cells: its first letter is nowhere in the name above."""
    first = text[:1].lower()
    return first.isascii() and first.isalnum() and first not in name.lower()


def _repeats(words: str, name: str) -> bool:
    return bool(words) and (words == name or (len(words) > 2 and words in name))


def _width(row: Row) -> int:
    covered = max(row.covered, default=-1) + 1
    return max(len(row.cells), covered if covered <= len(row.cells) + 3 else len(row.cells))


def _may_be_header(block: Sequence[Row]) -> bool:
    """Words only: a header holds no dates and no numbers, and a title over all is none."""
    first = block[0]
    if sum(cell.kind == "text" for cell in first.cells) < 2 and len(block) > 1:
        return False
    return all(_words_only(row) for row in block) and _leads_on(block)


def _words_only(row: Row) -> bool:
    filled = [cell for cell in row.cells if cell.kind != "blank"]
    wordy = sum(_is_wordy(cell) for cell in filled)
    return bool(filled) and wordy >= 0.8 * len(filled)


def _is_wordy(cell: Cell) -> bool:
    return cell.kind == "text" and len(cell.text) <= 120 and any(s.isalpha() for s in cell.text)


def _leads_on(block: Sequence[Row]) -> bool:
    """Whether each further row is a second line of names or of units, not the first hose."""
    upper = block[0]
    for lower in block[1:]:
        filled = [(at, cell) for at, cell in enumerate(lower.cells) if cell.kind == "text"]
        if all(words_of(cell.text) in _UNIT_WORDS for _, cell in filled):
            continue
        beneath_merge = any(at in upper.covered or _starts_block(block, at) for at, _ in filled)
        named = sum(match_header(cell.text) is not None for _, cell in filled)
        fills_gaps = any(_text(upper, at) == "" for at, _ in filled)
        if not (beneath_merge or (fills_gaps and named) or named >= 0.5 * len(filled)):
            return False
    return True


def _starts_block(block: Sequence[Row], column: int) -> bool:
    """Whether the cell above starts a merged block that reaches further right."""
    covered = block[0].covered.get(column + 1)
    return covered is not None and covered.left == column and covered.top == block[0].number


def _over(block: Sequence[Row], column: int) -> str:
    parts: list[str] = []
    for row in block:
        text = " ".join(_text(row, column).split())
        if text and text not in parts:
            parts.append(text)
    return " ".join(parts)


def _text(row: Row, column: int) -> str:
    """The text over a column in a row, that of a merged block with it."""
    if column < len(row.cells) and row.cells[column].kind != "blank":
        return row.cells[column].text
    covering = row.covered.get(column)
    return covering.cell.text if covering is not None else ""
