"""An uploaded register on its way: received, matched, looked through, confirmed or dropped."""

import datetime as dt
import hashlib
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from typing import Any

from django.db import transaction

from assemblies.calc.register.plans import RegisterPlan
from assemblies.calc.register.shown import found_shown
from assemblies.calc.register.understanding import Chosen, ReadRegister
from assemblies.models import ColumnMemory, RegisterFile, RegisterRow
from fleet import audit
from fleet.actions.refusals import Refused
from fleet.calc.local_days import local_day
from fleet.models import Person, Site
from fleet.models.batches import insert_rows, json_value
from fleet.permissions import require
from fleet.tabular import EncodingAsked, TableRefused, open_table

from .importing import Given, Opened, open_register, plan_rows, read_rows, write_rows
from .writing import Import

State = RegisterFile.State
_ENCODING = "encoding"
_MENDED_BY_HAND = frozenset({"header", "which_sheet", "no_sheet", "column", "field"})
# Answers that hold for one file only: they are never offered for the next.
_OF_ONE_FILE = frozenset({_ENCODING, "hours_now.day"})


@dataclass(frozen=True, slots=True)
class Matching:
    """What a person says of a file: its sheet, header row, columns by field, and answers."""

    sheet: str = ""
    header_row: int | None = None
    columns: Mapping[str, Sequence[str]] = field(default_factory=dict)
    answers: Mapping[str, str] = field(default_factory=dict)


@transaction.atomic
def receive_register(
    *, site: Site, name: str, content: bytes, person: Person, at: dt.datetime
) -> RegisterFile:
    """Take an uploaded file in, if it may be opened at all. Atomic; nothing of it is written.

    Refuses, with the guard's own word and sentence, what is hostile, damaged or no table. The
    site's remembered answers stand ready as suggestions. Needs `import_register` at the site.
    """
    require(person, "import_register", site)
    plain_name = name.replace("\0", "").replace("\\", "/").rpartition("/")[2][:200] or "register"
    try:
        with suppress(EncodingAsked):  # no refusal: the page asks how the file is written
            open_table(content, name=plain_name)
    except TableRefused as refused:
        raise Refused(refused.code, refused.sentence, field="file") from refused
    file = RegisterFile.objects.create(
        site=site,
        name=plain_name,
        content=content,
        digest=hashlib.sha256(content).hexdigest(),
        sent_at=at,
        sent_by=person,
    )
    deed = audit.Deed("received a register", file, site, {}, {"digest": file.digest})
    audit.record(deed, actor=person, at=at)
    return file


@transaction.atomic
def match_register(*, file: RegisterFile, said: Matching, person: Person) -> RegisterFile:
    """Keep what a person says of a file's columns and questions. Atomic, safe to repeat.

    Refuses: not_open. Needs `import_register` at the file's site.
    """
    locked = _locked(file, person, (State.READ, State.LOOKED, State.REFUSED))
    locked.sheet, locked.header_row = said.sheet[:100], said.header_row
    locked.columns = {name: list(texts) for name, texts in said.columns.items()}
    locked.answers = dict(said.answers)
    locked.state, locked.message = State.LOOKING, ""
    locked.save(update_fields=["sheet", "header_row", "columns", "answers", "state", "message"])
    return locked


def look_through(*, file_id: int, at: dt.datetime) -> RegisterFile:
    """Read a file and say of every row what it would do; nothing of it is written.

    Safe to repeat. Leaves the file *looked*; or *read*, with the questions that are open; or
    *refused*, with the reason. What is shown of the rows takes the place of what was shown before.
    """
    file = RegisterFile.objects.select_related("site").get(pk=file_id)
    if file.state not in (State.READ, State.LOOKING, State.LOOKED, State.REFUSED):
        return file
    try:
        opened = open_register(given_of(file))
        read = read_rows(opened, answers=file.answers, today=_today(file, at))
    except EncodingAsked as asked:
        return _asked_for_letters(file, asked)
    except TableRefused as refused:
        return _not_read(file, refused)
    found = found_shown(opened.table, opened.found, read)
    if read.questions:
        return _noted(file, State.READ, "", {"found": found})
    plan = plan_rows(site=file.site, rows=read.rows)
    return _show(file, plan, found)


def confirm_register(*, file: RegisterFile, take_good_rows: bool, person: Person) -> RegisterFile:
    """Begin writing what was shown: the file is *writing* from now on, whoever else confirms.

    Refuses: not_looked (it was confirmed before, or never looked through), rows_refused.
    Needs `import_register` at the file's site.
    """
    with transaction.atomic():
        locked = _locked(file, person, (State.LOOKED,))
        if locked.counts.get("refused") and not take_good_rows:
            raise Refused(
                "rows_refused",
                f"{locked.counts['refused']:,} rows are refused: mend them and send the file "
                "again, or take the good rows.",
            )
        locked.state = State.WRITING
        locked.counts = {**locked.counts, "take_good_rows": take_good_rows}
        locked.save(update_fields=["state", "counts"])
    return locked


