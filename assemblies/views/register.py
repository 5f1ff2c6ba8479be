"""Bringing a register in: sent, matched, looked at row by row, confirmed."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from assemblies.actions.register.errands import look_soon, write_soon
from assemblies.actions.register.files import (
    confirm_register,
    drop_register,
    given_of,
    match_register,
    receive_register,
)
from assemblies.actions.register.importing import open_register, read_rows
from assemblies.exchange.register import Form, refused_rows_file
from assemblies.forms.register import ConfirmForm, MatchForm, UploadForm
from assemblies.models import RegisterFile, RegisterRow
from assemblies.queries.register_files import (
    files_of,
    refused_numbers,
    register_file_for,
    remembered_answers,
    rows_of,
    sites_to_import_into,
)
from fleet.actions.refusals import Refused
from fleet.permissions import NotAllowed
from fleet.views.forms import refuse
from fleet.views.gate import day_at, person_of, politely
from fleet.views.paging import SIZE, place_of, shown

State = RegisterFile.State
_AT_WORK = (State.LOOKING, State.WRITING)
_FORMS: dict[str, str] = {
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    "csv": "text/csv; charset=utf-8",
}


@politely
def registers(request: HttpRequest) -> HttpResponse:
    """Send a register, and see those that were sent."""
    person, now = person_of(request), timezone.now()
    sites = sites_to_import_into(person)
    if not sites:
        raise NotAllowed("This needs the right “import register” at one of your sites.")
    form = UploadForm(request.POST or None, request.FILES or None, sites=sites)
    refusal = getattr(request, "upload_refusal", "")
    if request.method == "POST" and refusal:
        form.add_error("file", refusal)
    if request.method == "POST" and not refusal and form.is_valid():
        sent = form.cleaned_data["file"]
        try:
            file = receive_register(
                site=form.chosen_site, name=sent.name, content=sent.read(), person=person, at=now
            )
        except Refused as refused:
            refuse(form, refused)
        else:
            look_soon(file=file, person=person, at=now)
            return redirect("assemblies:register", file.pk)
    status = 422 if form.is_bound and form.errors else 200
    context = {"form": form, "files": files_of(person)}
    return render(request, "assemblies/register/files.html", context, status=status)


@politely
def register(request: HttpRequest, file_id: int) -> HttpResponse:
    """One file, as far as it is: its columns and questions, or its rows, or what was written."""
    file = _file(request, file_id)
    if file.state in _AT_WORK:
        return render(request, "assemblies/register/at_work.html", {"file": file})
    if request.method == "POST" or file.state in (State.READ, State.REFUSED):
        return _match(request, file)
    return _rows(request, file)


@politely
def register_columns(request: HttpRequest, file_id: int) -> HttpResponse:
    """Match the columns of a file anew that was looked through already."""
    file = _file(request, file_id)
    if file.state not in (State.READ, State.LOOKED, State.REFUSED):
        return redirect("assemblies:register", file.pk)
    return _match(request, file)


@politely
@require_POST
def register_confirm(request: HttpRequest, file_id: int) -> HttpResponse:
    """Write what was shown."""
    person, now = person_of(request), timezone.now()
    file = _file(request, file_id)
    form = ConfirmForm(request.POST, refused=int(file.counts.get("refused", 0)))
    if not form.is_valid():
        return _rows(request, file, form=form, status=422)
    good = form.cleaned_data.get("take") == "good"
    try:
        writing = confirm_register(file=file, take_good_rows=good, person=person)
    except Refused as refused:
        messages.error(request, refused.sentence)
    else:
        write_soon(file=writing, person=person, at=now)
    return redirect("assemblies:register", file.pk)


@politely
@require_POST
def register_drop(request: HttpRequest, file_id: int) -> HttpResponse:
    """Put a file aside that is not to be written."""
    file = _file(request, file_id)
    try:
        drop_register(file=file, person=person_of(request))
    except Refused as refused:
        messages.error(request, refused.sentence)
        return redirect("assemblies:register", file.pk)
    messages.success(request, f"{file.name} is put aside. Nothing of it was written.")
    return redirect("assemblies:registers")


@politely
@require_safe
def register_refused(request: HttpRequest, file_id: int, form: str) -> HttpResponse:
    """The refused rows, with the reason in a last column."""
    file = _file(request, file_id)
    refused = refused_numbers(file)
    if not refused:
        raise Http404
    kind: Form = "xlsx" if form == "xlsx" else "csv"
    opened = open_register(given_of(file))
    read = read_rows(opened, answers=file.answers, today=day_at(file.site))
    content = refused_rows_file(opened.table, opened.found, read.rows, refused, form=kind)
    answer = HttpResponse(content, content_type=_FORMS[kind])
    answer["Content-Disposition"] = f'attachment; filename="refused-rows-{file.pk}.{kind}"'
    return answer


def _match(request: HttpRequest, file: RegisterFile) -> HttpResponse:
    person, now = person_of(request), timezone.now()
    form = MatchForm(
        request.POST or None,
        found=file.counts.get("found", {}),
        answers=file.answers,
        remembered=remembered_answers(file.site),
        initial={"sheet": file.sheet, "header_row": file.header_row},
    )
    if request.method == "POST" and form.is_valid():
        try:
            matched = match_register(file=file, said=form.said(), person=person)
        except Refused as refused:
            refuse(form, refused)
        else:
            look_soon(file=matched, person=person, at=now)
            return redirect("assemblies:register", file.pk)
    status = 422 if form.is_bound and form.errors else 200
    context = {"file": file, "form": form, "found": file.counts.get("found", {})}
    return render(request, "assemblies/register/match.html", context, status=status)


def _rows(
    request: HttpRequest, file: RegisterFile, *, form: ConfirmForm | None = None, status: int = 200
) -> HttpResponse:
    known = {choice.value for choice in RegisterRow.Outcome}
    outcome = request.GET.get("outcome", "")
    outcome = outcome if outcome in known else ""
    page = rows_of(file, outcome=outcome, after=place_of(request, int, int), size=SIZE)
    counts: dict[str, Any] = file.counts
    context = {
        "file": file,
        "counts": counts,
        "tabs": [(c.value, c.label, counts.get(c.value, 0)) for c in RegisterRow.Outcome],
        "outcome": outcome,
        "page": shown(request, page),
        "found": counts.get("found", {}),
        "form": form or ConfirmForm(refused=int(counts.get("refused", 0))),
        "written": file.state == State.WRITTEN,
        "nothing_new": not counts.get("new") and not counts.get("changed"),
    }
    return render(request, "assemblies/register/rows.html", context, status=status)


def _file(request: HttpRequest, file_id: int) -> RegisterFile:
    file = register_file_for(person_of(request), file_id)
    if file is None or file.state == State.DROPPED:
        raise Http404
    return file
