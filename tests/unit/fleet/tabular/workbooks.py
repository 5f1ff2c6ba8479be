"""Workbooks written part by part, good and hostile, so that a test can bend any byte of them."""

import io
import zipfile

MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
LINKS = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
PACKAGE = "http://schemas.openxmlformats.org/package/2006"
SHEET_PART = "xl/worksheets/sheet1.xml"

CONTENT_TYPES = (
    f'<?xml version="1.0"?><Types xmlns="{PACKAGE}/content-types">'
    '<Default Extension="xml" ContentType="application/xml"/></Types>'
)
ROOT_LINKS = (
    f'<?xml version="1.0"?><Relationships xmlns="{PACKAGE}/relationships"><Relationship Id="r1" '
    f'Type="{LINKS}/officeDocument" Target="xl/workbook.xml"/></Relationships>'
)
BOOK = (
    f'<?xml version="1.0"?><workbook xmlns="{MAIN}" xmlns:r="{LINKS}">'
    '<sheets><sheet name="Hoses" sheetId="1" r:id="r1"/></sheets></workbook>'
)
BOOK_LINKS = (
    f'<?xml version="1.0"?><Relationships xmlns="{PACKAGE}/relationships">'
    f'<Relationship Id="r1" Type="{LINKS}/worksheet" Target="worksheets/sheet1.xml"/>'
    f'<Relationship Id="r2" Type="{LINKS}/sharedStrings" Target="sharedStrings.xml"/>'
    f'<Relationship Id="r3" Type="{LINKS}/styles" Target="styles.xml"/></Relationships>'
)


def sheet_xml(rows: str, after: str = "") -> str:
    return (
        f'<?xml version="1.0"?><worksheet xmlns="{MAIN}"><sheetData>{rows}</sheetData>{after}'
        "</worksheet>"
    )


def one_cell(ref: str = "A1", row: int = 1, value: str = "1") -> str:
    return f'<row r="{row}"><c r="{ref}"><v>{value}</v></c></row>'


def parts(sheet: str | bytes | None = None, **more: str | bytes) -> dict[str, str | bytes]:
    """The parts of a good workbook, with the sheet and any other part replaced."""
    whole: dict[str, str | bytes] = {
        "[Content_Types].xml": CONTENT_TYPES,
        "_rels/.rels": ROOT_LINKS,
        "xl/workbook.xml": BOOK,
        "xl/_rels/workbook.xml.rels": BOOK_LINKS,
        SHEET_PART: sheet_xml(one_cell()) if sheet is None else sheet,
    }
    return whole | more


def pack(members: dict[str, str | bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, content in members.items():
            packed.writestr(name, content)
    return out.getvalue()


def workbook(sheet: str | bytes | None = None, **more: str | bytes) -> bytes:
    return pack(parts(sheet, **more))
