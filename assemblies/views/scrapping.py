"""Scrapping a hose that is on no machine."""

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from assemblies.actions.installations import Moment, scrap_assembly
from assemblies.forms.scrapping import ScrapForm
from assemblies.queries.choices import hose_for
from fleet.actions.refusals import Refused
from fleet.calc.local_days import moment_on
from fleet.navigation import address_of
from fleet.permissions import require
from fleet.views.forms import refuse
from fleet.views.gate import day_at, person_of, politely


@politely
def scrap(request: HttpRequest, hose_id: int) -> HttpResponse:
    """A hose in store or on the bench goes to scrap, for good."""
    person, now = person_of(request), timezone.now()
    hose = hose_for(person, hose_id)
    if hose is None:
        raise Http404
    require(person, "fit_hoses", hose.site_id)
    form = ScrapForm(request.POST or None, initial={"on": day_at(hose.site, now)})
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        when = Moment(given["on"], moment_on(given["on"], hose.site.time_zone, now))
        try:
            scrap_assembly(assembly=hose, when=when, person=person, now=now, reason=given["reason"])
        except Refused as refusal:
            refuse(form, refusal)
        else:
            messages.success(request, f"{hose} is scrapped.")
            return redirect(address_of("hose", hose.pk))
    return render(request, "assemblies/scrap_form.html", {"form": form, "hose": hose})
