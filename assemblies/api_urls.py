"""Addresses of the API of positions and hoses, under /api/v1/."""

from django.urls import URLPattern, URLResolver, path

from assemblies.api.assemblies import AssemblyByTag
from assemblies.api.positions import OnePosition, Positions
from assemblies.api.stock import OneReel, Reels, Stock

app_name = "assemblies_api"
urlpatterns: list[URLPattern | URLResolver] = [
    path("positions/", Positions.as_view(), name="positions"),
    path("positions/<row_id:position_id>/", OnePosition.as_view(), name="position"),
    path("reels/", Reels.as_view(), name="reels"),
    path("reels/<row_id:reel_id>/", OneReel.as_view(), name="reel"),
    path("stock/", Stock.as_view(), name="stock"),
    path("assemblies/<str:tag>/", AssemblyByTag.as_view(), name="assembly"),
]
