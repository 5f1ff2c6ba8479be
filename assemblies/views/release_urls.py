"""Addresses of conditional releases; hung into the app's own list."""

from django.urls import URLPattern, path

from assemblies.views import releases
from fleet.navigation import Deed, add_deeds

release_urls: list[URLPattern] = [
    path("hoses/<row_id:hose_id>/release/", releases.release, name="release"),
    path("trials/<row_id:trial_id>/release/", releases.release_trial, name="release_trial"),
]

_RIGHT = "release_conditionally"
add_deeds("hose", Deed(75, "Release conditionally", "assemblies:release", _RIGHT))
