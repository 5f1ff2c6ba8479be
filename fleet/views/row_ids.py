"""Row numbers in addresses: no longer than a database can hold, so that a long one is unknown."""

from django.urls import register_converter
from django.urls.converters import IntConverter


class RowId(IntConverter):
    """A whole number below 10¹⁸: `<row_id:machine_id>`."""

    regex = "[0-9]{1,18}"


register_converter(RowId, "row_id")