def write_register(*, file_id: int, person: Person, at: dt.datetime) -> RegisterFile:
    """Write a confirmed file. Atomic, safe to repeat: one that is written stays as it is.

    Where the register has changed since the rows were shown, nothing is written; the file is
    looked through anew and says so. The columns are remembered for the site.
    """
    file = RegisterFile.objects.select_related("site").get(pk=file_id)
    if file.state != State.WRITING:
        return file
    require(person, "import_register", file.site)
    try:
        opened = open_register(given_of(file))
        read = read_rows(opened, answers=file.answers, today=_today(file, at))
        _write(file, opened, read, person=person, at=at)
    except Refused as refused:
        RegisterFile.objects.filter(pk=file.pk, state=State.WRITING).update(state=State.LOOKING)
        looked = look_through(file_id=file.pk, at=at)
        return _noted(looked, looked.state, refused.sentence)
    except TableRefused as refused:
        return _noted(file, State.REFUSED, refused.sentence)
    return file


def _write(
    file: RegisterFile, opened: Opened, read: ReadRegister, *, person: Person, at: dt.datetime
) -> None:
    into = Import(file.site, person, at, local_day(at, file.site.time_zone), file.name)
    with transaction.atomic():
        plan = write_rows(
            rows=read.rows,
            into=into,
            take_good_rows=bool(file.counts.get("take_good_rows")),
            shown_digest=file.outcome_digest,
        )
        file.state, file.written_at, file.message = State.WRITTEN, at, ""
        file.counts = {**file.counts, **plan.counts()}
        file.save(update_fields=["state", "written_at", "message", "counts"])
        after = {"counts": plan.counts(), "digest": file.digest}
        deed = audit.Deed("imported a register", file, file.site, {}, after)
        audit.record(deed, actor=person, at=at)
        remember_columns(site=file.site, opened=opened, answers=file.answers)


def drop_register(*, file: RegisterFile, person: Person) -> None:
    """Put a file aside that is not to be written. Atomic; what was shown of it goes.

    Refuses: not_open (it is written or being written). Needs `import_register` at its site.
    """
    with transaction.atomic():
        locked = _locked(file, person, (State.READ, State.LOOKING, State.LOOKED, State.REFUSED))
        RegisterRow.objects.filter(file=locked).delete()
        locked.state = State.DROPPED
        locked.save(update_fields=["state"])


def remember_columns(*, site: Site, opened: Opened, answers: Mapping[str, str]) -> None:
    """Keep, for the site's next file, which of its headers hold what, and the answers given."""
    columns: dict[str, list[str]] = {}
    for column in opened.found.columns:
        if column.field is not None and column.header:
            columns.setdefault(column.field.value, []).append(column.header)
    kept = {key: value for key, value in answers.items() if key not in _OF_ONE_FILE}
    memory, _ = ColumnMemory.objects.select_for_update().get_or_create(site=site)
    memory.columns = {**memory.columns, **columns}
    memory.answers = {**memory.answers, **kept}
    memory.save()


def given_of(file: RegisterFile) -> Given:
    """A stored file with all that was said of it, and what its site remembers."""
    memory = ColumnMemory.objects.filter(site=file.site_id).first()
    chosen = Chosen(file.sheet, file.header_row or 0, file.columns)
    return Given(
        bytes(file.content),
        file.name,
        chosen,
        file.answers,
        file.answers.get(_ENCODING) or None,
        memory.columns if memory else {},
    )


def _locked(file: RegisterFile, person: Person, states: Sequence[str]) -> RegisterFile:
    require(person, "import_register", file.site_id)
    locked = RegisterFile.objects.select_for_update(of=("self",)).select_related("site")
    found: RegisterFile = locked.get(pk=file.pk)
    if found.state not in states:
        raise Refused(
            "not_open", f"This file is {found.get_state_display()}: nothing more is done with it."
        )
    return found


def _not_read(file: RegisterFile, refused: TableRefused) -> RegisterFile:
    """A file that can be read once a person has said more waits for that; another is refused."""
    if refused.code not in _MENDED_BY_HAND:
        return _noted(file, State.REFUSED, refused.sentence)
    table = open_table(bytes(file.content), name=file.name, encoding=given_of(file).encoding)
    sheets = [sheet.name for sheet in table.sheets if sheet.filled_cells]
    return _noted(file, State.READ, refused.sentence, {"found": {"sheets": sheets}})


def _asked_for_letters(file: RegisterFile, asked: EncodingAsked) -> RegisterFile:
    letters = [[reading.encoding, reading.label, reading.sample] for reading in asked.readings]
    shown = {"letters": letters, "line": asked.line_number}
    return _noted(file, State.READ, "", {"found": shown})


def _noted(
    file: RegisterFile, state: str, message: str, counts: Mapping[str, Any] | None = None
) -> RegisterFile:
    file.state, file.message = state, message[:500]
    if counts is not None:
        file.counts = dict(counts)
    file.save(update_fields=["state", "message", "counts"])
    return file


def _show(file: RegisterFile, plan: RegisterPlan, found: Mapping[str, Any]) -> RegisterFile:
    columns = ("file_id", "row_number", "outcome", "label", "detail")
    with transaction.atomic():
        RegisterRow.objects.filter(file=file).delete()
        insert_rows(
            RegisterRow,
            columns,
            (
                (file.pk, row.row_number, row.outcome, row.label[:200], json_value(row.detail()))
                for row in plan.rows
            ),
        )
        file.outcome_digest = plan.digest()
        file.state, file.message = State.LOOKED, ""
        file.counts = {**plan.counts(), "found": dict(found)}
        file.save(update_fields=["outcome_digest", "state", "message", "counts"])
    return file


def _today(file: RegisterFile, at: dt.datetime) -> dt.date:
    return local_day(at, file.site.time_zone)
