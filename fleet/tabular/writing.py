"""Tables out: XLSX whose texts stay texts, CSV that no spreadsheet program runs."""

import csv
import datetime as dt
import io
import re
from collections.abc import Iterable, Sequence
from decimal import Decimal
from typing import Any

from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell
from openpyxl.styles import Font
from openpyxl.utils import get_column_letter

WrittenValue = str | int | Decimal | dt.date | dt.datetime | None

# What a spreadsheet program would take for a formula, full-width forms with it. A text that
# already looks guarded is guarded once more, so that reading gives back what was written.
_RISKY = re.compile(r"'*[=+\-@\t\r＝＋－＠]")
_PLAIN_NUMBER = re.compile(r"[+-]?(?:\d+(?:[.,]\d+)*|[.,]\d+)(?:[eE][+-]?\d+)?\Z")
_UNWRITABLE = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\ud800-\udfff\ufffe\uffff]")
_LOOKS_ESCAPED = re.compile("_(?=x[0-9A-Fa-f]{4}_)")
_LONGEST_CELL = 32_767


def write_csv(rows: Iterable[Sequence[WrittenValue]]) -> bytes:
    """The rows as UTF-8 with a mark, commas, quotes where needed, formulas guarded."""
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    for row in rows:
        writer.writerow([_csv_text(value) for value in row])
    return out.getvalue().encode("utf-8-sig")


def write_xlsx(
    rows: Iterable[Sequence[WrittenValue]], *, sheet_name: str = "Sheet", heads: int = 1
) -> bytes:
    """The rows as a workbook of one sheet; the first `heads` rows bold and kept in view."""
    book = Workbook(write_only=True)
    sheet = book.create_sheet(sheet_name[:31])
    sheet.freeze_panes = f"A{heads + 1}" if heads else None
    kept = list(rows)
    for at, width in enumerate(_widths(kept[:500]), 1):
        sheet.column_dimensions[get_column_letter(at)].width = width
    for number, row in enumerate(kept):
        sheet.append([_xlsx_cell(sheet, value, bold=number < heads) for value in row])
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def guarded(text: str) -> str:
    """The text with `'` before it where a spreadsheet program would take it for a formula.

    >>> guarded("=1+1"), guarded("-8"), guarded("-8 hose")
    ("'=1+1", '-8', "'-8 hose")
    """
    return f"'{text}" if _is_risky(text) else text


def without_guard(text: str) -> str:
    """The text as it was before `guarded`: exactly that prefix is taken off.

    >>> without_guard("'=1+1"), without_guard("'quoted'")
    ('=1+1', "'quoted'")
    """
    return text[1:] if text.startswith("'") and _is_risky(text[1:]) else text


def _is_risky(text: str) -> bool:
    return _RISKY.match(text) is not None and _PLAIN_NUMBER.match(text) is None


def writable(text: str) -> str:
    """The text with each control character as the picture of it, which every program shows.

    >>> writable("a\\x07b")
    'a␇b'
    """
    return _UNWRITABLE.sub(_picture, text)


def _picture(found: re.Match[str]) -> str:
    code = ord(found[0])
    if code < 0x20:
        return chr(0x2400 + code)
    return "␡" if code == 0x7F else "\ufffd"


def _csv_text(value: WrittenValue) -> str:
    if isinstance(value, str):
        return guarded(writable(value))
    if isinstance(value, dt.datetime):
        return value.isoformat(" ", "seconds")
    if isinstance(value, Decimal):
        return f"{value:f}"
    return "" if value is None else str(value)


def _xlsx_cell(sheet: Any, value: WrittenValue, *, bold: bool) -> Any:
    if isinstance(value, dt.datetime):
        value = value.replace(tzinfo=None)
    cell = WriteOnlyCell(sheet, value=None if isinstance(value, str) else value)
    if isinstance(value, str):
        text = _LOOKS_ESCAPED.sub("_x005F_", writable(value.replace("\r\n", "\n")))
        cell.value = text.replace("\r", "\n")[:_LONGEST_CELL]
        cell.data_type = "s"
    elif isinstance(value, dt.datetime):
        cell.number_format = "yyyy-mm-dd hh:mm"
    elif isinstance(value, dt.date):
        cell.number_format = "yyyy-mm-dd"
    if bold:
        cell.font = Font(bold=True)
    return cell


def _widths(rows: list[Sequence[WrittenValue]]) -> list[int]:
    count = max((len(row) for row in rows), default=0)
    longest = [8] * count
    for row in rows:
        for at, value in enumerate(row):
            longest[at] = min(60, max(longest[at], len(str(value or "")) + 2))
    return longest
