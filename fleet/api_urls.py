"""Addresses of the fleet's API, under /api/v1/."""

from django.urls import URLPattern, URLResolver, path

from fleet.api.machines import Machines, OneMachine
from fleet.api.published import Description
from fleet.api.reading_batches import AllReadings
from fleet.api.readings import Readings

app_name = "fleet_api"
urlpatterns: list[URLPattern | URLResolver] = [
    path("machines/", Machines.as_view(), name="machines"),
    path("machines/<row_id:machine_id>/", OneMachine.as_view(), name="machine"),
    path("machines/<row_id:machine_id>/readings/", Readings.as_view(), name="readings"),
    path("readings/", AllReadings.as_view(), name="all_readings"),
    path("schema/", Description.as_view(), name="schema"),
]
