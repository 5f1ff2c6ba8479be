"""Rows that are no hose: blank ones, totals, headings, remarks, the header again."""

import re
from collections.abc import Mapping

from fleet.tabular import Cell, Row

from .entries import LeftOut
from .fields import CARRIED_DOWN, Field
from .folding import words_of
from .header import Header, is_header_again
from .words import TOTALS

_TOTAL = re.compile(rf"(?:{'|'.join(TOTALS)})(?: .*)?")
_TOTAL_LETTERS = frozenset(word[0] for word in TOTALS)
_LONGEST_SHOWN = 80
_WIDE_BLOCK = 3
# A lone cell in one of these columns tells of no hose.
_NO_HOSE = CARRIED_DOWN | {Field.NOTE}


def left_out(row: Row, header: Header, fields: Mapping[int, Field]) -> LeftOut | None:
    """Say why a row is no hose, or None where it may be one.

    Parameters: row; header; fields, the field of each column that is read.
    A row with one filled cell is a heading or a remark where that cell lies over several
    columns, under no name, or tells of the machine only. Never raises.

    >>> from fleet.tabular import open_table
    >>> table = open_table(b"Machine;Place;Size\\n;;\\nEX-01;Boom;1/2\\n", name="register.csv")
    >>> _, _, hose = table.rows()
    >>> left_out(hose, Header(1, 1, ("Machine", "Place", "Size")), {})
    """
    filled = [(at, cell) for at, cell in enumerate(row.cells) if cell[1] != "blank"]
    if not filled:
        return LeftOut(row.number, "a blank row")
    first = filled[0][1]
    if _is_total(filled):
        return LeftOut(row.number, "a total, not a hose", _shown(first))
    if len(filled) == 1:
        at = filled[0][0]
        if _lies_over_several(row, at) or fields.get(at, Field.NOTE) in _NO_HOSE:
            return LeftOut(
                row.number, "a heading or a remark: nothing else stands in it", _shown(first)
            )
    if is_header_again(row, header):
        return LeftOut(row.number, "the header again", _shown(first))
    return None


def _is_total(filled: list[tuple[int, Cell]]) -> bool:
    if filled[0][1].kind != "text":
        return False
    text = filled[0][1].text
    if text[:1].isalnum() and text[0].lower() not in _TOTAL_LETTERS:
        return False
    if not _TOTAL.fullmatch(words_of(text)):
        return False
    return sum(cell.kind == "text" and not _is_figure(cell.text) for _, cell in filled) <= 2


def _is_figure(text: str) -> bool:
    return bool(re.fullmatch(r"[\d.,' ]+[a-z%]{0,6}", text.strip().lower()))


def _lies_over_several(row: Row, at: int) -> bool:
    covering = row.covered.get(at + 1)
    return (
        covering is not None
        and covering.left == at
        and covering.top == row.number
        and covering.right - covering.left + 1 >= _WIDE_BLOCK
    )


def _shown(cell: Cell) -> str:
    text = " ".join(cell.text.split())
    return text if len(text) <= _LONGEST_SHOWN else f"{text[:_LONGEST_SHOWN]}…"
