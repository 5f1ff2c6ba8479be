"""The due list over the API: the same list, narrowed the same way as on its page."""

import datetime as dt
from typing import Any, get_args

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from assemblies.models import Position
from fleet.api.cursors import cursor_of, place_of
from fleet.api.endpoint import Endpoint
from fleet.api.inputs import Chosen, PageOut, PageParameters, row_id, site_id_of
from fleet.api.problems import BadRequest
from fleet.views.gate import today_of
from scheduling.calc.inputs import Trigger
from scheduling.calc.standing import Standing
from scheduling.queries.due_list import BY_DAY, BY_ID, BY_MACHINE, DueSought, due_list

_TRIGGERS = {trigger.name.lower(): int(trigger) for trigger in Trigger}
_PLACES: dict[tuple[str, ...], tuple[type, ...]] = {
    BY_DAY: (dt.date, int),
    BY_MACHINE: (str, int, dt.date, int),
    BY_ID: (int,),
}


class DueOut(serializers.Serializer[Any]):
    """One hose that falls due, or whose date isn't known."""

    assembly_id = serializers.IntegerField(source="hose_id")
    tag = serializers.CharField()
    owner_mark = serializers.CharField()
    hose = serializers.CharField(source="words", help_text="Type, size and length, as known.")
    site = serializers.CharField(source="site_code")
    machine_id = serializers.IntegerField(allow_null=True)
    machine = serializers.CharField()
    position_id = serializers.IntegerField(allow_null=True)
    position = serializers.CharField(source="place")
    standing = serializers.CharField(help_text="out, over, soon, fine or undated.")
    what = serializers.CharField(help_text="replace or inspect; empty where no date is known.")
    due_on = serializers.DateField(allow_null=True)
    replace_on = serializers.DateField(allow_null=True)
    replace_early_on = serializers.DateField(allow_null=True)
    replace_late_on = serializers.DateField(allow_null=True)
    inspect_on = serializers.DateField(allow_null=True)
    binds = serializers.CharField(help_text="The limit that makes the date, in words.")
    uncertain = serializers.BooleanField(help_text="Rests on a day or an hour not known exactly.")


class DuesOut(PageOut):
    """A page of the due list."""

    today = serializers.DateField(help_text="The day by which it stands as it does.")
    items = DueOut(many=True)


class DuesParameters(PageParameters):
    """Which dues; all that are given must fit."""

    site = serializers.CharField(required=False, default="", max_length=12)
    machine_id = row_id(required=False)
    machine_class_id = row_id(required=False)
    circuit = Chosen.of(Position.Circuit.values, required=False, default="")
    consequence = Chosen.of(Position.Consequence.values, required=False, default="")
    trigger = Chosen.of(_TRIGGERS, required=False, default="")
    standing = Chosen.of(get_args(Standing), required=False, default="")
    until_on = serializers.DateField(required=False, help_text="Due on this day or before.")
    within_days = serializers.IntegerField(required=False, min_value=0, max_value=36_500)
    ordering = Chosen.of(["due_on", "machine"], required=False, default="due_on")


class Dues(Endpoint):
    """What falls due at the caller's sites. Without `standing`: all that has a date."""

    @extend_schema(operation_id="dues", parameters=[DuesParameters], responses=DuesOut)
    def get(self, request: Request) -> Response:
        asked, today = DuesParameters.read(request), today_of(self.person)
        sought = self._sought(asked, today)
        order = ",".join(sought.order)
        page = due_list(
            self.person,
            sought,
            after=place_of(asked["cursor"], order, _PLACES[sought.order]),
            size=asked["page_size"],
            today=today,
        )
        told = {"items": page.rows, "next": cursor_of(order, page.after), "today": today}
        return Response(DuesOut(told).data)

    def _sought(self, asked: dict[str, Any], today: dt.date) -> DueSought:
        if "until_on" in asked and "within_days" in asked:
            raise BadRequest(
                "two_horizons", "Give “until_on” or “within_days”, not both.", field="until_on"
            )
        within = asked.get("within_days")
        until = asked.get("until_on")
        return DueSought(
            site_id=site_id_of(self.person, asked["site"]),
            machine_class_id=asked.get("machine_class_id"),
            machine_id=asked.get("machine_id"),
            circuit=asked["circuit"],
            consequence=asked["consequence"],
            trigger=_TRIGGERS.get(asked["trigger"]),
            standing=asked["standing"],
            until_on=until if within is None else today + dt.timedelta(days=within),
            by_machine=asked["ordering"] == "machine",
        )
