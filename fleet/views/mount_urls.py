"""The address of an attachment's moves; hung into the app's own list."""

from django.urls import URLPattern, path

from fleet.views.mounts import mount

mount_urls: list[URLPattern] = [
    path("machines/<row_id:machine_id>/carrier/", mount, name="mount"),
]
