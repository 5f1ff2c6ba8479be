"""Tables written as lines of text, and read as a register is."""

import datetime as dt
import io
from collections.abc import Mapping, Sequence
from typing import Any

import openpyxl

from assemblies.calc.register.entries import LeftOut, RegisterEntry, RowRefused
from assemblies.calc.register.understanding import (
    Chosen,
    ReadRegister,
    Understood,
    read_register,
    understand,
)
from fleet.tabular import TableFile, open_table

TODAY = dt.date(2024, 3, 20)


def csv_table(*lines: str) -> TableFile:
    return open_table("\n".join(lines).encode(), name="register.csv")


def xlsx_table(
    rows: Sequence[Sequence[Any]], *, merged: Sequence[str] = (), formats: Mapping[str, str] = {}
) -> TableFile:
    book = openpyxl.Workbook()
    sheet = book.active
    for row in rows:
        sheet.append(list(row))
    for name, number_format in formats.items():
        sheet[name].number_format = number_format
    for block in merged:
        sheet.merge_cells(block)
    out = io.BytesIO()
    book.save(out)
    return open_table(out.getvalue(), name="register.xlsx")


def read(table: TableFile, answers: Mapping[str, str] = {}, **chosen: Any) -> ReadRegister:
    return read_register(table, found(table, **chosen), answers, TODAY)


def found(table: TableFile, **chosen: Any) -> Understood:
    return understand(table, Chosen(**chosen))


def entries(register: ReadRegister) -> list[RegisterEntry]:
    return [row for row in register.rows if isinstance(row, RegisterEntry)]


def refused(register: ReadRegister) -> list[RowRefused]:
    return [row for row in register.rows if isinstance(row, RowRefused)]


def left_out(register: ReadRegister) -> list[LeftOut]:
    return [row for row in register.rows if isinstance(row, LeftOut)]


def only(rows: Sequence[Any]) -> Any:
    assert len(rows) == 1, rows
    return rows[0]


def one_cell(
    header: str, value: Any, answers: Mapping[str, str] = {}, number_format: str = ""
) -> ReadRegister:
    """A register of one hose whose last column holds the value."""
    rows = [["Machine", "Position", "Tag", header], ["EX-07", "Boom", "H1", value]]
    if isinstance(value, str):
        return read(csv_table("Machine;Position;Tag;" + header, f"EX-07;Boom;H1;{value}"), answers)
    return read(xlsx_table(rows, formats={"D2": number_format} if number_format else {}), answers)
