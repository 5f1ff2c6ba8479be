"""Who may call at all, and how often. What they may see and do is asked at the one gate."""

from typing import Any

from rest_framework.permissions import SAFE_METHODS, BasePermission
from rest_framework.request import Request
from rest_framework.throttling import SimpleRateThrottle
from rest_framework.views import APIView

from fleet.models import ApiKey, Person


class MayCall(BasePermission):
    """A person signed in, or a key; a key that only reads changes nothing."""

    message = "This API key only reads."
    code = "key_only_reads"

    def has_permission(self, request: Request, view: APIView) -> bool:
        if not isinstance(request.user, Person) or not request.user.is_active:
            return False
        key = request.auth
        reads_only = isinstance(key, ApiKey) and not key.may_write
        return request.method in SAFE_METHODS or not reads_only


class Pace(SimpleRateThrottle):
    """A bound on the calls of one key, or of one person. Where the cache is down: no bound."""

    scope = "layline"
    rate = "1200/min"

    def get_cache_key(self, request: Request, view: APIView) -> str | None:
        if isinstance(request.auth, ApiKey):
            return f"layline-api-key-{request.auth.pk}"
        return f"layline-api-person-{request.user.pk}" if request.user.pk else None

    def allow_request(self, request: Request, view: APIView) -> bool:
        try:
            return bool(super().allow_request(request, view))
        except Exception:  # whatever a cache raises, the register stays readable
            return True


def person_of(request: Request) -> Person:
    """The person who calls. `MayCall` has seen to it that there is one."""
    person: Any = request.user
    assert isinstance(person, Person)
    return person
