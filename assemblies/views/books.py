"""The hose book of a machine: what it would hold, drawing it, and fetching it."""

from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.utils import timezone

from assemblies.forms.papers import PaperForm
from assemblies.queries.hose_books import BOOK, book_file, book_plan
from assemblies.views.sheets import address_from
from fleet.actions.errands import ask_errand
from fleet.permissions import READ, require
from fleet.queries.errands import ErrandProgress, errand_progress
from fleet.queries.reach import machine_for
from fleet.views.gate import person_of, politely


@politely
def machine_book(request: HttpRequest, machine_id: int) -> HttpResponse:
    """What the book of a machine would hold; the button draws it."""
    person, now = person_of(request), timezone.now()
    machine = machine_for(person, machine_id)
    if machine is None:
        raise Http404
    require(person, READ, machine.site)
    form = PaperForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        page = form.cleaned_data["page"]
        payload = {"machine_id": machine.pk, "page": page, "address": address_from(request)}
        key = f"{person.pk}:{machine.pk}:{page}"
        errand = ask_errand(kind=BOOK, at=now, payload=payload, person=person, key=key)
        return redirect("assemblies:book", errand.pk)
    context = {"machine": machine, "plan": book_plan(machine), "form": form}
    return render(request, "assemblies/papers/book_ask.html", context)


@politely
def book(request: HttpRequest, errand_id: int) -> HttpResponse:
    """How far a book is; when it is drawn, the way to it."""
    progress = _progress(request, errand_id)
    ready = progress.state == "done" and book_file(errand_id).exists()
    context = {"progress": progress, "ready": ready, "gone": progress.state == "done" and not ready}
    return render(request, "assemblies/papers/book.html", context)


@politely
def book_pdf(request: HttpRequest, errand_id: int) -> HttpResponseBase:
    """The book itself, for who asked for it, while the machine is theirs to see."""
    progress = _progress(request, errand_id)
    machine_id = progress.result.get("machine_id")
    path = book_file(errand_id)
    if machine_id is None or not path.exists():
        raise Http404
    if machine_for(person_of(request), machine_id) is None:
        raise Http404
    return FileResponse(
        path.open("rb"), content_type="application/pdf", filename=progress.result["name"]
    )


def _progress(request: HttpRequest, errand_id: int) -> ErrandProgress:
    found = errand_progress(errand_id=errand_id, person=person_of(request), at=timezone.now())
    if found is None or found.kind != BOOK:
        raise Http404
    return found
