"""Addresses of readings and meters; hung into the app's own list."""

from django.urls import URLPattern, path

from fleet.navigation import Deed, Entry, add_deeds, add_entries
from fleet.views.meters import meter_add, meter_change, meter_rollover, meter_undo
from fleet.views.reading_history import reading_correct, reading_set_aside, readings
from fleet.views.stale_hours import stale_hours
from fleet.views.yard_readings import yard

reading_urls: list[URLPattern] = [
    path("readings/", yard, name="yard"),
    path("readings/stale/", stale_hours, name="stale_hours"),
    path("readings/<row_id:reading_id>/correct/", reading_correct, name="reading_correct"),
    path("readings/<row_id:reading_id>/aside/", reading_set_aside, name="reading_set_aside"),
    path("machines/<row_id:machine_id>/readings/", readings, name="readings"),
    path("machines/<row_id:machine_id>/meter/", meter_change, name="meter_change"),
    path("machines/<row_id:machine_id>/meter/undo/", meter_undo, name="meter_undo"),
    path("machines/<row_id:machine_id>/meter/rollover/", meter_rollover, name="meter_rollover"),
    path("machines/<row_id:machine_id>/meter/add/", meter_add, name="meter_add"),
]

add_entries(Entry(35, "Hours", "fleet:yard", "hours", "record_reading"))
add_deeds(
    "machine",
    Deed(12, "All readings", "fleet:readings"),
)
