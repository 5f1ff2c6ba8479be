"""What a file is, told by its first bytes. A name proves nothing."""

from typing import Literal

from .errors import TableRefused
from .sources import Source

_SAVE = "Open it in a spreadsheet program and save the sheet as XLSX or CSV."
# First bytes of what people send by mistake, and what to call it.
_OTHERS: tuple[tuple[bytes, str, str], ...] = (
    (b"%PDF", "pdf", "a PDF paper"),
    (b"\x89PNG", "picture", "a picture"),
    (b"\xff\xd8\xff", "picture", "a picture"),
    (b"GIF8", "picture", "a picture"),
    (b"\x1f\x8b", "archive", "a packed archive (gzip)"),
    (b"7z\xbc\xaf\x27\x1c", "archive", "a packed archive (7z)"),
    (b"Rar!", "archive", "a packed archive (RAR)"),
    (b"BZh", "archive", "a packed archive (bzip2)"),
    (b"\xfd7zXZ\x00", "archive", "a packed archive (xz)"),
    (b"{\\rtf", "rtf", "a word-processor text (RTF)"),
    (b"SQLite format 3", "database", "a database"),
    (b"MZ", "program", "a program"),
    (b"\x7fELF", "program", "a program"),
)
_MARKUP = (b"<?xml", b"<!doctype", b"<html", b"<table", b"<workbook", b"<svg")
_OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_OLD_SHEET = (b"\x09\x08", b"\x09\x04", b"\x09\x02", b"\x09\x00\x04\x00")
_ENCRYPTED = "EncryptedPackage".encode("utf-16-le")


def table_kind(source: Source) -> Literal["csv", "xlsx"]:
    """Say whether the bytes are a workbook or text; refuse, by name, all that is neither."""
    head = source.head(4_096)
    if not head:
        raise TableRefused("empty", "The file is empty: it has no bytes at all.")
    if head.startswith(b"PK"):
        return "xlsx"
    if head.startswith(_OLE):
        raise _compound(source)
    _refuse_others(head)
    if source.ending in {".xlsx", ".xlsm", ".xltx", ".ods", ".zip"}:
        raise TableRefused(
            "not_a_workbook",
            f"The name ends in {source.ending}, but what is inside is not a workbook: the file is "
            "damaged or was renamed. Save it again as XLSX, or name it .csv if it is text.",
        )
    return "csv"


def _refuse_others(head: bytes) -> None:
    for first, code, words in _OTHERS:
        if head.startswith(first):
            raise TableRefused(code, f"This is {words}, not a table. {_SAVE}")
    if head.startswith(_OLD_SHEET):
        raise TableRefused("old_workbook", f"This is a workbook of a very old kind. {_SAVE}")
    start = head.lstrip(b"\xef\xbb\xbf \t\r\n").lower()
    if start.startswith(_MARKUP):
        raise TableRefused(
            "markup", f"This is a web page or XML text, whatever its name says. {_SAVE}"
        )


def _compound(source: Source) -> TableRefused:
    """An OLE container: a workbook locked with a password, or one of the old binary kind."""
    with source.open() as stream:
        found = _ENCRYPTED in stream.read(2_000_000)
        if not found and source.size > 2_000_000:
            stream.seek(-1_000_000, 2)
            found = _ENCRYPTED in stream.read()
    if found:
        return TableRefused(
            "encrypted",
            "The workbook is locked with a password. Take the password off and save it again.",
        )
    return TableRefused(
        "old_workbook", f"This is a workbook of the old binary kind (.xls). {_SAVE}"
    )
