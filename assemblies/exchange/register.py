"""The refused rows of a register as a file of their own, the reason in a last column."""

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Literal

from assemblies.calc.register.entries import LeftOut, ReadRow
from assemblies.calc.register.fields import Field
from assemblies.calc.register.understanding import Understood
from assemblies.calc.register.words import SAME_AS_ABOVE
from fleet.tabular import Cell, Row, TableFile, WrittenValue, write_csv, write_xlsx
from fleet.tabular.cells import BLANK

Form = Literal["csv", "xlsx"]
REASON = "Why it was refused"


def refused_rows_file(
    table: TableFile,
    found: Understood,
    rows: Sequence[ReadRow],
    refused: Mapping[int, str],
    *,
    form: Form,
) -> bytes:
    """The refused rows as they stood, under the header's names, each with its reason at the end.

    A machine that stood in a merged cell, or once above its hoses, is written into each row: the
    file can be mended and sent again by itself. Texts are texts in XLSX; in CSV what a program
    would run is guarded by `'`, which is taken off again when the file is read.
    """
    machines = {
        row.row_number: row.machine for row in rows if not isinstance(row, LeftOut) and row.machine
    }
    machine_at = next((c.index for c in found.columns if c.field is Field.MACHINE), None)
    kept: list[tuple[int, list[WrittenValue]]] = []
    above: dict[int, Cell] = {}
    for row in table.rows(found.sheet or None):
        cells = [_cell(row, at, above) for at in range(len(row.cells))]
        if row.number in refused and row.number > found.header.last_row:
            values = [_plain(cell) for cell in cells]
            values += [None] * (len(found.header.texts) - len(values))
            if machine_at is not None and values[machine_at] is None:
                values[machine_at] = machines.get(row.number)
            kept.append((row.number, values))
    # A row with too many cells keeps them all: the reasons stand to the right of the longest.
    width = max([len(found.header.texts), *(len(values) for _, values in kept)])
    lines = [[*_wide(found.header.texts, width), REASON]]
    lines += [[*_wide(values, width), refused[number]] for number, values in kept]
    return write_csv(lines) if form == "csv" else write_xlsx(lines, sheet_name="Refused rows")


def _wide(values: Sequence[WrittenValue], width: int) -> list[WrittenValue]:
    return [*values, *([None] * (width - len(values)))]


def _cell(row: Row, column: int, above: dict[int, Cell]) -> Cell:
    """The cell as it is meant: that of a block merged over it, or the one it says is above."""
    cell = row.cells[column]
    if cell.kind == "blank":
        block = row.covered.get(column)
        return block.cell if block is not None and block.left == column else BLANK
    if cell.kind == "text" and cell.text.strip().casefold() in SAME_AS_ABOVE:
        return above.get(column, cell)
    above[column] = cell
    return cell


def _plain(cell: Cell) -> WrittenValue:
    if cell.kind == "blank":
        return None
    if cell.kind in ("day", "moment") or (cell.kind == "number" and not cell.format):
        value = cell.value
        return value if isinstance(value, Decimal) or not isinstance(value, bool) else cell.text
    return cell.text
