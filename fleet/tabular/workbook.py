"""The parts of a workbook: its sheets, its texts, its formats. Nothing else is opened."""

import posixpath
import re
import zipfile
from dataclasses import dataclass

from .bounds import BOUNDS, Bounds
from .cells import BLANK, Cell, is_error_text
from .errors import TableRefused
from .guard import damaged, open_part, part_names
from .number_formats import format_code
from .xml_scan import attribute, parse, pieces

_ESCAPED = re.compile("_x([0-9A-Fa-f]{4})_")


@dataclass(frozen=True)
class SheetPart:
    """A sheet's name, the part that holds it, and whether it is hidden."""

    name: str
    part: str
    hidden: bool


@dataclass(frozen=True)
class Workbook:
    """What is needed to read any of the sheets."""

    packed: zipfile.ZipFile
    sheets: tuple[SheetPart, ...]
    texts: tuple[Cell, ...]
    formats: tuple[str, ...]
    from_1904: bool


def read_workbook(packed: zipfile.ZipFile, bounds: Bounds = BOUNDS) -> Workbook:
    """Read the list of sheets, the shared texts and the formats; refuse a workbook without."""
    names = part_names(packed)
    root = _linked(packed, names, "_rels/.rels", "").get("officeDocument", [])
    path = root[0][1] if root else "xl/workbook.xml"
    folder, base = posixpath.split(path)
    links = _linked(packed, names, f"{folder}/_rels/{base}.rels".lstrip("/"), folder)
    sheets, from_1904 = _sheets(packed, names, path, links, bounds)
    texts = [target for _, target in links.get("sharedStrings", [])]
    styles = [target for _, target in links.get("styles", [])]
    return Workbook(
        packed,
        sheets,
        _texts(packed, names[texts[0].lower()], bounds) if _first(texts, names) else (),
        _formats(packed, names[styles[0].lower()], bounds) if _first(styles, names) else (),
        from_1904,
    )


def _first(targets: list[str], names: dict[str, str]) -> bool:
    return bool(targets) and targets[0].lower() in names


def _linked(
    packed: zipfile.ZipFile, names: dict[str, str], part: str, folder: str
) -> dict[str, list[tuple[str, str]]]:
    """What a part links to inside the file: by kind, each link's id and the part's name."""
    found: dict[str, list[tuple[str, str]]] = {}
    if part.lower() not in names:
        return found

    def start(name: str, attributes: list[str]) -> None:
        if name == "Relationship" and attribute(attributes, "TargetMode") != "External":
            kind = attribute(attributes, "Type").rpartition("/")[2]
            target = attribute(attributes, "Target").replace("\\", "/")
            path = posixpath.normpath(posixpath.join("/" + folder, target)).lstrip("/")
            found.setdefault(kind, []).append((attribute(attributes, "Id"), path))

    with open_part(packed, names[part.lower()]) as stream:
        parse(stream, start=start)
    return found


def _sheets(
    packed: zipfile.ZipFile,
    names: dict[str, str],
    path: str,
    links: dict[str, list[tuple[str, str]]],
    bounds: Bounds,
) -> tuple[tuple[SheetPart, ...], bool]:
    targets = dict(links.get("worksheet", []))
    sheets: list[SheetPart] = []
    from_1904 = False

    def start(name: str, attributes: list[str]) -> None:
        nonlocal from_1904
        if name == "workbookPr":
            from_1904 = attribute(attributes, "date1904") in ("1", "true")
        elif name == "sheet":
            target = targets.get(attribute(attributes, "id"), "").lower()
            if target in names:
                hidden = attribute(attributes, "state") in ("hidden", "veryHidden")
                sheets.append(SheetPart(attribute(attributes, "name"), names[target], hidden))
        if len(sheets) > bounds.sheets:
            raise TableRefused("sheets", f"The workbook has more than {bounds.sheets} sheets.")

    if path.lower() not in names:
        raise damaged()
    with open_part(packed, names[path.lower()]) as stream:
        parse(stream, start=start)
    if not sheets:
        raise TableRefused("no_sheet", "The workbook holds no sheet with cells.")
    return tuple(sheets), from_1904


