"""Doing the work on a file at once where it is small, else as an errand."""

import datetime as dt
from typing import Final

from assemblies.models import RegisterFile
from fleet.actions.errands import ask_errand
from fleet.models import Person

from .files import look_through, write_register

LOOK: Final = "look through a register"
WRITE: Final = "write a register"
# About a thousand rows: a second or two. A workbook is packed, text is not.
SMALL_TEXT_BYTES: Final = 150_000
SMALL_WORKBOOK_BYTES: Final = 60_000


def is_small(file: RegisterFile) -> bool:
    """Whether the work on a file may be done while the person waits."""
    most = SMALL_WORKBOOK_BYTES if bytes(file.content[:2]) == b"PK" else SMALL_TEXT_BYTES
    return len(file.content) <= most


def look_soon(*, file: RegisterFile, person: Person, at: dt.datetime) -> None:
    """Look through a file: at once, or as an errand that is asked for."""
    if is_small(file):
        look_through(file_id=file.pk, at=at)
    else:
        ask_errand(
            kind=LOOK, at=at, payload={"file_id": file.pk}, person=person, key=f"look {file.pk}"
        )


def write_soon(*, file: RegisterFile, person: Person, at: dt.datetime) -> None:
    """Write a confirmed file: at once, or as an errand that is asked for."""
    if is_small(file):
        write_register(file_id=file.pk, person=person, at=at)
    else:
        ask_errand(
            kind=WRITE, at=at, payload={"file_id": file.pk}, person=person, key=f"write {file.pk}"
        )
