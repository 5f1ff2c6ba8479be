"""One hose and its rules from dates and words, for tests that read like a record card."""

import datetime as dt
from typing import Any

import numpy as np

from scheduling.calc.due import NONE, DueInputs, DueTable, Exemptions, Place, RuleTable, due_table

EPOCH = dt.date(1970, 1, 1)


def _number(value: Any) -> Any:
    if value is None:
        return NONE
    return (value - EPOCH).days if isinstance(value, dt.date) else int(value)


def _rows(kind: Any, rows: Any, usual: Any) -> Any:
    known = kind.names()
    for row in rows:
        assert set(row) <= set(known), set(row) - set(known)
    filled = [[_number({**usual, **row}.get(name)) for name in known] for row in rows]
    return kind.from_rows(np.array(filled, dtype=np.int64))


def hoses(*rows: Any) -> Any:
    """Fitted hoses of machines that never ran, unless said otherwise."""
    usual = {"assembly": 1, "place": Place.FITTED, "known_from_on": dt.date(2026, 1, 1)}
    for name in ("earlier_tenths", "earlier_missing", "rate_low_milli", "rate_milli"):
        usual[name] = 0
    return _rows(DueInputs, rows, {**usual, "rate_high_milli": 0, "class_rate_milli": 0})


def rules(*rows: Any) -> Any:
    return _rows(RuleTable, [{"rule": i, **row} for i, row in enumerate(rows, 1)], {})


def exemptions(*rows: Any) -> Any:
    return _rows(Exemptions, rows, {"triggers": 0})


def table_of(hose: Any, *rule_rows: Any, exempt: Any = ()) -> DueTable:
    return due_table(hoses(hose), rules(*rule_rows), exemptions(*exempt))


def dates_of(hose: Any, *rule_rows: Any, exempt: Any = ()) -> Any:
    """Replace and inspect day of one hose, as dates, with the triggers' names."""
    result = table_of(hose, *rule_rows, exempt=exempt).result
    return as_date(result.replace_on[0]), as_date(result.inspect_on[0])


def as_date(day: Any) -> Any:
    return None if day == NONE else EPOCH + dt.timedelta(days=int(day))
