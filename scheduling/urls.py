"""Addresses of scheduling."""

from django.urls import URLPattern, URLResolver, path

from fleet.navigation import Deed, Entry, add_deeds, add_entries, stand_at
from scheduling.views.catch_up_urls import catch_up_urls
from scheduling.views.due import due, due_csv
from scheduling.views.exemption_urls import exemption_urls
from scheduling.views.failure_urls import failure_urls
from scheduling.views.hoses import find, hose, hose_by_tag
from scheduling.views.inspections import deal_with, inspect
from scheduling.views.machines import machine, machines
from scheduling.views.positions import position
from scheduling.views.report_urls import report_urls
from scheduling.views.round_urls import round_urls
from scheduling.views.rule_pages import rule, rule_try
from scheduling.views.rules import rule_add, rule_approve, rule_revise, rule_withdraw, rules
from scheduling.views.to_settle import doubtful, failures, untagged
from scheduling.views.today import today
from scheduling.views.trace_urls import trace_urls
from scheduling.views.why import why

app_name = "scheduling"
urlpatterns: list[URLPattern | URLResolver] = [
    path("", today, name="today"),
    path("find/", find, name="find"),
    path("t/<str:typed>", hose_by_tag, name="hose_by_tag"),
    path("T/<str:typed>", hose_by_tag),  # a code in capitals needs fewer squares
    path("hoses/<row_id:hose_id>/", hose, name="hose"),
    path("hoses/<row_id:hose_id>/why/", why, name="why"),
    path("hoses/<row_id:hose_id>/inspect/", inspect, name="inspect"),
    path("findings/<row_id:finding_id>/", deal_with, name="deal_with"),
    path("machines/", machines, name="machines"),
    path("machines/<row_id:machine_id>/", machine, name="machine"),
    path("positions/<row_id:position_id>/", position, name="position"),
    path("due/", due, name="due"),
    path("due/export.csv", due_csv, name="due_csv"),
    path("rules/", rules, name="rules"),
    path("rules/add/", rule_add, name="rule_add"),
    path("rules/<row_id:rule_id>/", rule, name="rule"),
    path("rules/<row_id:rule_id>/try/", rule_try, name="rule_try"),
    path("rules/<row_id:rule_id>/revise/", rule_revise, name="rule_revise"),
    path("rules/<row_id:rule_id>/approve/", rule_approve, name="rule_approve"),
    path("rules/<row_id:rule_id>/withdraw/", rule_withdraw, name="rule_withdraw"),
    *round_urls,
    *catch_up_urls,
    *exemption_urls,
    path("failures/", failures, name="failures"),
    *failure_urls,
    *report_urls,
    path("untagged/", untagged, name="untagged"),
    *trace_urls,
    path("doubtful/", doubtful, name="doubtful"),
]

add_entries(
    Entry(10, "Today", "scheduling:today", "today"),
    Entry(20, "Due", "scheduling:due", "due", on_phone=False),
    Entry(30, "Machines", "scheduling:machines", "machine"),
    Entry(60, "Rules", "scheduling:rules", "hours", "edit_rules", on_phone=False),
)
stand_at(
    find="scheduling:find",
    machine="scheduling:machine",
    machines="scheduling:machines",
    position="scheduling:position",
    hose="scheduling:hose",
    finding="scheduling:deal_with",
    doubtful="scheduling:doubtful",
)
add_deeds("hose", Deed(10, "Inspect", "scheduling:inspect", "inspect"))
