"""CSV, streamed: its letters, its delimiter, its rows."""

import codecs
import csv
import io
from collections import Counter
from collections.abc import Iterator
from itertools import islice

from .bounds import BOUNDS, Bounds
from .cells import BLANK, NOTHING_COVERED, Cell, Row, is_error_text
from .errors import EncodingAsked, EncodingReading, TableRefused
from .sources import Source
from .writing import without_guard

DELIMITERS = {",": "comma", ";": "semicolon", "\t": "tab", "|": "upright stroke"}
ENCODINGS = {
    "cp1252": "Western European",
    "cp1250": "Central European",
    "cp1251": "Cyrillic",
    "cp1253": "Greek",
    "cp1254": "Turkish",
}
_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF32_LE, ""),
    (codecs.BOM_UTF32_BE, ""),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
_PIECE = 1_000_000
_SNIFFED_ROWS = 200
_KEPT_CELLS = 200_000


def csv_encoding(source: Source, declared: str | None, bounds: Bounds = BOUNDS) -> str:
    """The table of letters: from the byte-order mark, else UTF-8, else as declared, else asked."""
    if source.size > bounds.csv_bytes:
        raise TableRefused(
            "file_size",
            f"The file has {source.size / 1e6:,.0f} MB; at most {bounds.csv_bytes / 1e6:,.0f} MB "
            "of CSV are read. Split it in two.",
        )
    head = source.head(4)
    marked = next((name for mark, name in _MARKS if head.startswith(mark)), None)
    if marked == "":
        raise TableRefused("encoding", "The text is UTF-32. Save it again as “CSV UTF-8”.")
    encoding = marked or "utf-8"
    broken = _first_broken_line(source, encoding)
    if broken is None:
        return encoding
    if marked:
        raise TableRefused(
            "encoding", f"The text breaks off in the middle of a letter in line {broken[0]}."
        )
    return _declared(source, declared, *broken)


def _first_broken_line(source: Source, encoding: str) -> tuple[int, bytes] | None:
    """The first line that can't be read with an encoding, and its bytes. NUL is refused here."""
    decoder = codecs.getincrementaldecoder(encoding)()
    lines, last = 1, b""
    with source.open() as stream:
        while piece := stream.read(_PIECE):
            try:
                text = decoder.decode(piece)
            except UnicodeDecodeError as error:
                return _broken_line(lines, last, error)
            if "\0" in text:
                raise _nul(lines + text[: text.index("\0")].count("\n"))
            lines += text.count("\n")
            last = piece[-4:]
    try:
        decoder.decode(b"", True)
    except UnicodeDecodeError as error:
        return _broken_line(lines, last, error)
    return None


def _broken_line(lines: int, _last: bytes, error: UnicodeDecodeError) -> tuple[int, bytes]:
    given = bytes(error.object)
    start = given.rfind(b"\n", 0, error.start) + 1
    end = given.find(b"\n", error.start)
    line = given[start : end if end >= 0 else len(given)]
    return lines + given[: error.start].count(b"\n"), line[:300]


def _declared(source: Source, declared: str | None, line_number: int, line: bytes) -> str:
    if declared is None:
        readings = tuple(
            EncodingReading(name, label, line.decode(name, "replace").strip())
            for name, label in ENCODINGS.items()
        )
        raise EncodingAsked(line_number, readings)
    if declared not in ENCODINGS:
        raise TableRefused(
            "encoding",
            f"“{declared[:40]}” is not one of the tables of letters read here: "
            f"{', '.join(ENCODINGS)}.",
        )
    broken = _first_broken_line(source, declared)
    if broken is not None:
        raise TableRefused(
            "encoding",
            f"Line {broken[0]} holds a letter that {declared} does not have: it must be another "
            "table of letters.",
        )
    return declared


def csv_delimiter(source: Source, encoding: str, bounds: Bounds = BOUNDS) -> tuple[str, bool]:
    """The delimiter that cuts the first lines most evenly, and whether a first line names it."""
    lines = list(islice(_lines(source, encoding, bounds), _SNIFFED_ROWS))
    first = lines[0].strip() if lines else ""
    if first.lower().startswith("sep=") and first[4:5] in DELIMITERS and len(first) == 5:
        return first[4], True
    if lines and lines[0].rstrip("\r\n").lower() == "sep=\t":
        return "\t", True
    scores = {delimiter: _evenness(lines, delimiter) for delimiter in DELIMITERS}
    return max(scores, key=lambda delimiter: scores[delimiter]), False


