"""Addresses of the API of dues, under /api/v1/."""

from django.urls import URLPattern, URLResolver, path

from scheduling.api.dues import Dues

app_name = "scheduling_api"
urlpatterns: list[URLPattern | URLResolver] = [path("dues/", Dues.as_view(), name="dues")]
