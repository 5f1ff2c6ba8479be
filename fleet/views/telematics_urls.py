"""Addresses of telematics; hung into the app's own list."""

from django.urls import URLPattern, path

from fleet.views.telematics import (
    source,
    source_add,
    source_ask,
    source_change,
    source_withdraw,
    telematics,
)
from fleet.views.telematics_matches import (
    match,
    match_proposed,
    match_set_aside,
    match_take_back,
    unmatched,
)

telematics_urls: list[URLPattern] = [
    path("telematics/", telematics, name="telematics"),
    path("telematics/add/", source_add, name="source_add"),
    path("telematics/machines/", unmatched, name="unmatched"),
    path("telematics/machines/<row_id:seen_id>/", match, name="match"),
    path("telematics/machines/<row_id:seen_id>/back/", match_take_back, name="match_take_back"),
    path("telematics/machines/<row_id:seen_id>/aside/", match_set_aside, name="match_set_aside"),
    path(
        "telematics/machines/<row_id:seen_id>/is/<row_id:machine_id>/",
        match_proposed,
        name="match_proposed",
    ),
    path("telematics/<row_id:source_id>/", source, name="source"),
    path("telematics/<row_id:source_id>/change/", source_change, name="source_change"),
    path("telematics/<row_id:source_id>/withdraw/", source_withdraw, name="source_withdraw"),
    path("telematics/<row_id:source_id>/ask/", source_ask, name="source_ask"),
]
