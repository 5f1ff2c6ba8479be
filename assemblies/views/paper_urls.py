"""Addresses of the papers; hung into the app's own list."""

from django.urls import URLPattern, path

from assemblies.views import books, certificates, fitting_sheets, labels, sheets
from fleet.navigation import Deed, Entry, add_deeds, add_entries

_SHEET = "sheets/<row_id:site_id>/<row_id:number>/"
_FITTING = "fitting-sheets/<row_id:paper_id>/"
_CERTIFICATE = "certificates/<row_id:paper_id>/"
paper_urls: list[URLPattern] = [
    # The codes on papers speak in capitals, which need fewer squares.
    path("S/<row_id:revision_id>", sheets.spec_by_code, name="spec_by_code"),
    path("B/<row_id:site_id>/<row_id:number>", sheets.sheet_by_code, name="sheet_by_code"),
    path(
        "F/<row_id:site_id>/<row_id:number>",
        fitting_sheets.fitting_sheet_by_code,
        name="fitting_sheet_by_code",
    ),
    path(
        "C/<row_id:site_id>/<row_id:number>",
        certificates.certificate_by_code,
        name="certificate_by_code",
    ),
    path("specs/<row_id:spec_id>/sheet/", sheets.spec_sheet, name="spec_sheet"),
    path("positions/<row_id:position_id>/sheet/", sheets.position_sheet, name="position_sheet"),
    path("hoses/<row_id:hose_id>/sheet/", sheets.hose_sheet, name="hose_sheet"),
    path(_SHEET, sheets.sheet, name="sheet"),
    path(f"{_SHEET}pdf/", sheets.sheet_pdf, name="sheet_pdf"),
    path(
        "positions/<row_id:position_id>/fitting-sheet/",
        fitting_sheets.position_fitting_sheet,
        name="position_fitting_sheet",
    ),
    path(
        "hoses/<row_id:hose_id>/fitting-sheet/",
        fitting_sheets.hose_fitting_sheet,
        name="hose_fitting_sheet",
    ),
    path(_FITTING, fitting_sheets.fitting_sheet, name="fitting_sheet"),
    path(f"{_FITTING}pdf/", fitting_sheets.fitting_sheet_pdf, name="fitting_sheet_pdf"),
    path(
        "hoses/<row_id:hose_id>/certificate/",
        certificates.hose_certificate,
        name="hose_certificate",
    ),
    path(_CERTIFICATE, certificates.certificate, name="certificate"),
    path(f"{_CERTIFICATE}pdf/", certificates.certificate_pdf, name="certificate_pdf"),
    path("machines/<row_id:machine_id>/book/", books.machine_book, name="machine_book"),
    path("books/<row_id:errand_id>/", books.book, name="book"),
    path("books/<row_id:errand_id>/pdf/", books.book_pdf, name="book_pdf"),
    path("labels/", labels.labels, name="labels"),
    path("labels/lots/<row_id:lot_id>/", labels.lot_labels, name="lot_labels"),
    path("hoses/<row_id:hose_id>/label/", labels.hose_label, name="hose_label"),
    path("machines/<row_id:machine_id>/labels/", labels.machine_labels, name="machine_labels"),
]

add_entries(Entry(55, "Tags", "assemblies:labels", "tag", "fit_hoses", on_phone=False))
add_deeds(
    "hose",
    Deed(40, "Build another like it", "assemblies:hose_sheet"),
    Deed(45, "Print its label", "assemblies:hose_label"),
    Deed(46, "Fitting-up sheet", "assemblies:hose_fitting_sheet"),
    Deed(47, "Test certificate", "assemblies:hose_certificate"),
)
add_deeds(
    "position",
    Deed(40, "Build sheet", "assemblies:position_sheet"),
    Deed(45, "Fitting-up sheet", "assemblies:position_fitting_sheet"),
)
add_deeds(
    "machine",
    Deed(40, "Hose book", "assemblies:machine_book"),
    Deed(45, "Labels", "assemblies:machine_labels"),
)
