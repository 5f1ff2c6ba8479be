"""Addresses of catch-up plans; hung into the app's own list."""

from django.urls import URLPattern, path

from fleet.navigation import Entry, add_entries
from scheduling.views import catch_up

catch_up_urls: list[URLPattern] = [
    path("catch-up/", catch_up.catch_ups, name="catch_ups"),
    path("catch-up/add/", catch_up.catch_up_add, name="catch_up_add"),
    path("catch-up/<row_id:plan_id>/", catch_up.catch_up, name="catch_up"),
    path("catch-up/<row_id:plan_id>/plan.csv", catch_up.catch_up_file, name="catch_up_file"),
    path("catch-up/<row_id:plan_id>/end/", catch_up.catch_up_end, name="catch_up_end"),
]

add_entries(Entry(62, "Catch-up", "scheduling:catch_ups", "due", on_phone=False))
