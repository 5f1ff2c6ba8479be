"""A hose by its own tag, over the API."""

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.exceptions import NotFound
from rest_framework.request import Request
from rest_framework.response import Response

from assemblies.calc.tags import NotATag, check_tag
from assemblies.queries.assembly_facts import assembly_by_tag
from fleet.api.endpoint import Endpoint
from fleet.api.inputs import NoParameters
from fleet.api.problems import BadRequest


class PlaceOut(serializers.Serializer[Any]):
    """Where a hose is now: bench, store, position or scrapped."""

    place = serializers.CharField()
    site = serializers.CharField()
    store_place = serializers.CharField()
    machine_id = serializers.IntegerField(allow_null=True)
    machine = serializers.CharField()
    position_id = serializers.IntegerField(allow_null=True)
    position = serializers.CharField()
    from_earliest_on = serializers.DateField(allow_null=True)
    from_latest_on = serializers.DateField(allow_null=True)
    from_machine_h = serializers.DecimalField(9, 1, allow_null=True)


class AssemblyOut(serializers.Serializer[Any]):
    """One hose with ends on. What isn't known is null or empty, never guessed."""

    id = serializers.IntegerField()
    tag = serializers.CharField()
    owner_mark = serializers.CharField()
    site = serializers.CharField()
    origin = serializers.CharField()
    condition = serializers.CharField()
    spec = serializers.CharField()
    spec_revision = serializers.IntegerField(allow_null=True)
    hose_type = serializers.CharField()
    size_dn = serializers.IntegerField(allow_null=True)
    length_mm = serializers.DecimalField(8, 1, allow_null=True)
    end_a = serializers.CharField()
    end_b = serializers.CharField()
    layline = serializers.CharField()
    working_pressure_bar = serializers.DecimalField(8, 2, allow_null=True)
    rating = serializers.CharField(help_text="What binds the pressure, or why it isn't known.")
    made_earliest_on = serializers.DateField(allow_null=True)
    made_latest_on = serializers.DateField(allow_null=True)
    made_precision = serializers.CharField()
    built_earliest_on = serializers.DateField(allow_null=True)
    built_latest_on = serializers.DateField(allow_null=True)
    built_precision = serializers.CharField()
    known_from_on = serializers.DateField()
    earlier_h = serializers.DecimalField(9, 1, help_text="Hours of its closed stays.")
    version = serializers.IntegerField()
    where = PlaceOut(allow_null=True)


class AssemblyByTag(Endpoint):
    """The hose that carries a tag."""

    @extend_schema(operation_id="assembly_by_tag", responses=AssemblyOut)
    def get(self, request: Request, tag: str) -> Response:
        NoParameters.read(request)
        try:
            found = assembly_by_tag(self.person, check_tag(tag))
        except NotATag as error:
            raise BadRequest("not_a_tag", f"{error}.".capitalize(), field="tag") from error
        if found is None:
            raise NotFound
        return Response(AssemblyOut(found).data)
