"""Tag labels: blank ones in lots, and those of hoses that stand in the register."""

from collections.abc import Sequence

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from assemblies.actions.tags import draw_lot
from assemblies.forms.papers import LotForm, StockForm
from assemblies.pdf.labels import Label, LabelRefused, LabelSheet, draw_labels
from assemblies.queries.choices import hose_for
from assemblies.queries.labels import blank_labels, hose_labels, lot_for, lots_of, tagged_on
from assemblies.views.sheets import address_from, pdf_answer
from fleet.actions.refusals import Refused
from fleet.navigation import address_of
from fleet.permissions import NotAllowed
from fleet.queries.reach import machine_for, sites_where
from fleet.views.forms import refuse
from fleet.views.gate import person_of, politely


@politely
def labels(request: HttpRequest) -> HttpResponse:
    """The lots of blank tags; drawing another."""
    person, now = person_of(request), timezone.now()
    sites = sites_where(person, "fit_hoses")
    form = LotForm(request.POST or None, sites=sites, initial={"site": sites.first()})
    if request.method == "POST" and not sites:
        raise NotAllowed("Drawing tags is not among your rights at any site.")
    if request.method == "POST" and form.is_valid():
        site, size = form.cleaned_data["site"], form.cleaned_data["size"]
        try:
            lot = draw_lot(site=site, size=size, person=person, at=now)
        except Refused as refusal:
            refuse(form, refusal)
        else:
            messages.success(request, f"Lot {lot.number} of {site}: {size} tags, never used again.")
            return redirect("assemblies:lot_labels", lot.pk)
    context = {"form": form if sites else None, "lots": lots_of(person)}
    return render(request, "assemblies/papers/labels.html", context)


@politely
def lot_labels(request: HttpRequest, lot_id: int) -> HttpResponse:
    """The labels of a lot of blank tags."""
    lot = lot_for(person_of(request), lot_id)
    if lot is None:
        raise Http404
    made = blank_labels(lot, address=address_from(request))
    title = f"Blank tags, lot {lot.number} of {lot.site}"
    return _label_page(request, made, title, f"lot-{lot.site.code}-{lot.number}")


@politely
def hose_label(request: HttpRequest, hose_id: int) -> HttpResponse:
    """The label of one hose."""
    hose = hose_for(person_of(request), hose_id)
    if hose is None:
        raise Http404
    made = hose_labels([hose], address=address_from(request))
    if not made:
        messages.error(request, "This hose has no tag yet: bind one first, then print its label.")
        return redirect(address_of("hose", hose.pk))
    return _label_page(request, made, f"Label of {hose}", f"label-{hose.tag_id}")


@politely
def machine_labels(request: HttpRequest, machine_id: int) -> HttpResponse:
    """The labels of every tagged hose on a machine."""
    machine = machine_for(person_of(request), machine_id)
    if machine is None:
        raise Http404
    made = hose_labels(tagged_on(machine), address=address_from(request))
    if not made:
        messages.error(request, "No hose on this machine has a tag yet.")
        return redirect(address_of("machine", machine.pk))
    return _label_page(request, made, f"Labels of {machine}", f"labels-{machine.pk}")


def _label_page(request: HttpRequest, made: Sequence[Label], title: str, name: str) -> HttpResponse:
    """Ask for the label stock; with one, give the labels."""
    form = StockForm(request.GET if "stock" in request.GET else None)
    if form.is_bound and form.is_valid():
        sheet = LabelSheet(name, tuple(made), form.cleaned_data["skipped"] or 0)
        try:
            return pdf_answer(draw_labels(sheet, form.label_stock()), name)
        except LabelRefused as refusal:
            form.add_error(None, str(refusal))
    context = {"form": form, "count": len(made), "title": title}
    return render(request, "assemblies/papers/label_ask.html", context)
