"""One piece on the bench: its page, saving and judging what is typed, signing, scrapping, adding.

A script asks with `Accept: application/json` and keeps what it sends until it is answered: 200
with the version that stands now, or 422 with what is wrong.
"""

from typing import Any
from uuid import uuid4

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.template.loader import render_to_string
from django.utils import timezone
from django.views.decorators.http import require_POST

from assemblies.actions.build_scrapping import amend_build, scrap_piece
from assemblies.actions.build_signing import sign_build
from assemblies.actions.build_writing import record_build, with_typed
from assemblies.calc.build_check import judge_build
from assemblies.calc.build_lines import Judgement
from assemblies.forms.bench_boxes import piece_initial
from assemblies.forms.build_steps import said_by_box, steps_of, unreadable
from assemblies.forms.builds import AmendForm, PieceForm, ScrapForm, SignForm
from assemblies.models import BuildRecord
from assemblies.queries.bench_choices import proposals
from assemblies.queries.build_facts import actuals_of
from assemblies.queries.builds import PiecePage, build_for, piece_page
from fleet.actions.refusals import Refused
from fleet.forms.photos import upload_stopped
from fleet.navigation import address_of
from fleet.permissions import require
from fleet.views.forms import refuse
from fleet.views.gate import person_of, politely


@politely
def build(request: HttpRequest, build_id: int) -> HttpResponse:
    """One piece, step by step beside its sheet; saved as often as one likes."""
    held = seen_build(request, build_id)
    if held.signed_at is not None:
        return redirect(address_of("hose", held.assembly_id))
    page = open_page(request, held)
    if request.method != "POST":
        return _show(request, page, _form(request, page))
    require(person_of(request), "build", held.site_id)
    form = _form(request, page)
    return _answer(request, page, form, _saved(request, page, form))


@require_POST
@politely
def build_judge(request: HttpRequest, build_id: int) -> HttpResponse:
    """What is typed, judged as it stands; nothing is saved."""
    held = seen_build(request, build_id)
    require(person_of(request), "build", held.site_id)
    page = open_page(request, held)
    form = _form(request, page)
    form.is_valid()
    return JsonResponse({"said": _said(form, _judged(page, form)), "dial": _dial(page, form)})


@require_POST
@politely
def build_sign(request: HttpRequest, build_id: int) -> HttpResponse:
    """The piece is good: it is signed, tagged and put in store."""
    held, form = seen_build(request, build_id), SignForm(request.POST)
    if form.is_valid():
        try:
            done = sign_build(
                build=held,
                seen=form.cleaned_data["seen"],
                signing=form.signing(),
                person=person_of(request),
                at=timezone.now(),
            )
        except Refused as refusal:
            refuse(form, refusal)
        else:
            messages.success(request, f"Signed. Its tag is {done.assembly.tag_id}: fix it on.")
            return redirect(after_piece(done))
    return _show_again(request, held, sign=form)


@require_POST
@politely
def build_scrap(request: HttpRequest, build_id: int) -> HttpResponse:
    """The piece failed: it is scrapped, and what is gone is written off."""
    held, form = seen_build(request, build_id), ScrapForm(request.POST)
    if form.is_valid():
        try:
            done = scrap_piece(
                build=held,
                scrap=form.scrap(),
                seen=form.cleaned_data["seen"],
                person=person_of(request),
                at=timezone.now(),
            )
        except Refused as refusal:
            refuse(form, refusal)
        else:
            messages.success(request, done.sentence)
            return redirect(after_piece(done.build))
    return _show_again(request, held, scrap=form)


@politely
def build_amend(request: HttpRequest, build_id: int) -> HttpResponse:
    """Something is added beside a signed build."""
    held, form = seen_build(request, build_id), AmendForm(request.POST or None)
    person = person_of(request)
    require(person, "build", held.site_id)
    if request.method == "POST" and form.is_valid():
        told: dict[str, Any] = {"person": person, "at": timezone.now(), **form.cleaned_data}
        try:
            amend_build(build=held, **told)
        except Refused as refusal:
            refuse(form, refusal)
        else:
            messages.success(request, "It stands beside the build from now on.")
            return redirect(address_of("hose", held.assembly_id))
    return render(request, "assemblies/bench/amend.html", {"build": held, "form": form})


def seen_build(request: HttpRequest, build_id: int) -> BuildRecord:
    """The build, where the person may see it; another site's is not there."""
    found = build_for(person_of(request), build_id)
    if found is None:
        raise Http404
    return found


