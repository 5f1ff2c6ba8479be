"""The list of machines, and the page of one."""

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render

from fleet.navigation import deeds_for
from fleet.permissions import may, may_anywhere
from fleet.views.gate import day_at, person_of, politely, today_of
from fleet.views.paging import SIZE, place_of, shown
from fleet.views.usage_pictures import usage_pictures
from scheduling.forms.filters import MachineFilterForm
from scheduling.queries.machine_list import machine_list
from scheduling.queries.machine_page import machine_page


@politely
def machines(request: HttpRequest) -> HttpResponse:
    """The machines of the person's sites, by number."""
    person = person_of(request)
    day, form = today_of(person), MachineFilterForm(request.GET, person=person)
    after = place_of(request, str, int)
    page = machine_list(person, form.sought(), after=after, size=SIZE, today=day)
    context = {
        "form": form,
        "page": shown(request, page),
        "today": day,
        "may_add": may_anywhere(person, "edit_machines"),
        "narrowed": any(request.GET.get(name) for name in form.fields),
    }
    return render(request, "scheduling/machines.html", context)


@politely
def machine(request: HttpRequest, machine_id: int) -> HttpResponse:
    """One machine, walked round."""
    person = person_of(request)
    page = machine_page(person, machine_id, today=today_of(person))
    if page is None:
        raise Http404
    site = page.machine.site
    context = {
        "page": page,
        "machine": page.machine,
        "today": day_at(site),
        "deeds": deeds_for("machine", machine_id, person=person, site_id=site.pk),
        "may_edit": may(person, "edit_machines", site),
        "may_decide": may(person, "record_reading", site),
        "pictures": usage_pictures(page.machine, day_at(site)),
    }
    return render(request, "scheduling/machine.html", context)
