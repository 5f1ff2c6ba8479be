"""Addresses of assemblies."""

from django.urls import URLPattern, URLResolver

app_name = "assemblies"
urlpatterns: list[URLPattern | URLResolver] = []
