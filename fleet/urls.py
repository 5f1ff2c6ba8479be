"""Addresses of fleet."""

from django.urls import URLPattern, URLResolver

app_name = "fleet"
urlpatterns: list[URLPattern | URLResolver] = []
