"""Reels and stock over the API; both are read only here."""

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.exceptions import NotFound
from rest_framework.request import Request
from rest_framework.response import Response

from assemblies.queries.stock_facts import (
    KINDS,
    StockFilter,
    one_reel,
    reel_facts,
    stock_facts,
)
from fleet.api.cursors import cursor_of, place_of
from fleet.api.endpoint import Endpoint
from fleet.api.inputs import Chosen, NoParameters, PageOut, PageParameters, site_id_of
from fleet.calc.keys import text_key

_ORDER = "id"


class ReelOut(serializers.Serializer[Any]):
    """One delivered length of bulk hose. What isn't known is null or empty, never guessed."""

    id = serializers.IntegerField()
    site = serializers.CharField(help_text="The site's code.")
    code = serializers.CharField()
    hose = serializers.CharField(help_text="The catalogue's code of the hose.")
    supplier = serializers.CharField()
    received_on = serializers.DateField()
    delivered_m = serializers.DecimalField(8, 3)
    left_m = serializers.DecimalField(8, 3)
    layline = serializers.CharField()
    made_earliest_on = serializers.DateField(
        allow_null=True, help_text="Age limits count from this day."
    )
    made_latest_on = serializers.DateField(allow_null=True)
    made_precision = serializers.CharField()
    made_typed = serializers.CharField()
    reinforcement_diameter_mm = serializers.DecimalField(6, 2, allow_null=True)
    withdrawn_at = serializers.DateTimeField(allow_null=True)
    withdrawal_reason = serializers.CharField()


class ReelsOut(PageOut):
    """A page of reels."""

    items = ReelOut(many=True)


class ReelsParameters(PageParameters):
    """Which reels; all that are given must fit."""

    site = serializers.CharField(required=False, default="", max_length=12)
    hose = serializers.CharField(
        required=False, default="", max_length=40, help_text="The catalogue's code."
    )
    with_rest = serializers.BooleanField(
        required=False, default=False, help_text="Only usable ones with hose left."
    )


class StockOut(serializers.Serializer[Any]):
    """One line of the stock: a reel, a lot of fittings or shells, or a small part by name."""

    id = serializers.IntegerField()
    site = serializers.CharField()
    kind = serializers.CharField(help_text=f"One of {', '.join(KINDS)}.")
    code = serializers.CharField(help_text="The catalogue's code, the reel's, or the name.")
    lot = serializers.CharField()
    supplier = serializers.CharField()
    unit = serializers.CharField(help_text="piece or metre.")
    balance = serializers.DecimalField(12, 3)
    reorder_at = serializers.DecimalField(12, 3, allow_null=True)
    reel_id = serializers.IntegerField(allow_null=True)
    withdrawn_at = serializers.DateTimeField(allow_null=True)
    withdrawal_reason = serializers.CharField()


class StockLinesOut(PageOut):
    """A page of the stock."""

    items = StockOut(many=True)


class StockParameters(PageParameters):
    """Which lines; all that are given must fit."""

    site = serializers.CharField(required=False, default="", max_length=12)
    kind = Chosen.of(KINDS, required=False)
    with_rest = serializers.BooleanField(
        required=False, default=False, help_text="Only usable ones with something left."
    )


class Reels(Endpoint):
    """The reels of the caller's sites, withdrawn ones too."""

    @extend_schema(operation_id="reels", parameters=[ReelsParameters], responses=ReelsOut)
    def get(self, request: Request) -> Response:
        asked = ReelsParameters.read(request)
        size, after = asked.pop("page_size"), place_of(asked.pop("cursor"), _ORDER, (int,))
        site_id = site_id_of(self.person, asked.pop("site"))
        which = StockFilter(site_id=site_id, hose=text_key(asked.pop("hose")), **asked)
        page = reel_facts(self.person, which, after=after, size=size)
        return Response(ReelsOut({"items": page.rows, "next": cursor_of(_ORDER, page.after)}).data)


class OneReel(Endpoint):
    """One reel."""

    @extend_schema(operation_id="reel", responses=ReelOut)
    def get(self, request: Request, reel_id: int) -> Response:
        NoParameters.read(request)
        found = one_reel(self.person, reel_id)
        if found is None:
            raise NotFound
        return Response(ReelOut(found).data)


class Stock(Endpoint):
    """The stock of the caller's sites, withdrawn lines too."""

    @extend_schema(operation_id="stock", parameters=[StockParameters], responses=StockLinesOut)
    def get(self, request: Request) -> Response:
        asked = StockParameters.read(request)
        size, after = asked.pop("page_size"), place_of(asked.pop("cursor"), _ORDER, (int,))
        which = StockFilter(site_id=site_id_of(self.person, asked.pop("site")), **asked)
        page = stock_facts(self.person, which, after=after, size=size)
        told = {"items": page.rows, "next": cursor_of(_ORDER, page.after)}
        return Response(StockLinesOut(told).data)
