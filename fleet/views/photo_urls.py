"""Addresses of photos; hung into the app's own list."""

from django.urls import URLPattern, path

from fleet.views.photos import photo

photo_urls: list[URLPattern] = [path("photos/<row_id:photo_id>/", photo, name="photo")]
