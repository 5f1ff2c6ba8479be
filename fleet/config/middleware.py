"""What every answer carries: a request id, the content policy, and no place in a cache."""

import secrets
from collections.abc import Callable

from django.http import HttpRequest, HttpResponse

from .logs import current_request_id

Answer = Callable[[HttpRequest], HttpResponse]

CONTENT_POLICY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self' data:",
        "font-src 'self'",
        "connect-src 'self'",
        "worker-src 'self'",
        "manifest-src 'self'",
        "form-action 'self'",
        "frame-ancestors 'none'",
        "base-uri 'none'",
    )
)
PERMISSIONS = "camera=(self), geolocation=(), microphone=(), payment=(), usb=()"


def request_id(answer: Answer) -> Answer:
    """Name each request, for the log, the trail and the person who reports a fault."""

    def named(request: HttpRequest) -> HttpResponse:
        name = secrets.token_hex(8)
        request.request_id = name  # type: ignore[attr-defined]  # Django's request is open to this
        mark = current_request_id.set(name)
        try:
            response = answer(request)
        finally:
            current_request_id.reset(mark)
        response["X-Request-ID"] = name
        return response

    return named


def content_security_policy(answer: Answer) -> Answer:
    """Allow a page what comes from this server as a file, and nothing written into the page."""

    def guarded(request: HttpRequest) -> HttpResponse:
        response = answer(request)
        response.setdefault("Content-Security-Policy", CONTENT_POLICY)
        response.setdefault("Permissions-Policy", PERMISSIONS)
        return response

    return guarded


def keep_out_of_caches(answer: Answer) -> Answer:
    """What a logged-in person was shown is stored by no cache and no back button."""

    def uncached(request: HttpRequest) -> HttpResponse:
        response = answer(request)
        if request.user.is_authenticated:
            response.setdefault("Cache-Control", "no-store")
        return response

    return uncached