def _evenness(lines: list[str], delimiter: str) -> tuple[bool, float]:
    """How well a delimiter cuts the lines: the commonest width above one, and how common.

    One row of that width should be made of words (it is the header): that tells the comma
    between columns from the comma within numbers.
    """
    if not any(delimiter in line for line in lines):
        return False, 0.0
    try:
        rows = [row for row in csv.reader(lines, delimiter=delimiter) if row]
    except csv.Error:
        return False, 0.0
    widths = Counter(len(row) for row in rows if len(row) > 1)
    if not widths:
        return False, 0.0
    width, count = max(widths.items(), key=lambda item: (item[1], item[0]))
    of_words = any(_words_in(row) >= 0.75 * width for row in rows if len(row) == width)
    return of_words, count / len(rows) * (width - 1)


def _words_in(row: list[str]) -> int:
    return sum(any(sign.isalpha() for sign in text) for text in row)


def csv_rows(
    source: Source,
    encoding: str,
    delimiter: str,
    *,
    skip_first: bool = False,
    bounds: Bounds = BOUNDS,
) -> Iterator[Row]:
    """Yield each record as a row, numbered as a spreadsheet program would number it."""
    lines = _lines(source, encoding, bounds)
    if skip_first:
        next(lines, None)
    records = csv.reader(lines, delimiter=delimiter, strict=True)
    known: dict[str, Cell] = {"": BLANK}
    number = 0
    begins = 1
    try:
        for record in records:
            number += 1
            if number > bounds.csv_rows or len(record) > bounds.columns:
                raise _too_large(number, len(record), bounds)
            cells = tuple([known.get(text) or _cell(text, known, bounds) for text in record])
            yield Row(number, cells, NOTHING_COVERED)
            begins = records.line_num + 1
    except csv.Error as error:
        raise TableRefused(
            "quotes",
            f"The row that begins in line {begins + skip_first} has a quote mark that is not "
            "closed, or text after a closing one. A quote mark inside a quoted text is written "
            'twice: "3/4"" hose".',
        ) from error


def _cell(text: str, known: dict[str, Cell], bounds: Bounds) -> Cell:
    """A new cell, kept for the next time the text comes."""
    cell = _new_cell(text, bounds)
    if len(known) < _KEPT_CELLS:
        known[text] = cell
    return cell


def _new_cell(text: str, bounds: Bounds) -> Cell:
    if len(text) > bounds.cell_chars:
        raise TableRefused(
            "cell_size",
            f"A cell holds {len(text):,} characters (“{text[:40]}…”); a cell may hold "
            f"{bounds.cell_chars:,}. A quote mark may be missing.",
        )
    plain = without_guard(text) if text.startswith("'") else text
    stripped = plain.strip()
    if not stripped:
        return BLANK
    if is_error_text(stripped):
        return Cell(stripped, "error")
    return Cell(plain, "text", plain)


def _lines(source: Source, encoding: str, bounds: Bounds) -> Iterator[str]:
    with (
        source.open() as stream,
        io.TextIOWrapper(stream, encoding=encoding, newline="") as text,
    ):
        while line := text.readline(bounds.line_chars):
            if len(line) == bounds.line_chars:
                raise TableRefused(
                    "line_size",
                    f"A line holds more than {bounds.line_chars:,} characters: this is not a table "
                    "with a row on each line.",
                )
            yield line


def _too_large(number: int, columns: int, bounds: Bounds) -> TableRefused:
    if columns > bounds.columns:
        return TableRefused(
            "columns",
            f"Row {number} has {columns:,} columns; a register may have {bounds.columns}. Delete "
            "the columns that are not about hoses.",
        )
    return TableRefused(
        "rows", f"The file has more than {bounds.csv_rows:,} rows. Split it in two."
    )


def _nul(line_number: int) -> TableRefused:
    return TableRefused(
        "nul",
        f"Line {line_number} holds a NUL, which no text has: the file is damaged, or it is not "
        "text. Save it again as “CSV UTF-8”.",
    )
