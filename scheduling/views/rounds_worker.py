"""The worker that keeps pages of rounds on a phone: its script, at the root of all addresses."""

from pathlib import Path

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.views.decorators.http import require_safe

_SCRIPT = Path(__file__).parent.parent / "static" / "scheduling" / "rounds_worker.js"


@login_not_required
@require_safe
def rounds_worker(_request: HttpRequest) -> HttpResponse:
    """The script, asked for anew each time and allowed among the addresses of rounds alone.

    A browser asks for it also after a log-in has ended, and takes no answer that leads elsewhere;
    it holds nothing of the register.
    """
    answer = HttpResponse(_SCRIPT.read_bytes(), content_type="text/javascript; charset=utf-8")
    answer["Cache-Control"] = "no-cache"
    answer["Service-Worker-Allowed"] = reverse("scheduling:rounds")
    return answer
