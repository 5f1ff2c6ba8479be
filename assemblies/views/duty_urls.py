"""The address of the duty check; hung into the app's own list."""

from django.urls import URLPattern, path

from assemblies.views.duty import duty
from fleet.navigation import Deed, add_deeds

duty_urls: list[URLPattern] = [
    path("positions/<row_id:position_id>/duty/", duty, name="duty"),
]

add_deeds("position", Deed(40, "Hold its duty against the spec", "assemblies:duty"))
