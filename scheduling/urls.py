"""Addresses of scheduling."""

from django.urls import URLPattern, URLResolver, path

from fleet.navigation import Entry, add_entries, stand_at
from scheduling.views.due import due, due_csv
from scheduling.views.hoses import find, hose, hose_by_tag
from scheduling.views.machines import machine, machines
from scheduling.views.positions import position
from scheduling.views.to_settle import doubtful, untagged
from scheduling.views.today import today
from scheduling.views.why import why

app_name = "scheduling"
urlpatterns: list[URLPattern | URLResolver] = [
    path("", today, name="today"),
    path("find/", find, name="find"),
    path("t/<str:typed>", hose_by_tag, name="hose_by_tag"),
    path("hoses/<int:hose_id>/", hose, name="hose"),
    path("hoses/<int:hose_id>/why/", why, name="why"),
    path("machines/", machines, name="machines"),
    path("machines/<int:machine_id>/", machine, name="machine"),
    path("positions/<int:position_id>/", position, name="position"),
    path("due/", due, name="due"),
    path("due/export.csv", due_csv, name="due_csv"),
    path("untagged/", untagged, name="untagged"),
    path("doubtful/", doubtful, name="doubtful"),
]

add_entries(
    Entry(10, "Today", "scheduling:today", "today"),
    Entry(20, "Due", "scheduling:due", "due"),
    Entry(30, "Machines", "scheduling:machines", "machine"),
)
stand_at(
    find="scheduling:find",
    machine="scheduling:machine",
    machines="scheduling:machines",
    position="scheduling:position",
    hose="scheduling:hose",
)
