"""Tables from outside and to outside: CSV and XLSX, hostile files refused. No Django here."""

from .cells import BLANK, Cell, CellKind, Merged, Row, cell_name, column_index, column_letter
from .errors import EncodingAsked, EncodingReading, TableRefused
from .reading import Sheet, TableFile, open_table
from .writing import WrittenValue, guarded, without_guard, write_csv, write_xlsx

__all__ = [
    "BLANK",
    "Cell",
    "CellKind",
    "EncodingAsked",
    "EncodingReading",
    "Merged",
    "Row",
    "Sheet",
    "TableFile",
    "TableRefused",
    "WrittenValue",
    "cell_name",
    "column_index",
    "column_letter",
    "guarded",
    "open_table",
    "without_guard",
    "write_csv",
    "write_xlsx",
]
