"""Addresses of the catalogue, the specs and the recipes; hung into the app's own list."""

from django.urls import URLPattern, path, register_converter
from django.urls.converters import IntConverter, StringConverter

from assemblies.views import catalogue, recipes, specs
from fleet.navigation import Entry, add_entries, stand_at


class ItemKind(StringConverter):
    """The kinds of catalogue items, and nothing else."""

    regex = "hose|fitting|shell"


class RowId(IntConverter):
    """An id that every database can hold; a longer figure is no address."""

    regex = "[0-9]{1,18}"


class RevisionNumber(IntConverter):
    """The number of a revision, within what a column holds."""

    regex = "[0-9]{1,9}"


register_converter(ItemKind, "item_kind")
register_converter(RowId, "row")
register_converter(RevisionNumber, "revision")

_REVISION = "catalogue/<item_kind:slug>/<row:item_id>/revisions/<revision:number>/"
_SPEC = "specs/<row:spec_id>/revisions/<revision:number>/"
_RECIPE = "recipes/<row:recipe_id>/revisions/<revision:number>/"
catalogue_urls: list[URLPattern] = [
    path("catalogue/", catalogue.catalogue, name="catalogue"),
    path("catalogue/<item_kind:slug>/add/", catalogue.item_add, name="item_add"),
    path("catalogue/<item_kind:slug>/<row:item_id>/", catalogue.item, name="item"),
    path(
        "catalogue/<item_kind:slug>/<row:item_id>/draft/", catalogue.item_draft, name="item_draft"
    ),
    path(f"{_REVISION}change/", catalogue.item_change, name="item_change"),
    path(f"{_REVISION}approve/", catalogue.item_approve, name="item_approve"),
    path(f"{_REVISION}withdraw/", catalogue.item_withdraw, name="item_withdraw"),
    path("specs/", specs.specs, name="specs"),
    path("specs/add/", specs.spec_add, name="spec_add"),
    path("specs/<row:spec_id>/", specs.spec, name="spec"),
    path("specs/<row:spec_id>/draft/", specs.spec_draft, name="spec_draft"),
    path(_SPEC, specs.spec, name="spec_revision"),
    path(f"{_SPEC}change/", specs.spec_change, name="spec_change"),
    path(f"{_SPEC}copy/", specs.spec_copy, name="spec_copy"),
    path(f"{_SPEC}approve/", specs.spec_approve, name="spec_approve"),
    path(f"{_SPEC}withdraw/", specs.spec_withdraw, name="spec_withdraw"),
    path("recipes/add/", recipes.recipe_add, name="recipe_add"),
    path("recipes/<row:recipe_id>/", recipes.recipe, name="recipe"),
    path("recipes/<row:recipe_id>/draft/", recipes.recipe_draft, name="recipe_draft"),
    path(f"{_RECIPE}change/", recipes.recipe_change, name="recipe_change"),
    path(f"{_RECIPE}approve/", recipes.recipe_approve, name="recipe_approve"),
    path(f"{_RECIPE}withdraw/", recipes.recipe_withdraw, name="recipe_withdraw"),
]

add_entries(
    Entry(50, "Specs", "assemblies:specs", "sheet", on_phone=False),
    Entry(60, "Catalogue", "assemblies:catalogue", "hose", on_phone=False),
)
stand_at(catalogue="assemblies:catalogue", specs="assemblies:specs", spec="assemblies:spec")
