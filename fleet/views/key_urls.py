"""Addresses of API keys; hung into the app's own list."""

from django.urls import URLPattern, path

from fleet.navigation import Entry, add_entries
from fleet.views.keys import key_revoke, keys

key_urls: list[URLPattern] = [
    path("keys/", keys, name="keys"),
    path("keys/<row_id:key_id>/revoke/", key_revoke, name="key_revoke"),
]

# Whoever has a role may have keys; in the masthead they stand for those who set machines up.
add_entries(Entry(95, "API keys", "fleet:keys", "tag", "edit_machines", on_phone=False))
