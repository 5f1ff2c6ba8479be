"""Moments as programs write them: with their zone, or not at all."""

import datetime as dt
from typing import Any

from rest_framework import serializers

_EARLIEST, _LATEST = 1970, 2100
_LONGEST = 40


class MomentField(serializers.DateTimeField):
    """`2026-03-09T08:00:00Z`. A time without a zone is nobody's time: it is refused."""

    def to_internal_value(self, value: Any) -> dt.datetime:
        text = value if isinstance(value, str) else f"{value}"
        text = text[:_LONGEST]
        try:
            moment = dt.datetime.fromisoformat(text)
        except ValueError as error:
            raise serializers.ValidationError(
                f"“{text}” is not a moment: write 2026-03-09T08:00:00Z.", code="not_a_moment"
            ) from error
        if moment.tzinfo is None:
            raise serializers.ValidationError(
                f"“{text}” has no zone: write Z or +01:00 after it.", code="zone_missing"
            )
        if not _EARLIEST <= moment.year <= _LATEST:
            raise serializers.ValidationError(
                f"“{text}” is not between {_EARLIEST} and {_LATEST}.", code="not_a_moment"
            )
        return moment.astimezone(dt.UTC)