def open_page(request: HttpRequest, held: BuildRecord) -> PiecePage:
    """The page of an open piece; one that was built by no sheet has none."""
    page = piece_page(person_of(request), held)
    if page is None:
        raise Http404
    return page


def after_piece(done: BuildRecord) -> str:
    """Where one goes from a piece that is finished: to its batch, else to the hose."""
    if done.batch is not None and done.batch.quantity > 1:
        return address_of("batch", done.batch_id)
    return address_of("hose", done.assembly_id)


def _form(request: HttpRequest, page: PiecePage) -> PieceForm:
    initial = {**piece_initial(page.build, page.ends), "photos_id": uuid4().hex[:20]}
    initial["made_by"] = page.build.made_by_id or person_of(request).pk
    sent = (request.POST, request.FILES) if request.method == "POST" else ()
    return PieceForm(*sent, content=page.content, choices=page.choices, initial=initial)


def _saved(request: HttpRequest, page: PiecePage, form: PieceForm) -> BuildRecord | None:
    """The piece as it is saved; None where something is wrong, which the form then says."""
    if upload_stopped(form, request) or not form.is_valid():
        return None
    try:
        return record_build(
            build=page.build,
            typed=form.typed(),
            seen=form.cleaned_data["seen"],
            person=person_of(request),
            at=timezone.now(),
        )
    except Refused as refusal:
        refuse(form, refusal)
        return None


def _answer(
    request: HttpRequest, page: PiecePage, form: PieceForm, saved: BuildRecord | None
) -> HttpResponse:
    """Tell whoever sent it, a script or a page, how saving went."""
    as_script = request.headers.get("Accept") == "application/json"
    if saved is None:
        if not as_script:
            return _show(request, page, form)
        wrong = {name: [str(one) for one in errors] for name, errors in form.errors.items()}
        said = _said(form, _judged(page, form))
        return JsonResponse({"wrong": wrong, "said": said}, status=422)
    if as_script:
        fresh = open_page(request, seen_build(request, saved.pk))
        told: dict[str, Any] = {"version": saved.version, "said": _said(None, fresh.judged)}
        return JsonResponse({**told, "left": _left(fresh)})
    messages.success(request, "Saved.")
    if request.POST.get("then") == "next" and page.next_id is not None:
        return redirect("assemblies:build", page.next_id)
    return redirect("assemblies:build", saved.pk)


def _judged(page: PiecePage, form: PieceForm) -> Judgement:
    """How the piece would stand with what is typed, of what can be read."""
    held, ends = with_typed(page.build, form.typed())
    return judge_build(page.content, actuals_of(held, ends))


def _said(form: PieceForm | None, judged: Judgement) -> dict[str, str]:
    """What stands beside each box, drawn as on the page."""
    lines = {**said_by_box(judged), **(unreadable(form) if form else {})}
    boxes = form.fields if form else lines
    return {
        name: render_to_string("assemblies/bench/lines.html", {"lines": lines.get(name, ())})
        for name in {*boxes, *lines}
        if name
    }


def _dial(page: PiecePage, form: PieceForm) -> dict[str, str]:
    """What to dial at each end, by the crimper and dies that stand in the boxes."""
    held, ends = with_typed(page.build, form.typed())
    found = proposals(held, ends, page.content)
    return {f"{label.lower()}_setting_mm": one.words for label, one in found.items()}


def _left(page: PiecePage) -> str:
    return render_to_string("assemblies/bench/left.html", {"page": page})


def _show(request: HttpRequest, page: PiecePage, form: PieceForm, **forms: Any) -> HttpResponse:
    seen = {"seen": page.build.version}
    crimped = [which for which, end in page.ends.items() if end.od_readings]
    used = page.build.hose_used_m
    context = {
        "page": page,
        "form": form,
        "steps": steps_of(form, page.content, page.judged, page.proposals),
        "sign": SignForm(initial=seen),
        "scrap": ScrapForm(initial={**seen, "scrap_hose_m": used, "ends_crimped": crimped}),
        "person_id": person_of(request).pk,
        **forms,
    }
    return render(request, "assemblies/bench/piece.html", context)


def _show_again(request: HttpRequest, held: BuildRecord, **forms: Any) -> HttpResponse:
    """The piece's page with what is wrong where something was."""
    if held.signed_at is not None:
        for form in forms.values():
            messages.error(request, " ".join(one for said in form.errors.values() for one in said))
        return redirect(address_of("hose", held.assembly_id))
    page = open_page(request, seen_build(request, held.pk))
    initial = piece_initial(page.build, page.ends)
    form = PieceForm(content=page.content, choices=page.choices, initial=initial)
    return _show(request, page, form, **forms)
