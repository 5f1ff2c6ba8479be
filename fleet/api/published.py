"""The published description of the API, for whoever may call it."""

from collections.abc import Callable

from drf_spectacular.views import SpectacularJSONAPIView
from rest_framework.response import Response

from fleet.api.access import MayCall, Pace
from fleet.api.authentication import KeyAuthentication
from fleet.api.endpoint import Endpoint
from fleet.api.problems import answer_to


class Description(SpectacularJSONAPIView):
    """OpenAPI 3, as JSON. It is not part of itself."""

    authentication_classes = (KeyAuthentication, *Endpoint.authentication_classes[1:])
    permission_classes = (MayCall,)
    throttle_classes = (Pace,)
    metadata_class = None
    schema = None

    def get_exception_handler(self) -> Callable[..., Response | None]:
        return answer_to
