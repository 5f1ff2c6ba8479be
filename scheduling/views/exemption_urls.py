"""Addresses of exemptions; hung into the app's own list."""

from django.urls import URLPattern, path

from fleet.navigation import Deed, Entry, add_deeds, add_entries
from scheduling.views import exemptions

_ONE = "exemptions/<row_id:exemption_id>/"
exemption_urls: list[URLPattern] = [
    path("exemptions/", exemptions.exemptions, name="exemptions"),
    path("exemptions/add/", exemptions.exemption_add, name="exemption_add"),
    path(_ONE, exemptions.exemption, name="exemption"),
    path(f"{_ONE}end/", exemptions.exemption_end, name="exemption_end"),
    path("hoses/<row_id:hose_id>/exempt/", exemptions.exemption_hose, name="exemption_hose"),
    path(
        "positions/<row_id:position_id>/exempt/",
        exemptions.exemption_position,
        name="exemption_position",
    ),
]

add_entries(Entry(61, "Exemptions", "scheduling:exemptions", "note", on_phone=False))
add_deeds("hose", Deed(80, "Grant an exemption", "scheduling:exemption_hose", "approve_rules"))
add_deeds(
    "position",
    Deed(80, "Exempt this position", "scheduling:exemption_position", "approve_rules"),
)
