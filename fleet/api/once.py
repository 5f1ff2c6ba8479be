"""The id under which a client sends something once, in the header or in the body."""

import re

from rest_framework.request import Request

from fleet.api.problems import BadRequest

_SHAPE = re.compile(r"[!-~]{8,80}", re.ASCII)


def client_id_of(request: Request, in_body: str) -> str:
    """The client's own id of this sending. Refuses none, two that differ, and odd ones."""
    in_header = request.headers.get("Idempotency-Key", "")
    if in_header and in_body and in_header != in_body:
        raise BadRequest(
            "ids_differ",
            "“Idempotency-Key” and “client_id” differ: send one of them.",
            field="client_id",
        )
    found = in_header or in_body
    if not found:
        raise BadRequest(
            "id_missing",
            "Send an id of your own, as “Idempotency-Key” or “client_id”: sent again, it is "
            "recorded once.",
            field="client_id",
        )
    return checked_id(found)


def checked_id(found: str) -> str:
    """An id of a shape that can be kept. Refuses odd ones."""
    if not _SHAPE.fullmatch(found):
        raise BadRequest(
            "id_shape", "The id has 8 to 80 plain characters without spaces.", field="client_id"
        )
    return found
