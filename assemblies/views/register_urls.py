"""The addresses of the import; hung into the app's own list."""

from django.urls import URLPattern, path
from django.urls.converters import StringConverter, register_converter

from assemblies.views.register import (
    register,
    register_columns,
    register_confirm,
    register_drop,
    register_refused,
    registers,
)
from fleet.navigation import Entry, add_entries, stand_at


class TableForm(StringConverter):
    """The two forms of a table file."""

    regex = "csv|xlsx"


register_converter(TableForm, "table_form")

register_urls: list[URLPattern] = [
    path("registers/", registers, name="registers"),
    path("registers/<row_id:file_id>/", register, name="register"),
    path("registers/<row_id:file_id>/columns/", register_columns, name="register_columns"),
    path("registers/<row_id:file_id>/confirm/", register_confirm, name="register_confirm"),
    path("registers/<row_id:file_id>/drop/", register_drop, name="register_drop"),
    path(
        "registers/<row_id:file_id>/refused.<table_form:form>",
        register_refused,
        name="register_refused",
    ),
]

add_entries(Entry(50, "Import", "assemblies:registers", "bring", "import_register", on_phone=False))
stand_at(registers="assemblies:registers")
