"""Addresses of API keys; hung into the app's own list."""

from django.urls import URLPattern, path

from fleet.views.keys import key_revoke, keys

key_urls: list[URLPattern] = [
    path("keys/", keys, name="keys"),
    path("keys/<int:key_id>/revoke/", key_revoke, name="key_revoke"),
]
