"""An import from the command line: answers given by column, all or nothing, nobody confirms."""

import datetime as dt
import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from django.db import transaction

from assemblies.calc.register.folding import words_of
from assemblies.calc.register.plans import RegisterPlan
from assemblies.calc.register.questions import Question
from assemblies.calc.register.understanding import Chosen, ReadRegister
from assemblies.models import RegisterFile
from fleet import audit
from fleet.actions.refusals import Refused
from fleet.actions.statistics import freshen_statistics
from fleet.calc.local_days import local_day
from fleet.models import Site

from .files import remember_columns
from .importing import Given, Opened, open_register, plan_rows, read_rows, write_rows
from .writing import Import

Pairs = Sequence[tuple[str, str]]


@dataclass(frozen=True, slots=True)
class Commanded:
    """What was asked for on the command line."""

    path: Path
    site: Site
    sheet: str = ""
    header_row: int = 0
    encoding: str | None = None
    answers: Pairs = ()
    columns: Pairs = ()
    dry_run: bool = False
    take_good_rows: bool = False


@dataclass(frozen=True, slots=True)
class Answered:
    """What came of it. `plan` is None while questions are open."""

    commanded: Commanded
    opened: Opened
    read: ReadRegister
    plan: RegisterPlan | None = None
    questions: tuple[Question, ...] = ()
    written: bool = False
    refusal: Refused | None = None
    answers: dict[str, str] = field(default_factory=dict)


def pairs(given: Sequence[str]) -> list[tuple[str, str]]:
    """`COLUMN=VALUE` texts parted at the first sign.

    >>> pairs(["size=dash"])
    [('size', 'dash')]
    """
    for text in given:
        if "=" not in text:
            raise ValueError(f"“{text}” has no “=”: write COLUMN=VALUE.")
    return [(left.strip(), right.strip()) for left, _, right in (t.partition("=") for t in given)]


def import_by_command(commanded: Commanded, *, at: dt.datetime) -> Answered:
    """Read a file and, unless it is a dry run or something is open, write it. Atomic.

    Safe to repeat: the same file a second time changes nothing. Raises `TableRefused` for a file
    that can't be read; refuses (in the answer) rows_refused, nothing_to_write, register_changed.
    """
    today = local_day(at, commanded.site.time_zone)
    opened = open_register(_given(commanded))
    answers: dict[str, str] = {}
    read = read_rows(opened, answers=answers, today=today)
    while fresh := _answers(read.questions, commanded.answers, opened, answers):
        answers |= fresh
        read = read_rows(opened, answers=answers, today=today)
    if read.questions:
        return Answered(commanded, opened, read, questions=read.questions, answers=answers)
    if commanded.dry_run:
        plan = plan_rows(site=commanded.site, rows=read.rows)
        return Answered(commanded, opened, read, plan, answers=answers)
    try:
        written = _write(commanded, opened, read, answers=answers, at=at)
    except Refused as refused:
        plan = plan_rows(site=commanded.site, rows=read.rows)
        return Answered(commanded, opened, read, plan, refusal=refused, answers=answers)
    freshen_statistics()
    return Answered(commanded, opened, read, written, written=True, answers=answers)


def _given(commanded: Commanded) -> Given:
    columns: dict[str, list[str]] = {}
    for name, header in commanded.columns:
        columns.setdefault(name, []).append(header)
    chosen = Chosen(commanded.sheet, commanded.header_row, columns)
    return Given(commanded.path, commanded.path.name, chosen, encoding=commanded.encoding)


def _answers(
    questions: Sequence[Question], given: Pairs, opened: Opened, known: dict[str, str]
) -> dict[str, str]:
    """The answers among those given that fit open questions; a value tells which it is for."""
    found: dict[str, str] = {}
    for question in questions:
        if question.key in known:
            continue
        names = {question.key, question.field.value, *_headers(question, opened)}
        fitting = [v for name, v in given if _fits(question, v) and words_of(name) in names]
        if not fitting:
            fitting = [v for name, v in given if _fits(question, v) and name == question.key]
        if fitting:
            found[question.key] = fitting[-1]
    return found


def _headers(question: Question, opened: Opened) -> list[str]:
    columns = [c for c in opened.found.columns if c.field is question.field]
    return [words_of(column.header) for column in columns] + [words_of(question.field.value)]


def _fits(question: Question, value: str) -> bool:
    if value in {option.value for option in question.options}:
        return True
    if not question.answered_by_day:
        return False
    try:
        dt.date.fromisoformat(value)
    except ValueError:
        return False
    return True


@transaction.atomic
def _write(
    commanded: Commanded,
    opened: Opened,
    read: ReadRegister,
    *,
    answers: dict[str, str],
    at: dt.datetime,
) -> RegisterPlan:
    site, name = commanded.site, commanded.path.name
    into = Import(site, None, at, local_day(at, site.time_zone), name)
    plan = write_rows(rows=read.rows, into=into, take_good_rows=commanded.take_good_rows)
    content = commanded.path.read_bytes()
    file = RegisterFile.objects.create(
        site=site,
        name=name[:200],
        content=content,
        digest=hashlib.sha256(content).hexdigest(),
        sheet=opened.found.sheet[:100],
        answers=answers,
        state=RegisterFile.State.WRITTEN,
        counts=plan.counts(),
        sent_at=at,
        written_at=at,
    )
    after = {"counts": plan.counts(), "digest": file.digest}
    audit.record(audit.Deed("imported a register", file, site, {}, after), actor=None, at=at)
    remember_columns(site=site, opened=opened, answers=answers)
    return plan
