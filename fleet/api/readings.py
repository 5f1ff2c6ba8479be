"""Hour readings over the API: judged as they come in, each recorded once."""

import datetime as dt
from decimal import Decimal
from typing import Any

from django.utils import timezone
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.exceptions import NotFound
from rest_framework.request import Request
from rest_framework.response import Response

from fleet.actions.readings import record_reading
from fleet.actions.sendings import do_once
from fleet.api.cursors import cursor_of, place_of
from fleet.api.endpoint import Endpoint
from fleet.api.inputs import Body, Chosen, NoParameters, PageOut, PageParameters
from fleet.api.moments import MomentField
from fleet.api.once import client_id_of
from fleet.models import ApiKey, Counter, HourReading, Machine, Person
from fleet.queries.reach import machine_for
from fleet.queries.reading_facts import reading_facts, readings

_TENTH = Decimal("0.1")


class ReadingIn(Body):
    """What a meter showed, and when."""

    counts = Chosen.of(Counter.values, required=False, default="engine")
    reading_h = serializers.DecimalField(
        max_digits=11,
        decimal_places=3,
        min_value=Decimal(0),
        max_value=Decimal(10**7),
        help_text="Hours on the meter; kept in tenths.",
    )
    read_at = MomentField(help_text="With its zone: 2026-03-09T08:00:00Z.")
    origin = Chosen.of(["typed", "telematics"], required=False, default="telematics")
    reference = serializers.CharField(required=False, default="", max_length=80, allow_blank=True)
    client_id = serializers.CharField(
        required=False,
        default="",
        max_length=80,
        help_text="An id of your own, unless the header “Idempotency-Key” has it.",
    )


class ReadingOut(serializers.Serializer[Any]):
    """A reading, and what was made of it. A doubtful one is kept, and counts in no forecast."""

    id = serializers.IntegerField()
    machine_id = serializers.IntegerField()
    site = serializers.CharField()
    counts = serializers.CharField()
    read_at = serializers.DateTimeField()
    read_on = serializers.DateField(help_text="The day at the machine's site.")
    reading_h = serializers.DecimalField(max_digits=9, decimal_places=1)
    machine_h = serializers.DecimalField(max_digits=9, decimal_places=1)
    typed = serializers.CharField()
    origin = serializers.CharField()
    reference = serializers.CharField()
    doubt = serializers.CharField(help_text="Why it is doubted; empty where it is not.")
    counts_in_forecasts = serializers.BooleanField()
    set_aside_reason = serializers.CharField()
    recorded_at = serializers.DateTimeField()


class ReadingsOut(PageOut):
    """A page of readings, the last recorded first."""

    items = ReadingOut(many=True)


class ReadingsParameters(PageParameters):
    """Which readings of the machine."""

    counts = Chosen.of(Counter.values, required=False, default="")


class Readings(Endpoint):
    """The readings of one machine."""

    @extend_schema(operation_id="readings", parameters=[ReadingsParameters], responses=ReadingsOut)
    def get(self, request: Request, machine_id: int) -> Response:
        """The machine's readings, the last recorded first."""
        asked = ReadingsParameters.read(request)
        machine, after = self._machine(machine_id), place_of(asked["cursor"], "readings", (int,))
        page = readings(
            self.person, machine.pk, counts=asked["counts"], after=after, size=asked["page_size"]
        )
        told = {"items": page.rows, "next": cursor_of("readings", page.after)}
        return Response(ReadingsOut(told).data)

    @extend_schema(
        operation_id="record_reading",
        request=ReadingIn,
        parameters=[
            OpenApiParameter(
                "Idempotency-Key", str, "header", description="An id of your own for this sending."
            )
        ],
        responses={201: ReadingOut, 200: ReadingOut},
    )
    def post(self, request: Request, machine_id: int) -> Response:
        """Record a reading. Sent again under the same id, it is answered with the first."""
        NoParameters.read(request)
        given, now = ReadingIn.read(request), timezone.now()
        machine, client_id = self._machine(machine_id), client_id_of(request, given["client_id"])
        done = do_once(
            person=self.person,
            purpose="reading",
            client_id=client_id,
            content=content_of(machine, given),
            at=now,
            do=lambda: recorded(self.request, self.person, machine, given, now).pk,
        )
        reading = reading_facts(done.result_id)
        new = done.now and reading.recorded_at == now
        return Response(ReadingOut(reading).data, status=201 if new else 200)

    def _machine(self, machine_id: int) -> Machine:
        found = machine_for(self.person, machine_id)
        if found is None:
            raise NotFound
        return found


def recorded(
    request: Request, person: Person, machine: Machine, given: dict[str, Any], now: dt.datetime
) -> HourReading:
    """One reading, with the key that it came through."""
    key = request.auth
    through = f"API key {key.prefix}" if isinstance(key, ApiKey) else "API"
    return record_reading(
        machine=machine,
        counts=given["counts"],
        reading_h=given["reading_h"].quantize(_TENTH),
        read_at=given["read_at"],
        typed=str(given["reading_h"]),
        source=given["origin"],
        source_ref=f"{through} {given['reference']}".strip(),
        person=person,
        at=now,
    )


def content_of(machine: Machine, given: dict[str, Any]) -> dict[str, Any]:
    """What makes two sendings the same."""
    return {
        "machine": machine.pk,
        "counts": given["counts"],
        "reading_h": f"{given['reading_h'].normalize():f}",
        "read_at": given["read_at"].isoformat(),
        "origin": given["origin"],
        "reference": given["reference"],
    }
