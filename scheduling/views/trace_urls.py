"""Addresses of trace and recall; hung into the app's own list.

A source with a row of its own also has a route by its number alone, so that the pages below can
ask for its trace by `page_of "trace_reel" reel.pk`.
"""

from django.urls import URLPattern, path

from fleet.navigation import Deed, Entry, add_deeds, add_entries, stand_at
from scheduling.views import recalls, trace

_ROWS = (
    *("reel", "fitting_lot", "shell_lot", "recipe", "recipe_revision", "crimper", "instrument"),
    *("person", "trial"),
)
_WITHDRAWN = ("recipe_revision", "reel", "fitting_lot", "shell_lot")
_SOURCE = "<str:kind>/<path:key>/"
trace_urls: list[URLPattern] = [
    path("trace/", trace.trace, name="trace"),
    path(f"trace/file/{_SOURCE}", trace.trace_csv, name="trace_csv"),
    path(f"trace/withdraw/{_SOURCE}", recalls.source_withdraw, name="source_withdraw"),
    path(f"trace/recall/{_SOURCE}", recalls.recall_begin, name="recall_begin"),
    *(
        path(
            f"trace/{kind}/<row_id:own_id>/",
            trace.trace_row,
            {"kind": kind},
            name=f"trace_{kind}",
        )
        for kind in _ROWS
    ),
    *(
        path(
            f"trace/{kind}/<row_id:own_id>/withdraw/",
            recalls.row_withdraw,
            {"kind": kind},
            name=f"withdraw_{kind}",
        )
        for kind in _WITHDRAWN
    ),
    path(f"trace/{_SOURCE}", trace.trace_source, name="trace_source"),
    path("recalls/", recalls.recalls, name="recalls"),
    path("recalls/<row_id:recall_id>/", recalls.recall_page, name="recall"),
    path("recalls/<row_id:recall_id>/file/", recalls.recall_csv, name="recall_csv"),
    path("recalls/<row_id:recall_id>/end/", recalls.recall_end, name="recall_end"),
]

add_entries(Entry(58, "Trace", "scheduling:trace", "look", on_phone=False))
stand_at(**{f"trace_{kind}": f"scheduling:trace_{kind}" for kind in _ROWS})
stand_at(**{f"withdraw_{kind}": f"scheduling:withdraw_{kind}" for kind in _WITHDRAWN})
for _kind in _ROWS:
    add_deeds(_kind, Deed(60, "Trace its hoses", f"scheduling:trace_{_kind}"))
