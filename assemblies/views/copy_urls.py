"""Addresses of measured hoses; hung into the app's own list."""

from django.urls import URLPattern, path

from assemblies.views import copies, measuring
from fleet.navigation import Deed, add_deeds

_COPY = "measured-hoses/<row_id:copy_id>/"
copy_urls: list[URLPattern] = [
    path("measured-hoses/", copies.measured_hoses, name="measured_hoses"),
    path("measured-hoses/measure/", measuring.measure, name="measure"),
    path(_COPY, copies.measured_hose, name="measured_hose"),
    path(f"{_COPY}photos/", copies.measured_photos, name="measured_photos"),
    path(f"{_COPY}spec/", copies.measured_spec, name="measured_spec"),
    path(f"{_COPY}set-aside/", copies.measured_set_aside, name="measured_set_aside"),
    path("positions/<row_id:position_id>/measure/", measuring.measure_position, name="measure_at"),
    path("hoses/<row_id:hose_id>/measure/", measuring.measure_hose, name="measure_hose"),
    path("hoses/<row_id:hose_id>/copy/", copies.hose_copy, name="hose_copy"),
]

# Who builds and who keeps the catalogue both fit hoses; each page asks for its own right again.
add_deeds("position", Deed(60, "Measure the old hose", "assemblies:measure_at", "fit_hoses"))
add_deeds("hose", Deed(60, "Copy to a spec", "assemblies:hose_copy", "fit_hoses"))
