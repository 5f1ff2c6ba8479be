"""Addresses of the report and the life studies; hung into the app's own list."""

from django.urls import URLPattern, path

from fleet.navigation import Entry, add_entries
from scheduling.views import rates, reports, studies, trends

report_urls: list[URLPattern] = [
    path("report/", reports.report, name="report"),
    path("report/pdf/", reports.report_pdf, name="report_pdf"),
    path("report/xlsx/", reports.report_xlsx, name="report_xlsx"),
    path("report/failures/", reports.report_failures, name="report_failures"),
    path("report/time-down/", reports.report_downtimes, name="report_downtimes"),
    path("report/changed/", reports.report_changes, name="report_changes"),
    path("report/rates/", rates.rates, name="rates"),
    path("machines/<row_id:machine_id>/trend/", trends.machine_trend, name="machine_trend"),
    path("positions/<row_id:position_id>/trend/", trends.position_trend, name="position_trend"),
    path("studies/", studies.studies, name="studies"),
    path("studies/add/", studies.study_add, name="study_add"),
    path("studies/<row_id:study_id>/", studies.study, name="study"),
    path("studies/<row_id:study_id>/rule/", studies.study_rule, name="study_rule"),
]

add_entries(
    Entry(40, "Report", "scheduling:report", "note", "read_costs", on_phone=False),
    Entry(72, "Studies", "scheduling:studies", "hours", "read_costs", on_phone=False),
)
