"""Machines over the API."""

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.exceptions import NotFound
from rest_framework.request import Request
from rest_framework.response import Response

from fleet.api.cursors import cursor_of, place_of
from fleet.api.endpoint import Endpoint
from fleet.api.inputs import Chosen, NoParameters, PageOut, PageParameters, site_id_of
from fleet.models import Machine
from fleet.queries.machine_facts import ORDERS, MachineFilter, machine_facts, machines


class CounterOut(serializers.Serializer[Any]):
    """One counter of a machine."""

    counts = serializers.CharField()
    machine_h = serializers.DecimalField(
        max_digits=9, decimal_places=1, allow_null=True, help_text="Hours over all its meters."
    )
    as_of_on = serializers.DateField(allow_null=True)
    rate_h_per_day = serializers.DecimalField(max_digits=5, decimal_places=3)
    low_h_per_day = serializers.DecimalField(max_digits=5, decimal_places=3)
    high_h_per_day = serializers.DecimalField(max_digits=5, decimal_places=3)
    basis = serializers.CharField(help_text="What the rate was worked out from.")


class MachineOut(serializers.Serializer[Any]):
    """One machine."""

    id = serializers.IntegerField()
    site = serializers.CharField(help_text="The site's code.")
    fleet_number = serializers.CharField()
    kind = serializers.CharField()
    machine_class = serializers.CharField()
    maker = serializers.CharField()
    model = serializers.CharField()
    serial_number = serializers.CharField()
    pin = serializers.CharField()
    in_service_from = serializers.DateField(allow_null=True)
    status = serializers.CharField()
    version = serializers.IntegerField()
    counters = CounterOut(many=True)


class MachinesOut(PageOut):
    """A page of machines."""

    items = MachineOut(many=True)


class MachinesParameters(PageParameters):
    """Which machines; all that are given must fit."""

    site = serializers.CharField(
        required=False, default="", max_length=12, help_text="The site's code."
    )
    fleet_number = serializers.CharField(required=False, max_length=40)
    machine_class = serializers.CharField(required=False, max_length=80)
    kind = Chosen.of(Machine.Kind.values, required=False)
    status = Chosen.of(Machine.Status.values, required=False)
    ordering = Chosen.of(ORDERS, required=False, default="fleet_number")


class Machines(Endpoint):
    """The current machines of the caller's sites."""

    @extend_schema(operation_id="machines", parameters=[MachinesParameters], responses=MachinesOut)
    def get(self, request: Request) -> Response:
        asked = MachinesParameters.read(request)
        order, size = asked.pop("ordering"), asked.pop("page_size")
        after = place_of(asked.pop("cursor"), order, (str, int))
        which = MachineFilter(site_id=site_id_of(self.person, asked.pop("site")), **asked)
        page = machines(self.person, which, order=order, after=after, size=size)
        return Response(
            MachinesOut({"items": page.rows, "next": cursor_of(order, page.after)}).data
        )


class OneMachine(Endpoint):
    """One machine."""

    @extend_schema(operation_id="machine", responses=MachineOut)
    def get(self, request: Request, machine_id: int) -> Response:
        NoParameters.read(request)
        found = machine_facts(self.person, machine_id)
        if found is None:
            raise NotFound
        return Response(MachineOut(found).data)
