"""Addresses of crimp trials; hung into the app's own list."""

from django.urls import URLPattern, path

from assemblies.views import trial_deeds, trials
from fleet.navigation import Entry, add_entries, stand_at

_TRIAL = "trials/<row_id:trial_id>/"
trial_urls: list[URLPattern] = [
    path("trials/", trials.trials, name="trials"),
    path("trials/begin/", trials.trial_begin, name="trial_begin"),
    path(_TRIAL, trials.trial, name="trial"),
    path(f"{_TRIAL}press/", trial_deeds.trial_press, name="trial_press"),
    path(f"{_TRIAL}undo/", trial_deeds.trial_undo, name="trial_undo"),
    path(f"{_TRIAL}close/", trial_deeds.trial_close, name="trial_close"),
    path(f"{_TRIAL}proof/", trial_deeds.trial_proof, name="trial_proof"),
    path(f"{_TRIAL}recipe/", trial_deeds.trial_recipe, name="trial_recipe"),
    path("recipes/<row_id:recipe_id>/trials/", trials.recipe_trials, name="recipe_trials"),
]

add_entries(Entry(55, "Trials", "assemblies:trials", "bench", on_phone=False))
stand_at(trials="assemblies:trials", trial="assemblies:trial")
