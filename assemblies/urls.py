"""Addresses of assemblies."""

from django.urls import URLPattern, URLResolver, path

from assemblies.views.build_urls import build_urls
from assemblies.views.catalogue_urls import catalogue_urls
from assemblies.views.copy_urls import copy_urls
from assemblies.views.duty_urls import duty_urls
from assemblies.views.fitting_up import fit, swap, tag, take_off
from assemblies.views.paper_urls import paper_urls
from assemblies.views.positions import position_add, position_change
from assemblies.views.reading_urls import reading_urls
from assemblies.views.register_urls import register_urls
from assemblies.views.release_urls import release_urls
from assemblies.views.scrap_urls import scrap_urls
from assemblies.views.stock_urls import stock_urls
from assemblies.views.trial_urls import trial_urls
from fleet.navigation import Deed, add_deeds

app_name = "assemblies"
urlpatterns: list[URLPattern | URLResolver] = [
    path("machines/<row_id:machine_id>/positions/add/", position_add, name="position_add"),
    path("positions/<row_id:position_id>/change/", position_change, name="position_change"),
    path("positions/<row_id:position_id>/fit/", fit, name="fit"),
    path("positions/<row_id:position_id>/swap/", swap, name="swap"),
    path("positions/<row_id:position_id>/take-off/", take_off, name="take_off"),
    path("hoses/<row_id:hose_id>/tag/", tag, name="tag"),
    *catalogue_urls,
    *trial_urls,
    *build_urls,
    *reading_urls,
    *copy_urls,
    *duty_urls,
    *paper_urls,
    *register_urls,
    *release_urls,
    *scrap_urls,
    *stock_urls,
]

add_deeds(
    "position",
    Deed(10, "Fit a hose", "assemblies:fit", "fit_hoses"),
    Deed(20, "Swap the hose", "assemblies:swap", "fit_hoses"),
    Deed(70, "Change the position", "assemblies:position_change", "edit_machines"),
    Deed(90, "Take the hose off", "assemblies:take_off", "fit_hoses", grave=True),
)
add_deeds("hose", Deed(20, "Bind a tag", "assemblies:tag", "fit_hoses"))
