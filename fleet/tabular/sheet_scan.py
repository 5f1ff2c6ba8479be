"""The first look over a sheet's bytes: how far it reaches and what is merged.

No XML is parsed here: counting and searching raw bytes is quick whatever they hold. What
this look can't see (a comment that hides a cell, for one) the reading itself still checks.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import BinaryIO

from .bounds import BOUNDS, Bounds
from .cells import Merged, cell_name, column_index, column_letter
from .errors import TableRefused
from .xml_scan import hostile, pieces, refuse_doctype

# A cell with something in it: one whose tag is not closed at once. Atomic groups keep the search
# linear however often an attribute is repeated in one tag.
_FILLED = re.compile(
    rb"""(?><(?:\w+:)?c\s[^<>]*?\br=["']([A-Z]{1,3})([0-9]{1,9})["'])"""
    rb"""[^<>]*+(?<!/)>(?!\s{0,9}</(?:\w{1,9}:)?c>)"""
)
_MERGE = re.compile(rb"""(?><(?:\w+:)?mergeCell\s[^<>]*?\bref=["']([^"'<>]{0,60})["'])""")
_RANGE = re.compile(r"\$?([A-Z]{1,3})\$?([0-9]{1,7})(?::\$?([A-Z]{1,3})\$?([0-9]{1,7}))?\Z")
# More bytes than this without a tag's beginning are no sheet: a cell's text is shorter.
_LONGEST_GAP = 400_000
_PIECES_AT_ONCE = 16


@dataclass(frozen=True)
class Extent:
    """What is merged in a sheet, by the blocks' first rows, and how many its filled cells are."""

    cells: int
    merges: tuple[Merged, ...]


class SheetTooLarge(TableRefused):
    """One sheet is beyond the bounds; other sheets of the same file may be read."""


def scan_sheet(stream: BinaryIO, sheet_name: str, bounds: Bounds = BOUNDS) -> Extent:
    """Refuse a sheet that is hostile or too large; else return what is merged in it."""
    elements = cells = 0
    columns: dict[bytes, int] = {}
    merges: list[Merged] = []
    for text in _windows(stream):
        elements += text.count(b"<") - text.count(b"</")
        if elements > bounds.elements:
            raise sheet_too_large(sheet_name, "holds too many cells", bounds)
        _check_markup(text)
        found = _FILLED.findall(text)
        cells += len(found)
        _check_reach(found, columns, cells, sheet_name, bounds)
        merges += [_block(ref, sheet_name, bounds) for ref in _MERGE.findall(text)]
        if len(merges) > bounds.merges:
            raise _too_many_merges(sheet_name, bounds)
    return Extent(cells, _disjoint(sorted(merges), sheet_name))


def _windows(stream: BinaryIO) -> Iterator[bytes]:
    """Pieces of about a megabyte that begin and end between tags."""
    held: list[bytes] = []
    for number, piece in enumerate(pieces(stream), 1):
        if number == 1 and piece[:2] in (b"\xff\xfe", b"\xfe\xff"):
            raise hostile("letters of another width")
        held.append(piece)
        if number % _PIECES_AT_ONCE:
            continue
        text = b"".join(held)
        cut = text.rfind(b"<", 0, max(text.rfind(b"<"), 0))
        if cut < len(text) - _LONGEST_GAP:
            raise hostile("a tag or a text of endless length")
        held = [text[cut:]]
        yield text[:cut]
    yield b"".join(held)


def _check_markup(text: bytes) -> None:
    if b"<!DOCTYPE" in text or b"<!ENTITY" in text:
        refuse_doctype()
    if text.count(b"<") - text.count(b">") > 1:
        raise hostile("tags that are never closed")


def _check_reach(
    found: list[tuple[bytes, bytes]],
    columns: dict[bytes, int],
    cells: int,
    sheet_name: str,
    bounds: Bounds,
) -> None:
    for letters in {letters for letters, _ in found} - columns.keys():
        columns[letters] = column_index(letters.decode())
    far = max((columns[letters] for letters, _ in found), default=0) >= bounds.columns
    deep = bool(found) and int(found[-1][1]) > bounds.rows
    if cells > bounds.cells:
        raise sheet_too_large(sheet_name, f"has more than {bounds.cells:,} filled cells", bounds)
    if far or deep:
        name = next(
            cell_name(columns[letters], int(row))
            for letters, row in found
            if columns[letters] >= bounds.columns or int(row) > bounds.rows
        )
        raise sheet_too_large(sheet_name, f"has something in cell {name}", bounds)


def sheet_too_large(sheet_name: str, found: str, bounds: Bounds = BOUNDS) -> SheetTooLarge:
    return SheetTooLarge(
        "sheet_size",
        f"The sheet “{sheet_name}” {found}. At most {bounds.rows:,} rows and "
        f"{bounds.columns} columns (to {column_letter(bounds.columns - 1)}) of a workbook are "
        "read: delete what stands beyond, or save the sheet as CSV, which may be longer.",
    )


def _block(ref: bytes, sheet_name: str, bounds: Bounds) -> Merged:
    found = _RANGE.match(ref.decode("ascii", "replace"))
    if found is None:
        raise disordered(sheet_name)
    left, top = column_index(found[1]), int(found[2])
    right, bottom = column_index(found[3] or found[1]), int(found[4] or found[2])
    area = (right - left + 1) * (bottom - top + 1)
    if top < 1 or right < left or bottom < top:
        raise disordered(sheet_name)
    if area > bounds.merged_area:
        raise TableRefused(
            "merged_area",
            f"The sheet “{sheet_name}” merges {found[0]} into one cell: {area:,} cells. "
            "Undo that merge and save the workbook again.",
        )
    return Merged(top, left, bottom, right)


def _too_many_merges(sheet_name: str, bounds: Bounds) -> TableRefused:
    return TableRefused(
        "merges",
        f"The sheet “{sheet_name}” has more than {bounds.merges:,} merged blocks. Undo the "
        "merging, or save the sheet as CSV.",
    )


def _disjoint(ordered: list[Merged], sheet_name: str) -> tuple[Merged, ...]:
    """The blocks, made sure that none lies over another: a column has one open block at a time."""
    busy_to: dict[int, int] = {}
    for block in ordered:
        for column in range(block.left, min(block.right, BOUNDS.columns) + 1):
            if busy_to.get(column, 0) >= block.top:
                raise TableRefused(
                    "merges",
                    f"The sheet “{sheet_name}” has merged blocks that lie over each other (near "
                    f"{cell_name(block.left, block.top)}). Undo them and save the workbook again.",
                )
            busy_to[column] = block.bottom
    return tuple(ordered)


def disordered(sheet_name: str) -> TableRefused:
    return TableRefused(
        "disordered",
        f"The sheet “{sheet_name}” is damaged: its rows or cells are not in order. Open it in a "
        "spreadsheet program and save it again.",
    )
