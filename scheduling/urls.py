"""Addresses of scheduling."""

from django.urls import URLPattern, URLResolver

app_name = "scheduling"
urlpatterns: list[URLPattern | URLResolver] = []
