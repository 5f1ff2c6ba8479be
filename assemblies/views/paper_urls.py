"""Addresses of the papers; hung into the app's own list."""

from django.urls import URLPattern, path, register_converter

from assemblies.views import books, labels, sheets
from assemblies.views.catalogue_urls import RowId
from fleet.navigation import Deed, Entry, add_deeds, add_entries

register_converter(RowId, "paper_row")

_SHEET = "sheets/<paper_row:site_id>/<paper_row:number>/"
paper_urls: list[URLPattern] = [
    # The codes on papers speak in capitals, which need fewer squares.
    path("S/<paper_row:revision_id>", sheets.spec_by_code, name="spec_by_code"),
    path("B/<paper_row:site_id>/<paper_row:number>", sheets.sheet_by_code, name="sheet_by_code"),
    path("specs/<paper_row:spec_id>/sheet/", sheets.spec_sheet, name="spec_sheet"),
    path("positions/<paper_row:position_id>/sheet/", sheets.position_sheet, name="position_sheet"),
    path("hoses/<paper_row:hose_id>/sheet/", sheets.hose_sheet, name="hose_sheet"),
    path(_SHEET, sheets.sheet, name="sheet"),
    path(f"{_SHEET}pdf/", sheets.sheet_pdf, name="sheet_pdf"),
    path("machines/<paper_row:machine_id>/book/", books.machine_book, name="machine_book"),
    path("books/<paper_row:errand_id>/", books.book, name="book"),
    path("books/<paper_row:errand_id>/pdf/", books.book_pdf, name="book_pdf"),
    path("labels/", labels.labels, name="labels"),
    path("labels/lots/<paper_row:lot_id>/", labels.lot_labels, name="lot_labels"),
    path("hoses/<paper_row:hose_id>/label/", labels.hose_label, name="hose_label"),
    path("machines/<paper_row:machine_id>/labels/", labels.machine_labels, name="machine_labels"),
]

add_entries(Entry(55, "Tags", "assemblies:labels", "tag", "fit_hoses", on_phone=False))
add_deeds(
    "hose",
    Deed(40, "Build another like it", "assemblies:hose_sheet"),
    Deed(45, "Print its label", "assemblies:hose_label"),
)
add_deeds("position", Deed(40, "Build sheet", "assemblies:position_sheet"))
add_deeds(
    "machine",
    Deed(40, "Hose book", "assemblies:machine_book"),
    Deed(45, "Labels", "assemblies:machine_labels"),
)
