"""Addresses of the bench; hung into the app's own list."""

from django.urls import URLPattern, path

from assemblies.views import bench, builds
from fleet.navigation import Entry, add_entries, stand_at

_SHEET = "sheets/<row_id:site_id>/<row_id:number>/"
_BUILD = "builds/<row_id:build_id>/"
_BATCH = "batches/<row_id:batch_id>/"
build_urls: list[URLPattern] = [
    path("bench/", bench.bench, name="bench"),
    path(f"{_SHEET}begin/", bench.sheet_begin, name="sheet_begin"),
    path(f"{_SHEET}aside/", bench.sheet_aside, name="sheet_aside"),
    path(_BATCH, bench.batch, name="batch"),
    path(f"{_BATCH}first-off/", bench.batch_first_off, name="batch_first_off"),
    path(f"{_BATCH}sign/", bench.batch_sign, name="batch_sign"),
    path(_BUILD, builds.build, name="build"),
    path(f"{_BUILD}judge/", builds.build_judge, name="build_judge"),
    path(f"{_BUILD}sign/", builds.build_sign, name="build_sign"),
    path(f"{_BUILD}scrap/", builds.build_scrap, name="build_scrap"),
    path(f"{_BUILD}amend/", builds.build_amend, name="build_amend"),
]

add_entries(Entry(25, "Bench", "assemblies:bench", "bench", "build"))
stand_at(bench="assemblies:bench", batch="assemblies:batch", build="assemblies:build")
