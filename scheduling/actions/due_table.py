"""The dues' table as both databases' writers see it."""

from typing import Final

from scheduling.calc.inputs import NONE
from scheduling.models import Due, DueTally
from scheduling.queries.due_columns import STORED

TABLE: Final = Due._meta.db_table
TALLY: Final = DueTally._meta.db_table
COLUMNS: Final = tuple(f"{name}_id" if name in ("site", "machine") else name for name in STORED)
WITH_KEY: Final = ("assembly_id", *COLUMNS)
WITH_BEFORE: Final = (*WITH_KEY, "before")
MANY: Final = 1000  # from here on a table of new rows beside the old costs less than it saves


def as_stored(column: str, source: str) -> str:
    """SQL for a column's value from a source where `NONE` stands for empty."""
    field = Due._meta.get_field(column.removesuffix("_id"))
    value = f'{source}."{column}"'
    return f"NULLIF({value}, {NONE})" if getattr(field, "null", False) else value


SETTINGS: Final = ", ".join(f'"{column}" = {as_stored(column, "w")}' for column in COLUMNS)
MATCHING: Final = f'w."assembly_id" = {TABLE}."assembly_id" AND w."before" = {TABLE}."fingerprint"'
NAMES: Final = ", ".join(f'"{column}"' for column in WITH_KEY)
VALUES: Final = ", ".join(as_stored(column, "w") for column in WITH_KEY)
