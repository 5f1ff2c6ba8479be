"""Addresses of the stock, the workshop's tools and the search; hung into the app's own list."""

from django.urls import URLPattern, path

from assemblies.views import look_up, reels, stock, tools
from fleet.navigation import Entry, add_entries, stand_at

_REEL = "reels/<row_id:reel_id>/"
_ITEM = "stock/<row_id:item_id>/"
stock_urls: list[URLPattern] = [
    path("look-up/", look_up.look_up, name="look_up"),
    path("reels/", reels.reels, name="reels"),
    path("reels/receive/", reels.reel_receive, name="reel_receive"),
    path(_REEL, reels.reel, name="reel"),
    path(f"{_REEL}date/", reels.reel_date, name="reel_date"),
    path("stock/", stock.stock, name="stock"),
    path("stock/short/", stock.stock_short, name="stock_short"),
    path("stock/receive/", stock.stock_receive, name="stock_receive"),
    path(_ITEM, stock.stock_item, name="stock_item"),
    path(f"{_ITEM}move/", stock.stock_move, name="stock_move"),
    path(f"{_ITEM}level/", stock.stock_level, name="stock_level"),
    path(f"{_ITEM}withdraw/", stock.stock_withdraw, name="stock_withdraw"),
    path("tools/", tools.tools, name="tools"),
]
for _kind in ("crimper", "instrument"):
    _one, _is = f"tools/{_kind}s/<row_id:tool_id>/", {"kind": _kind}
    stock_urls += [
        path(f"tools/{_kind}s/add/", tools.tool_add, _is, name=f"{_kind}_add"),
        path(_one, tools.tool, _is, name=_kind),
        path(f"{_one}change/", tools.tool_change, _is, name=f"{_kind}_change"),
        path(f"{_one}calibrate/", tools.tool_calibrate, _is, name=f"{_kind}_calibrate"),
        path(f"{_one}withdraw/", tools.tool_withdraw, _is, name=f"{_kind}_withdraw"),
    ]

add_entries(Entry(62, "Stock", "assemblies:reels", "store", on_phone=False))
stand_at(
    reel="assemblies:reel",
    fitting_lot="assemblies:stock_item",
    shell_lot="assemblies:stock_item",
    crimper="assemblies:crimper",
    instrument="assemblies:instrument",
    runs_out="assemblies:stock_short",
    look_up="assemblies:look_up",
)
