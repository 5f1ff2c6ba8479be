"""What every endpoint is: signed in, JSON only, refusals in one shape, never stored on the way."""

from collections.abc import Callable
from typing import Any

from django.utils.cache import patch_cache_control
from rest_framework.authentication import SessionAuthentication
from rest_framework.exceptions import NotFound
from rest_framework.renderers import JSONRenderer
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from fleet.api.access import MayCall, Pace, person_of
from fleet.api.authentication import KeyAuthentication
from fleet.api.parsers import StrictJson
from fleet.api.problems import answer_to
from fleet.api.schema import Schema
from fleet.models import Person


class Endpoint(APIView):
    """The base of every endpoint; nothing here hangs on global settings."""

    authentication_classes = (KeyAuthentication, SessionAuthentication)
    permission_classes = (MayCall,)
    throttle_classes = (Pace,)
    parser_classes = (StrictJson,)
    renderer_classes = (JSONRenderer,)
    metadata_class = None
    schema = Schema()

    @property
    def person(self) -> Person:
        return person_of(self.request)

    def get_exception_handler(self) -> Callable[..., Response | None]:
        return answer_to

    def finalize_response(
        self, request: Request, response: Response, *args: Any, **kwargs: Any
    ) -> Response:
        answer = super().finalize_response(request, response, *args, **kwargs)
        patch_cache_control(answer, no_store=True)
        return answer


class NoSuchAddress(Endpoint):
    """Any other address under the API is refused in the API's own shape. No part of the schema."""

    schema: Any = None

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        super().initial(request, *args, **kwargs)
        raise NotFound
