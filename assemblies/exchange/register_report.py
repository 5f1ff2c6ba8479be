"""What came of an import from the command line: as JSON, and in words."""

from collections.abc import Iterator, Mapping
from typing import Any

from assemblies.actions.register.by_command import Answered
from assemblies.calc.register.plans import RowPlan
from assemblies.calc.register.shown import found_shown
from assemblies.queries.register_files import reasons

_SHOWN_ROWS = 40


def report_of(answered: Answered) -> dict[str, Any]:
    """The whole outcome as plain values."""
    shown = found_shown(answered.opened.table, answered.opened.found, answered.read)
    plan = answered.plan
    report: dict[str, Any] = {
        "file": answered.commanded.path.name,
        "site": answered.commanded.site.code,
        "dry_run": answered.commanded.dry_run,
        "written": answered.written,
        **shown,
        "answers": answered.answers,
        "counts": plan.counts() if plan else {},
        "refused": [_row(row) for row in _of(answered, "refused")],
        "left_out": [_row(row) for row in _of(answered, "left_out")],
        "changed": [_row(row) for row in _of(answered, "changed")],
        "adds": [added for row in (plan.rows if plan else ()) for added in row.adds],
    }
    if answered.refusal is not None:
        report["refusal"] = {
            "code": answered.refusal.code,
            "sentence": answered.refusal.sentence,
        }
    return report


def _of(answered: Answered, outcome: str) -> Iterator[RowPlan]:
    rows = answered.plan.rows if answered.plan else []
    return (row for row in rows if row.outcome == outcome)


def _row(row: RowPlan) -> dict[str, Any]:
    detail = row.detail()
    refusals = [
        {"cell": r.cell, "header": r.header, "found": r.found, "reason": r.reason}
        for r in row.refusals
    ]
    said = {"refusals": refusals} if refusals else {}
    return {"row": row.row_number, "label": row.label, **detail, **said}


def words_of_report(report: Mapping[str, Any]) -> str:
    """The outcome in a few lines for a person."""
    lines = [f"{report['file']} into {report['site']}", *_how_it_was_read(report)]
    if report["questions"]:
        return "\n".join([*lines, "", *_questions(report)])
    counts = report["counts"]
    lines.append(", ".join(f"{counts[n]:,} {n.replace('_', ' ')}" for n in counts))
    lines += _rows("Refused", report["refused"])
    lines += _rows("Left out", report["left_out"])
    if report.get("refusal"):
        lines += ["", report["refusal"]["sentence"]]
    elif report["written"]:
        lines += ["", "Written."]
    else:
        lines += ["", "A dry run: nothing was written."]
    return "\n".join(lines)


def _how_it_was_read(report: Mapping[str, Any]) -> Iterator[str]:
    first, last = report["header_rows"]
    where = f"row {first}" if first == last else f"rows {first} to {last}"
    sheet = f" of the sheet “{report['sheet']}”" if report["sheet"] else ""
    yield f"Column names in {where}{sheet}"
    for column in report["columns"]:
        name = column["header"] or f"column {column['letter']}"
        unit = f", {column['unit']}" if column["unit"] else ""
        read_as = f"{column['field']}{unit}" if column["field"] else f"not read: {column['why']}"
        yield f"  {column['letter']:>3}  {name}: {read_as}"
    if report["other_sheets"]:
        yield f"Sheets not read: {', '.join(report['other_sheets'])}"


def _questions(report: Mapping[str, Any]) -> Iterator[str]:
    yield "Answer first, each with --answer:"
    for question in report["questions"]:
        seen = f"{question['cells']:,} cells: {', '.join(question['examples'])}"
        yield f"{question['sentence']} ({seen})"
        for value, label in question["options"]:
            shown = "2026-03-01" if question["by_day"] and value != "leave_out" else value
            yield f"    --answer {question['key']}={shown}    {label}"


def _rows(title: str, rows: list[dict[str, Any]]) -> Iterator[str]:
    if not rows:
        return
    yield ""
    yield f"{title}:"
    for row in rows[:_SHOWN_ROWS]:
        yield f"  row {row['row']}  {row['label']}  {_why(row)}".rstrip()
    if len(rows) > _SHOWN_ROWS:
        yield f"  and {len(rows) - _SHOWN_ROWS:,} more"


def _why(row: Mapping[str, Any]) -> str:
    refusals = row.get("refusals", ())
    if refusals:
        return reasons([[r["cell"], r["header"], r["found"], r["reason"]] for r in refusals])
    return str(row.get("reason", ""))
