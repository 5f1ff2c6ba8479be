"""The published description of the API: every operation tells its refusals too."""

from typing import Any, Literal

from drf_spectacular.openapi import AutoSchema

from fleet.api.problems import FurtherProblemsOut

_ALWAYS = ("400", "401", "403", "404", "406", "429")
_WHEN_WRITING = ("409", "413", "415")


class Schema(AutoSchema):
    """As drf-spectacular reads a view, with the one shape of refusals beside each answer."""

    def _get_response_bodies(
        self, direction: Literal["request", "response"] = "response"
    ) -> dict[str, Any]:
        bodies: dict[str, Any] = super()._get_response_bodies(direction)
        codes = _ALWAYS + (_WHEN_WRITING if self.method not in ("GET", "HEAD") else ())
        for code in codes:
            bodies.setdefault(code, self._refusal(code, direction))
        return bodies

    def _refusal(self, code: str, direction: str) -> Any:
        tell: Any = self._get_response_for_code
        return tell(FurtherProblemsOut, code, direction=direction)
