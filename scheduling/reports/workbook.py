"""The report as a workbook: the same figures, numbers as numbers, their formulas in words."""

import io
from collections.abc import Iterable, Sequence
from decimal import Decimal

from openpyxl import Workbook
from openpyxl.styles import Font
from openpyxl.worksheet.worksheet import Worksheet

from fleet.tabular.writing import writable
from scheduling.calc.report import Cell, Figure, ReportContent, Table

BOLD = Font(bold=True)


def report_workbook(content: ReportContent) -> bytes:
    """One sheet of figures, one a table, one of life studies. Texts stay texts."""
    book = Workbook()
    first = book.active
    assert isinstance(first, Worksheet)
    first.title = "Figures"
    _put(first, [[content.title], [content.scope], [content.period]], bold_rows=1)
    _put(first, [[f"Made on {content.made_on}"], *([said] for said in content.warnings), []])
    heads = ["Figure", "Value", "Unit", "Low, 95 %", "High, 95 %", "How", "Note"]
    _put(first, [heads], bold_rows=1)
    _put(first, (_figure(one, content.currency) for one in content.figures))
    for table in content.tables:
        _table(book.create_sheet(table.title[:31]), table)
    if content.studies:
        lines = [[study.title, said] for study in content.studies for said in study.says]
        _put(book.create_sheet("Life studies"), lines)
    for sheet in book.worksheets:
        _widen(sheet)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _figure(one: Figure, currency: str) -> list[Cell]:
    unit = currency if one.unit == "money" else one.unit
    told = " ".join(part for part in (one.why, one.note) if part)
    return [one.words, one.value, unit, one.low, one.high, one.formula, told]


def _table(sheet: Worksheet, table: Table) -> None:
    heads: list[Cell] = [
        f"{column.words}, {column.unit}" if column.unit else column.words
        for column in table.columns
    ]
    _put(sheet, [heads], bold_rows=1)
    _put(sheet, [list(row.cells) for row in table.rows] or [[table.empty]])


def _put(sheet: Worksheet, rows: Iterable[Sequence[Cell]], bold_rows: int = 0) -> None:
    at = sheet.max_row + 1 if sheet.max_row > 1 or sheet["A1"].value is not None else 1
    for down, row in enumerate(rows):
        for across, value in enumerate(row, 1):
            cell = sheet.cell(at + down, across)
            if isinstance(value, str):
                cell.value = writable(value)
                cell.data_type = "s"  # a text that begins with = stays a text
            elif isinstance(value, Decimal):
                cell.value = value
            if down < bold_rows:
                cell.font = BOLD


def _widen(sheet: Worksheet) -> None:
    for column in sheet.columns:
        letter = column[0].column_letter
        longest = max(
            (len(str(cell.value)) for cell in column if cell.value is not None), default=8
        )
        sheet.column_dimensions[letter].width = min(60, max(9, longest + 2))
