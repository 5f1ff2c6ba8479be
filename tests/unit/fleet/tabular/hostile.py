"""Files made to hurt, each with the word that its refusal must carry."""

import io
import struct
import zipfile
from collections.abc import Callable

from .workbooks import (
    BOOK_LINKS,
    CONTENT_TYPES,
    MAIN,
    SHEET_PART,
    one_cell,
    pack,
    parts,
    sheet_xml,
    workbook,
)

OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"


def zip_bomb() -> bytes:
    return pack(parts(b"<worksheet>" + b" " * 100_000_000))


def declares_two_gigabytes() -> bytes:
    """A small part whose size is said to be 2 GB in both headers."""
    content = bytearray(workbook())
    at = content.rfind(b"PK\x01\x02")
    struct.pack_into("<I", content, at + 24, 2_147_483_000)
    return bytes(content)


def lies_about_its_size() -> bytes:
    """A part said to be small, that unpacks to much more."""
    content = bytearray(pack(parts(sheet_xml(one_cell() + " " * 60_000_000))))
    at = content.rfind(b"PK\x01\x02")
    struct.pack_into("<I", content, at + 24, 400)
    return bytes(content)


def ten_thousand_columns() -> bytes:
    from fleet.tabular import column_letter

    cells = "".join(f'<c r="{column_letter(at)}1"><v>{at}</v></c>' for at in range(10_000))
    return workbook(sheet_xml(f'<row r="1">{cells}</row>'))


def two_far_cells() -> bytes:
    far = one_cell("XFD1048576", 1_048_576)
    return workbook(sheet_xml(one_cell() + far))


def far_cell_without_a_name() -> bytes:
    return workbook(sheet_xml("<row>" + "<c><v>1</v></c>" * 300 + "</row>"))


def billion_laughs() -> bytes:
    words = '<!ENTITY a "ha">' + "".join(
        f'<!ENTITY {chr(98 + at)} "{f"&{chr(97 + at)};" * 10}">' for at in range(9)
    )
    return workbook(
        f"<?xml version='1.0'?><!DOCTYPE worksheet [{words}]><worksheet>&j;</worksheet>"
    )


def external_entity() -> bytes:
    book = (
        '<?xml version="1.0"?><!DOCTYPE workbook [<!ENTITY x SYSTEM "file:///etc/passwd">]>'
        f'<workbook xmlns="{MAIN}">&x;</workbook>'
    )
    return pack(parts() | {"xl/workbook.xml": book})


def entity_in_wide_letters() -> bytes:
    text = '<?xml version="1.0"?><!DOCTYPE w [<!ENTITY a "b">]><worksheet>&a;</worksheet>'
    return workbook(text.encode("utf-16"))


def macros() -> bytes:
    return pack(parts() | {"xl/vbaProject.bin": b"\0" * 100})


def macros_declared() -> bytes:
    types = CONTENT_TYPES.replace("application/xml", "application/vnd.ms-excel.sheet.macroEnabled")
    return pack(parts() | {"[Content_Types].xml": types})


def macro_sheet() -> bytes:
    return pack(parts() | {"xl/macrosheets/sheet2.xml": "<x/>"})


def locked() -> bytes:
    return OLE + b"\0" * 2_000 + "EncryptedPackage".encode("utf-16-le") + b"\0" * 20_000


def locked_zip() -> bytes:
    content = bytearray(workbook())
    at = content.find(b"PK\x01\x02")
    content[at + 8] |= 1
    return bytes(content)


def old_binary() -> bytes:
    return OLE + b"\0" * 5_000 + "Workbook".encode("utf-16-le") + b"\0" * 5_000


def open_document() -> bytes:
    return pack(
        {"mimetype": "application/vnd.oasis.opendocument.spreadsheet", "content.xml": "<a/>"}
    )


def nested_archive() -> bytes:
    return pack({"register.zip": workbook()})


def nested_in_workbook() -> bytes:
    return pack(parts() | {"xl/embeddings/inner.zip": b"PK"})


def plain_archive() -> bytes:
    return pack({"hoses.csv": "a,b"})


