"""Addresses of fleet."""

from django.urls import URLPattern, URLResolver, path

from fleet.navigation import Deed, add_deeds
from fleet.views.cautions import cautions
from fleet.views.key_urls import key_urls
from fleet.views.machines import machine_add, machine_change
from fleet.views.mount_urls import mount_urls
from fleet.views.photo_urls import photo_urls
from fleet.views.reading_urls import reading_urls
from fleet.views.readings import reading_add, reading_decide
from fleet.views.telematics_urls import telematics_urls

app_name = "fleet"
urlpatterns: list[URLPattern | URLResolver] = [
    path("cautions/", cautions, name="cautions"),
    path("machines/add/", machine_add, name="machine_add"),
    path("machines/<row_id:machine_id>/change/", machine_change, name="machine_change"),
    path("machines/<row_id:machine_id>/reading/", reading_add, name="reading_add"),
    path("readings/<row_id:reading_id>/", reading_decide, name="reading_decide"),
    *key_urls,
    *mount_urls,
    *photo_urls,
    *reading_urls,
    *telematics_urls,
]

add_deeds(
    "machine",
    Deed(10, "Add a reading", "fleet:reading_add", "record_reading"),
    Deed(80, "Change", "fleet:machine_change", "edit_machines"),
)
