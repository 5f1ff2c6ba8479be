"""What of a file is shown while its columns are matched: its first cells, as plain values."""

from collections.abc import Mapping
from itertools import islice
from typing import Any

from fleet.tabular import TableFile, column_letter

from .fields import FACTS
from .questions import Question
from .row_kinds import left_out
from .understanding import ReadRegister, Understood

_LOOKED_AT = 400
_SAMPLES = 3
_LONGEST = 40


def columns_shown(table: TableFile, found: Understood) -> list[dict[str, Any]]:
    """Each column: letter, name, field, unit, why it is not read, and its first filled cells."""
    samples: dict[int, list[str]] = {column.index: [] for column in found.columns}
    fields = {column.index: column.field for column in found.columns if column.field}
    for row in islice(table.rows(found.sheet or None), found.header.last_row + _LOOKED_AT):
        if row.number <= found.header.last_row or left_out(row, found.header, fields):
            continue
        for index, seen in samples.items():
            cell = row.cells[index] if index < len(row.cells) else None
            if cell is not None and cell.kind != "blank" and len(seen) < _SAMPLES:
                text = " ".join((cell.text or "formula without an answer").split())[:_LONGEST]
                if text not in seen:
                    seen.append(text)
    return [
        {
            "letter": column_letter(column.index),
            "header": column.header,
            "field": column.field or "",
            "label": FACTS[column.field].label if column.field else "",
            "unit": column.unit,
            "why": column.why,
            "samples": samples[column.index],
        }
        for column in found.columns
    ]


def question_shown(question: Question) -> dict[str, Any]:
    """A question as plain values.

    >>> from assemblies.calc.register.fields import Field
    >>> asked = Question("size.dn", Field.SIZE, "Which?", (), ("12",), 3)
    >>> question_shown(asked)["examples"], question_shown(asked)["cells"]
    (['12'], 3)
    """
    return {
        "key": question.key,
        "field": question.field.value,
        "sentence": question.sentence,
        "options": [[option.value, option.label] for option in question.options],
        "examples": list(question.examples),
        "cells": question.cells,
        "by_day": question.answered_by_day,
    }


def found_shown(table: TableFile, found: Understood, read: ReadRegister) -> dict[str, Any]:
    """All that a person is shown of how a file was understood, as plain values."""
    blank: Mapping[str, Mapping[str, int]] = read.read_as_blank
    return {
        "format": table.format,
        "encoding": table.encoding,
        "sheet": found.sheet,
        "sheets": [sheet.name for sheet in table.sheets if sheet.filled_cells],
        "other_sheets": list(found.other_sheets),
        "header_rows": [found.header.first_row, found.header.last_row],
        "columns": columns_shown(table, found),
        "questions": [question_shown(question) for question in read.questions],
        "read_as_blank": {header: dict(seen) for header, seen in blank.items()},
        "unnamed": list(read.unnamed),
    }
