"""The address of a recipe's readings; hung into the app's own list."""

from django.urls import URLPattern, path

from assemblies.views.readings import recipe_readings

reading_urls: list[URLPattern] = [
    path("recipes/<row_id:recipe_id>/readings/", recipe_readings, name="recipe_readings"),
]
