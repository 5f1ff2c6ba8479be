"""How much of a file is read. Beyond a bound the file is refused, never cut."""

from dataclasses import dataclass

MEGABYTE = 1_000_000


@dataclass(frozen=True)
class Bounds:
    """Limits of one file. The defaults are the project's own choice."""

    workbook_bytes: int = 20 * MEGABYTE
    unpacked_bytes: int = 64 * MEGABYTE
    members: int = 1_000
    directory_bytes: int = 1 * MEGABYTE
    elements: int = 2_300_000
    nesting: int = 40
    tag_bytes: int = 262_144
    sheets: int = 200
    texts: int = 400_000
    formats: int = 70_000
    # 20,000 hoses, and room for titles, headings and totals between them.
    rows: int = 21_000
    columns: int = 200
    cells: int = 1_000_000
    merges: int = 50_000
    merged_area: int = 4_200_000
    csv_bytes: int = 100 * MEGABYTE
    csv_rows: int = 500_000
    line_chars: int = 1 * MEGABYTE
    cell_chars: int = 32_767


BOUNDS = Bounds()
