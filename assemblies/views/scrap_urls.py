"""Address of the page that scraps a hose; hung into the app's own list."""

from django.urls import URLPattern, path

from assemblies.views.scrapping import scrap
from fleet.navigation import Deed, add_deeds

scrap_urls: list[URLPattern] = [path("hoses/<row_id:hose_id>/scrap/", scrap, name="scrap")]

add_deeds("hose", Deed(95, "Scrap it", "assemblies:scrap", "fit_hoses", grave=True))