def _texts(packed: zipfile.ZipFile, part: str, bounds: Bounds) -> tuple[Cell, ...]:
    """The texts that cells point at. Declared counts are checked, and never trusted."""
    texts: list[Cell] = []
    held: list[str] = []
    known: dict[str, Cell] = {}
    inside = aside = False

    def start(name: str, attributes: list[str]) -> None:
        nonlocal inside, aside
        if name == "t":
            inside = not aside
        elif name == "rPh":
            aside = True
        elif name == "sst":
            _check_declared(attributes, bounds)

    def end(name: str) -> None:
        nonlocal inside, aside
        if name == "t":
            inside = False
        elif name == "rPh":
            aside = False
        elif name == "si":
            text = "".join(held)
            held.clear()
            texts.append(known.get(text) or known.setdefault(text, text_cell(text, bounds)))
            if len(texts) > bounds.texts:
                raise _too_many_texts(bounds)

    def text(words: str) -> None:
        if inside:
            held.append(words)

    with open_part(packed, part) as stream:
        if sum(piece.count(b"<si") for piece in pieces(stream)) > bounds.texts:
            raise _too_many_texts(bounds)
    with open_part(packed, part) as stream:
        parse(stream, start=start, end=end, text=text)
    return tuple(texts)


def text_cell(text: str, bounds: Bounds = BOUNDS) -> Cell:
    """A text as typed; blank where there is nothing but space."""
    if len(text) > bounds.cell_chars:
        raise TableRefused(
            "cell_size",
            f"A cell holds {len(text):,} characters (“{text[:40]}…”); a cell may hold "
            f"{bounds.cell_chars:,}.",
        )
    if "_x" in text:
        text = _ESCAPED.sub(lambda found: chr(int(found[1], 16)), text)
    stripped = text.strip()
    if not stripped:
        return BLANK
    return Cell(stripped, "error") if is_error_text(stripped) else Cell(text, "text", text)


def _check_declared(attributes: list[str], bounds: Bounds) -> None:
    for name in ("count", "uniqueCount"):
        declared = attribute(attributes, name)
        if declared and (not declared.isdecimal() or len(declared) > 7):
            raise TableRefused(
                "texts", f"The workbook declares {declared[:30]} texts, which no register has."
            )
    if int(attribute(attributes, "uniqueCount") or 0) > bounds.texts:
        raise _too_many_texts(bounds)


def _too_many_texts(bounds: Bounds) -> TableRefused:
    return TableRefused(
        "texts",
        f"The workbook holds more than {bounds.texts:,} different texts. Save the sheet as CSV, "
        "which may be longer.",
    )


def _formats(packed: zipfile.ZipFile, part: str, bounds: Bounds) -> tuple[str, ...]:
    """The number format of each cell style, by the style's place in the list."""
    own: dict[int, str] = {}
    styles: list[str] = []
    section = ""

    def start(name: str, attributes: list[str]) -> None:
        nonlocal section
        if name in ("numFmts", "cellXfs"):
            section = name
        elif name == "numFmt" and section == "numFmts":
            number = attribute(attributes, "numFmtId")
            if number.isdecimal():
                own[int(number[:9])] = attribute(attributes, "formatCode")[:255]
        elif name == "xf" and section == "cellXfs":
            number = attribute(attributes, "numFmtId") or "0"
            styles.append(format_code(int(number[:9]) if number.isdecimal() else 0, own))
            if len(styles) > bounds.formats:
                raise TableRefused("formats", "The workbook has too many cell styles.")

    def end(name: str) -> None:
        nonlocal section
        if name == section:
            section = ""

    with open_part(packed, part) as stream:
        parse(stream, start=start, end=end)
    return tuple(styles)
