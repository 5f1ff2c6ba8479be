"""Positions over the API."""

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.exceptions import NotFound
from rest_framework.request import Request
from rest_framework.response import Response

from assemblies.models import Position
from assemblies.queries.position_facts import ORDERS, PositionFilter, position_facts, positions
from fleet.api.cursors import cursor_of, place_of
from fleet.api.endpoint import Endpoint
from fleet.api.inputs import Chosen, NoParameters, PageOut, PageParameters, row_id, site_id_of
from fleet.api.problems import BadRequest


class HeldOut(serializers.Serializer[Any]):
    """The hose that a position holds."""

    assembly_id = serializers.IntegerField()
    tag = serializers.CharField(help_text="Empty where it has no own tag yet.")
    owner_mark = serializers.CharField()
    fitted_earliest_on = serializers.DateField(allow_null=True)
    fitted_latest_on = serializers.DateField(allow_null=True)
    fitted_at_machine_h = serializers.DecimalField(9, 1, allow_null=True)


class PositionOut(serializers.Serializer[Any]):
    """A place on a machine, its duty, and what it holds. What isn't known is null or empty."""

    id = serializers.IntegerField()
    site = serializers.CharField()
    machine_id = serializers.IntegerField()
    machine = serializers.CharField()
    place = serializers.CharField()
    place_no = serializers.IntegerField()
    walk_order = serializers.IntegerField()
    circuit = serializers.CharField()
    counts = serializers.CharField(help_text="The counter that ages its hose.")
    consequence = serializers.CharField()
    exposure = serializers.CharField()
    pressure_bar = serializers.DecimalField(8, 2, allow_null=True)
    surge_bar = serializers.DecimalField(8, 2, allow_null=True)
    flow_l_per_min = serializers.DecimalField(8, 1, allow_null=True)
    oil_temperature_c = serializers.IntegerField(allow_null=True)
    ambient_temperature_c = serializers.IntegerField(allow_null=True)
    fluid = serializers.CharField()
    bend_radius_mm = serializers.DecimalField(8, 1, allow_null=True)
    port_a = serializers.CharField()
    port_b = serializers.CharField()
    required_spec = serializers.CharField(help_text="The spec's code; empty where none is.")
    access_group = serializers.CharField()
    version = serializers.IntegerField()
    holds = HeldOut(allow_null=True)


class PositionsOut(PageOut):
    """A page of positions."""

    items = PositionOut(many=True)


class PositionsParameters(PageParameters):
    """Which positions; all that are given must fit."""

    site = serializers.CharField(required=False, default="", max_length=12)
    machine_id = row_id(required=False)
    circuit = Chosen.of(Position.Circuit.values, required=False)
    consequence = Chosen.of(Position.Consequence.values, required=False)
    exposure = Chosen.of(Position.Exposure.values, required=False)
    ordering = Chosen.of(ORDERS, required=False, default="id")


class Positions(Endpoint):
    """The current positions of the caller's machines."""

    @extend_schema(
        operation_id="positions", parameters=[PositionsParameters], responses=PositionsOut
    )
    def get(self, request: Request) -> Response:
        asked = PositionsParameters.read(request)
        order, size = asked.pop("ordering"), asked.pop("page_size")
        if order == "walk_order" and "machine_id" not in asked:
            raise BadRequest(
                "walk_of_one_machine",
                "The walk goes round one machine: give its “machine_id” too.",
                field="ordering",
            )
        after = place_of(asked.pop("cursor"), order, (int,) * len(ORDERS[order].columns))
        which = PositionFilter(site_id=site_id_of(self.person, asked.pop("site")), **asked)
        page = positions(self.person, which, order=order, after=after, size=size)
        return Response(
            PositionsOut({"items": page.rows, "next": cursor_of(order, page.after)}).data
        )


class OnePosition(Endpoint):
    """One position."""

    @extend_schema(operation_id="position", responses=PositionOut)
    def get(self, request: Request, position_id: int) -> Response:
        NoParameters.read(request)
        found = position_facts(self.person, position_id)
        if found is None:
            raise NotFound
        return Response(PositionOut(found).data)
