"""Addresses of rounds; hung into the app's own list."""

from django.urls import URLPattern, path

from fleet.navigation import Deed, Entry, add_deeds, add_entries
from scheduling.views import baselining, round_deeds, rounds
from scheduling.views.rounds_worker import rounds_worker

_ROUND = "rounds/<row_id:round_id>/"
round_urls: list[URLPattern] = [
    path("rounds/", rounds.rounds, name="rounds"),
    path("rounds-worker.js", rounds_worker, name="rounds_worker"),
    path("machines/<row_id:machine_id>/round/", rounds.round_begin, name="round_begin"),
    path(_ROUND, rounds.round_walk, name="round"),
    path(f"{_ROUND}hoses/<row_id:hose_id>/", rounds.round_hose, name="round_hose"),
    path(f"{_ROUND}look/", round_deeds.round_look, name="round_look"),
    path(f"{_ROUND}rest/", round_deeds.round_rest, name="round_rest"),
    path(f"{_ROUND}back/", round_deeds.round_back, name="round_back"),
    path(
        "machines/<row_id:machine_id>/register/", baselining.register_begin, name="register_begin"
    ),
    path(f"{_ROUND}place/", baselining.register_place, name="register_place"),
    path(f"{_ROUND}register/", baselining.register_told, name="register_told"),
    path(f"{_ROUND}empty/", baselining.register_empty, name="register_empty"),
    path("hoses/<row_id:hose_id>/meant/", baselining.reading_meant, name="reading_meant"),
    path(f"{_ROUND}finish/", rounds.round_finish, name="round_finish"),
]

add_entries(Entry(33, "Rounds", "scheduling:rounds", "look"))
add_deeds(
    "machine",
    Deed(20, "Inspect", "scheduling:round_begin", "inspect"),
    Deed(80, "Register its hoses", "scheduling:register_begin", "fit_hoses"),
)
