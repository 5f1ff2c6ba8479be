"""The first look at a workbook: its packing, before anything is unpacked."""

import struct
import zipfile
from typing import BinaryIO

from .bounds import BOUNDS, Bounds
from .errors import TableRefused
from .sources import Source

_END = b"PK\x05\x06"
_NESTED = (".zip", ".xlsx", ".xlsm", ".xlsb", ".docx", ".gz", ".7z", ".rar", ".bz2", ".xz", ".ods")


def open_workbook_zip(source: Source, bounds: Bounds = BOUNDS) -> zipfile.ZipFile:
    """Open the packing of a workbook, or refuse it. Nothing is unpacked here.

    Refused: too large, damaged, locked, with too many or too large parts, with macros, with
    another archive inside, of another kind. Sizes are those the file declares; a part that
    lies about its size fails its check sum when it is read.
    """
    if source.size > bounds.workbook_bytes:
        raise _too_large(source.size, bounds.workbook_bytes)
    _check_directory(source, bounds)
    try:
        packed = zipfile.ZipFile(source.open())
    except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError, struct.error) as error:
        raise _damaged() from error
    try:
        _check_members(packed.infolist(), bounds)
        _check_kind({_plain(info.filename) for info in packed.infolist()}, packed)
    except TableRefused:
        packed.close()
        raise
    return packed


def part_names(packed: zipfile.ZipFile) -> dict[str, str]:
    """The parts by their name in small letters with plain slashes."""
    return {_plain(name): name for name in packed.namelist()}


def open_part(packed: zipfile.ZipFile, name: str) -> BinaryIO:
    try:
        return packed.open(name)  # type: ignore[return-value]  # a readable binary stream
    except (zipfile.BadZipFile, RuntimeError, NotImplementedError, KeyError, OSError) as error:
        raise _damaged() from error


def _plain(name: str) -> str:
    return name.replace("\\", "/").lstrip("/").lower()


def _check_directory(source: Source, bounds: Bounds) -> None:
    """Read the packing's own last record, so that a huge list of parts is never loaded."""
    with source.open() as stream:
        stream.seek(max(0, source.size - 65_557))
        tail = stream.read()
    at = tail.rfind(_END)
    if at < 0 or len(tail) - at < 22:
        raise _damaged()
    members, directory_bytes = struct.unpack("<10xHI", tail[at : at + 16])
    if members > bounds.members or directory_bytes > bounds.directory_bytes:
        raise _too_many(members, bounds)


def _check_members(infos: list[zipfile.ZipInfo], bounds: Bounds) -> None:
    if len(infos) > bounds.members:
        raise _too_many(len(infos), bounds)
    if any(info.flag_bits & 0x1 for info in infos):
        raise TableRefused(
            "encrypted", "The file is locked with a password. Take it off and save it again."
        )
    unpacked = sum(info.file_size for info in infos)
    if unpacked > bounds.unpacked_bytes:
        raise TableRefused(
            "unpacked_size",
            f"Unpacked, the workbook would take {unpacked / 1e6:,.0f} MB; at most "
            f"{bounds.unpacked_bytes / 1e6:,.0f} MB are opened. Save the sheet as CSV.",
        )
    for info in infos:
        if info.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
            raise TableRefused(
                "packing", "The file is packed in a way no spreadsheet program uses. Save it again."
            )
        if info.filename.lower().endswith(_NESTED):
            raise TableRefused(
                "nested_archive",
                f"There is another file packed inside ({info.filename[:80]}). Save the sheet alone "
                "as XLSX or CSV, or unpack the archive first.",
            )


def _check_kind(names: set[str], packed: zipfile.ZipFile) -> None:
    if any(n.endswith(("vbaproject.bin", "vbadata.xml")) or "/macrosheets/" in n for n in names):
        raise _macros()
    if "xl/workbook.bin" in names:
        raise _other_kind("a binary workbook (.xlsb)")
    if "word/document.xml" in names or "ppt/presentation.xml" in names:
        raise _other_kind("a text or a slide show")
    if "mimetype" in names:
        raise _other_kind("an OpenDocument file (.ods)")
    if "[content_types].xml" not in names:
        raise TableRefused(
            "not_a_workbook",
            "This is a packed archive, not an XLSX workbook. Unpack it and send the sheet itself.",
        )
    _check_content_types(packed)


def _check_content_types(packed: zipfile.ZipFile) -> None:
    with open_part(packed, part_names(packed)["[content_types].xml"]) as stream:
        try:
            text = stream.read(1_000_000).lower()
        except (zipfile.BadZipFile, OSError, EOFError) as error:
            raise _damaged() from error
    if b"macroenabled" in text or b"vbaproject" in text or b"macrosheet" in text:
        raise _macros()


def _macros() -> TableRefused:
    return TableRefused(
        "macros",
        "The workbook holds macros (a program). Save it as a plain XLSX workbook or as CSV.",
    )


def _other_kind(words: str) -> TableRefused:
    return TableRefused("other_kind", f"This is {words}. Save the sheet as XLSX or CSV.")


def _too_many(members: int, bounds: Bounds) -> TableRefused:
    return TableRefused(
        "members",
        f"The file is packed from {members:,} parts; a workbook here may have "
        f"{bounds.members:,}. Save the sheet alone as XLSX or CSV.",
    )


def _too_large(size: int, most: int) -> TableRefused:
    return TableRefused(
        "file_size",
        f"The file has {size / 1e6:,.0f} MB; at most {most / 1e6:,.0f} MB are read. Take "
        "pictures out, or save the sheet as CSV.",
    )


def _damaged() -> TableRefused:
    return TableRefused(
        "damaged",
        "The file is damaged or was cut off on its way: it cannot be unpacked. Save it again.",
    )


damaged = _damaged
