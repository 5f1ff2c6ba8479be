"""Addresses of failures and time down; hung into the app's own list."""

from django.urls import URLPattern, path

from fleet.navigation import Deed, Entry, add_deeds, add_entries
from scheduling.views import failures

failure_urls: list[URLPattern] = [
    path("failures/report/", failures.failure_report, name="failure_report"),
    path("failures/<row_id:failure_id>/", failures.failure, name="failure"),
    path(
        "failures/<row_id:failure_id>/complete/", failures.failure_complete, name="failure_complete"
    ),
    path("hoses/<row_id:hose_id>/failure/", failures.hose_failure, name="hose_failure"),
    path("machines/<row_id:machine_id>/failure/", failures.machine_failure, name="machine_failure"),
    path("machines/<row_id:machine_id>/stands/", failures.machine_stands, name="machine_stands"),
    path("downtimes/<row_id:downtime_id>/runs/", failures.machine_runs, name="machine_runs"),
]

add_entries(Entry(25, "Failed", "scheduling:failure_report", "out", "report_failures"))
add_deeds("hose", Deed(15, "Report a failure", "scheduling:hose_failure", "report_failures"))
add_deeds(
    "machine",
    Deed(20, "Report a failure", "scheduling:machine_failure", "report_failures"),
    Deed(70, "It stands", "scheduling:machine_stands", "report_failures"),
)
