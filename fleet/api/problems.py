"""Every refusal of the API in one shape: a code, a sentence, and the field it speaks of."""

from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass
from typing import Any

from django.core.exceptions import PermissionDenied
from django.http import Http404
from rest_framework import exceptions, serializers
from rest_framework.response import Response

from fleet.actions.refusals import Refused
from fleet.permissions import NotAllowed

NOT_FOUND = "There is no such thing here, or it belongs to a site that is not yours."


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing that was wrong."""

    code: str
    sentence: str
    field: str = ""


class ProblemOut(serializers.Serializer[Problem]):
    """What the API answers when it refuses."""

    code = serializers.CharField(help_text="A word for the program.")
    sentence = serializers.CharField(help_text="What is wrong, and what would be right.")
    field = serializers.CharField(help_text="The field or parameter it speaks of; may be empty.")


class FurtherProblemsOut(ProblemOut):
    """A refusal for several reasons: the first, and the others."""

    more = ProblemOut(many=True, required=False)


class BadRequest(exceptions.APIException):
    """A request that can't be read, with its own code and sentence."""

    status_code = 400

    def __init__(self, code: str, sentence: str, *, field: str = "", status: int = 400) -> None:
        super().__init__(sentence, code)
        self.problem = Problem(code, sentence, field)
        self.status_code = status


_SENTENCES = {
    "required": "“{field}” is missing.",
    "null": "“{field}” may not be null.",
    "blank": "“{field}” may not be empty.",
}
_CODES: Mapping[type[exceptions.APIException], tuple[str, str]] = {
    exceptions.NotFound: ("not_found", NOT_FOUND),
    exceptions.NotAuthenticated: (
        "not_signed_in",
        "Sign in, or send an API key: “Authorization: Bearer layline_…”.",
    ),
    exceptions.UnsupportedMediaType: (
        "media_type",
        "Send JSON, with “Content-Type: application/json”.",
    ),
    exceptions.NotAcceptable: ("not_acceptable", "The answer comes as application/json only."),
}


def answer_to(error: Exception, _context: Mapping[str, Any]) -> Response | None:
    """The exception handler of every endpoint. None: not a refusal but a fault, to be raised."""
    if isinstance(error, Refused):
        status = 400 if error.field else 409
        return _response(status, [Problem(error.code, error.sentence, error.field)])
    if isinstance(error, NotAllowed):
        return _response(403, [Problem("not_allowed", str(error))])
    if isinstance(error, Http404):
        error = exceptions.NotFound()
    elif isinstance(error, PermissionDenied):
        error = exceptions.PermissionDenied()
    if not isinstance(error, exceptions.APIException):
        return None
    return _response(error.status_code, list(_problems(error)), _headers(error))


def _response(
    status: int, problems: list[Problem], headers: dict[str, str] | None = None
) -> Response:
    first, *others = problems
    more = {"more": [asdict(problem) for problem in others]} if others else {}
    return Response({**asdict(first), **more}, status=status, headers=headers)


def _headers(error: exceptions.APIException) -> dict[str, str]:
    headers = {"WWW-Authenticate": getattr(error, "auth_header", "")}
    wait = getattr(error, "wait", None)
    return {name: value for name, value in headers.items() if value} | (
        {"Retry-After": f"{wait:.0f}"} if wait else {}
    )


def _problems(error: exceptions.APIException) -> Iterator[Problem]:
    if isinstance(error, BadRequest):
        yield error.problem
    elif isinstance(error, exceptions.ValidationError):
        yield from _of_fields(error.detail, "")
    elif type(error) in _CODES:
        yield Problem(*_CODES[type(error)])
    else:
        yield Problem(str(error.get_codes()), str(error.detail))


def _of_fields(detail: Any, path: str) -> Iterator[Problem]:
    """Walk the errors of a serializer, naming each field by its path."""
    if isinstance(detail, Mapping):
        for name, inner in detail.items():
            own = "" if name == "non_field_errors" else str(name)
            yield from _of_fields(inner, f"{path}.{own}".strip("."))
    elif isinstance(detail, list):
        for inner in detail:
            yield from _of_fields(inner, path)
    else:
        code = getattr(detail, "code", "invalid")
        yield Problem(code, _SENTENCES.get(code, "{text}").format(field=path, text=detail), path)