def cut_off() -> bytes:
    content = workbook()
    return content[: len(content) // 2]


def damaged_inside() -> bytes:
    content = bytearray(workbook(sheet_xml("".join(one_cell(f"A{n}", n) for n in range(1, 200)))))
    at = content.find(SHEET_PART.encode()) + len(SHEET_PART) + 20
    content[at : at + 40] = b"\xff" * 40
    return bytes(content)


def absurd_text_count() -> bytes:
    texts = (
        f'<sst xmlns="{MAIN}" count="4294967295" uniqueCount="4294967295"><si><t>a</t></si></sst>'
    )
    return pack(parts() | {"xl/sharedStrings.xml": texts})


def too_many_texts() -> bytes:
    texts = f'<sst xmlns="{MAIN}">' + "".join(f"<si><t>{n:x}</t></si>" for n in range(900_000))
    return pack(parts() | {"xl/sharedStrings.xml": texts + "</sst>"})


def a_text_that_is_not_there() -> bytes:
    return workbook(sheet_xml('<row r="1"><c r="A1" t="s"><v>7</v></c></row>'))


def everything_merged() -> bytes:
    merge = '<mergeCells count="1"><mergeCell ref="A1:XFD1048576"/></mergeCells>'
    return workbook(sheet_xml(one_cell(), merge))


def merges_over_each_other() -> bytes:
    merges = "".join(f'<mergeCell ref="A{n}:GR20000"/>' for n in range(1, 20_000))
    return workbook(sheet_xml(one_cell(), f"<mergeCells>{merges}</mergeCells>"))


def too_many_merges() -> bytes:
    merges = "".join(f'<mergeCell ref="A{n}:B{n}"/>' for n in range(1, 200_000))
    return workbook(sheet_xml(one_cell(), f"<mergeCells>{merges}</mergeCells>"))


def endless_elements() -> bytes:
    return workbook(b"<worksheet>" + b"<x/>" * 15_000_000 + b"</worksheet>")


def endless_nesting() -> bytes:
    return workbook(b"<worksheet>" + b"<x>" * 2_000_000)


def endless_tag() -> bytes:
    return workbook(b'<worksheet a="' + b"x" * 60_000_000)


def endless_attributes() -> bytes:
    return workbook(b'<worksheet><c r="A1" ' + b'r="A1" ' * 8_000_000 + b"/></worksheet>")


def endless_tag_in_texts() -> bytes:
    return pack(parts() | {"xl/sharedStrings.xml": b'<sst a="' + b"x" * 60_000_000})


def endless_nesting_in_styles() -> bytes:
    return pack(parts() | {"xl/styles.xml": b"<a>" * 2_000_000})


def million_of_cells() -> bytes:
    row = "".join(f"<c><v>{at}</v></c>" for at in range(100))
    return workbook(sheet_xml(f"<row>{row}</row>" * 20_000))


def rows_out_of_order() -> bytes:
    return workbook(sheet_xml(one_cell("A5", 5) + one_cell("A2", 2)))


def many_parts() -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as packed:
        for number in range(30_000):
            packed.writestr(f"xl/media/{number}", b"")
    return out.getvalue()


def strange_packing() -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_LZMA) as packed:
        for name, content in parts().items():
            packed.writestr(name, content)
    return out.getvalue()


def sheet_outside_the_file() -> bytes:
    links = BOOK_LINKS.replace('Target="worksheets/sheet1.xml"', 'Target="../../../../etc/passwd"')
    return pack(parts() | {"xl/_rels/workbook.xml.rels": links})


def no_bytes() -> bytes:
    return b""


def begins_well() -> bytes:
    return b"PK\x03\x04 and no more"


HOSTILE: dict[Callable[[], bytes], str] = {
    zip_bomb: "unpacked_size",
    declares_two_gigabytes: "unpacked_size",
    lies_about_its_size: "damaged",
    ten_thousand_columns: "sheet_size",
    two_far_cells: "sheet_size",
    far_cell_without_a_name: "sheet_size",
    billion_laughs: "doctype",
    external_entity: "doctype",
    entity_in_wide_letters: "hostile_xml",
    macros: "macros",
    macros_declared: "macros",
    macro_sheet: "macros",
    locked: "encrypted",
    locked_zip: "encrypted",
    old_binary: "old_workbook",
    open_document: "other_kind",
    nested_archive: "nested_archive",
    nested_in_workbook: "nested_archive",
    plain_archive: "not_a_workbook",
    cut_off: "damaged",
    damaged_inside: "damaged",
    absurd_text_count: "texts",
    too_many_texts: "texts",
    a_text_that_is_not_there: "disordered",
    everything_merged: "merged_area",
    merges_over_each_other: "merges",
    too_many_merges: "merges",
    endless_elements: "sheet_size",
    endless_nesting: "hostile_xml",
    endless_tag: "hostile_xml",
    endless_attributes: "hostile_xml",
    endless_tag_in_texts: "hostile_xml",
    endless_nesting_in_styles: "hostile_xml",
    million_of_cells: "sheet_size",
    rows_out_of_order: "disordered",
    many_parts: "members",
    strange_packing: "packing",
    sheet_outside_the_file: "no_sheet",
    no_bytes: "empty",
    begins_well: "damaged",
}
