"""Readings of many machines over the API: each recorded once, each answered by itself."""

import datetime as dt
from typing import Any

from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import exceptions, serializers
from rest_framework.request import Request
from rest_framework.response import Response

from fleet.actions.refusals import Refused
from fleet.actions.sendings import do_once
from fleet.api.cursors import cursor_of, place_of
from fleet.api.endpoint import Endpoint
from fleet.api.inputs import (
    Body,
    Chosen,
    NoParameters,
    PageParameters,
    row_id,
    site_id_of,
)
from fleet.api.once import checked_id
from fleet.api.problems import BadRequest, ProblemOut, answer_to
from fleet.api.readings import ReadingIn, ReadingOut, ReadingsOut, content_of, recorded
from fleet.models import Counter
from fleet.permissions import NotAllowed
from fleet.queries.reach import machine_for
from fleet.queries.reading_facts import all_readings, reading_facts

MOST_ITEMS = 100


class ItemIn(ReadingIn):
    """One reading of the batch, with its machine and an id of its own."""

    machine_id = row_id()


class BatchIn(Body):
    """Up to 100 readings."""

    items = serializers.ListField(
        child=serializers.DictField(), min_length=1, max_length=MOST_ITEMS, help_text="Readings."
    )


class BatchParameters(PageParameters):
    """Which readings."""

    site = serializers.CharField(
        required=False, default="", max_length=12, help_text="The site's code."
    )
    counts = Chosen.of(Counter.values, required=False, default="")


class ItemOut(serializers.Serializer[Any]):
    """What became of one reading: its status as if it had come alone."""

    status = serializers.IntegerField(help_text="201 new, 200 known; else why it was refused.")
    reading = ReadingOut(allow_null=True)
    problem = ProblemOut(allow_null=True)


class BatchOut(serializers.Serializer[Any]):
    """What became of each, in the order they came in."""

    items = ItemOut(many=True)


class BatchOfItemsIn(serializers.Serializer[Any]):
    """The body as it is published."""

    items = ItemIn(many=True)


class AllReadings(Endpoint):
    """The readings of all machines of the caller's sites."""

    @extend_schema(operation_id="all_readings", parameters=[BatchParameters], responses=ReadingsOut)
    def get(self, request: Request) -> Response:
        """Readings, the last recorded first."""
        asked = BatchParameters.read(request)
        page = all_readings(
            self.person,
            site_id=site_id_of(self.person, asked["site"]),
            counts=asked["counts"],
            after=place_of(asked["cursor"], "all_readings", (int,)),
            size=asked["page_size"],
        )
        told = {"items": page.rows, "next": cursor_of("all_readings", page.after)}
        return Response(ReadingsOut(told).data)

    @extend_schema(
        operation_id="record_readings", request=BatchOfItemsIn, responses={200: BatchOut}
    )
    def post(self, request: Request) -> Response:
        """Record readings. One that is refused keeps none of the others back."""
        NoParameters.read(request)
        now = timezone.now()
        items = BatchIn.read(request)["items"]
        return Response(BatchOut({"items": [self._one(item, now) for item in items]}).data)

    def _one(self, item: dict[str, Any], now: dt.datetime) -> dict[str, Any]:
        try:
            status, reading_id = self._recorded(item, now)
        except (Refused, NotAllowed, exceptions.APIException) as refusal:
            answer = answer_to(refusal, {})
            assert answer is not None
            return {"status": answer.status_code, "reading": None, "problem": answer.data}
        return {"status": status, "reading": reading_facts(reading_id), "problem": None}

    def _recorded(self, item: dict[str, Any], now: dt.datetime) -> tuple[int, int]:
        """Alone: in a transaction of its own, once under its id."""
        given = ItemIn.read_data(item)
        machine = machine_for(self.person, given["machine_id"])
        if machine is None:
            raise exceptions.NotFound
        if not given["client_id"]:
            raise BadRequest("id_missing", "Each item has an id of its own.", field="client_id")
        done = do_once(
            person=self.person,
            purpose="reading",
            client_id=checked_id(given["client_id"]),
            content=content_of(machine, given),
            at=now,
            do=lambda: recorded(self.request, self.person, machine, given, now).pk,
        )
        new = done.now and reading_facts(done.result_id).recorded_at == now
        return (201 if new else 200), done.result_id
