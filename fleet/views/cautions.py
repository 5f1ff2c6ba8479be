"""The cautions that always stand."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render


def cautions(request: HttpRequest) -> HttpResponse:
    """All of them on one page, to read and to print."""
    return render(request, "fleet/cautions.html")
