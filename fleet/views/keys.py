"""API keys: making one, which is shown once, and revoking."""

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from fleet.actions.keys import make_key, revoke_key
from fleet.actions.refusals import Refused
from fleet.forms.keys import KeyForm
from fleet.permissions import READ, NotAllowed, may_anywhere
from fleet.queries.keys import disputed, key_for, keys_of, keys_of_others
from fleet.views.forms import refuse
from fleet.views.gate import person_of, politely


@politely
def keys(request: HttpRequest) -> HttpResponse:
    """The person's keys; making one answers with its text, this once."""
    person, now = person_of(request), timezone.now()
    if not may_anywhere(person, READ):
        raise NotAllowed("You have no role at any site yet: a key would open nothing.")
    form, new = KeyForm(request.POST or None, person=person), None
    if request.method == "POST" and form.is_valid():
        try:
            new = make_key(owner=person, by=person, at=now, **form.cleaned_data)
        except Refused as refusal:
            refuse(form, refusal)
        else:
            form = KeyForm(person=person)
    manages = may_anywhere(person, "manage_people")
    context = {
        "form": form,
        "new_key": new[0] if new else None,
        "new_text": str(new[1]) if new else "",
        "keys": keys_of(person, now=now),
        "others": keys_of_others(person, now=now) if manages else [],
        "disputed": disputed(person),
    }
    return render(request, "fleet/keys.html", context)


@require_POST
@politely
def key_revoke(request: HttpRequest, key_id: int) -> HttpResponse:
    """Revoking a key for good. A key that is not theirs is no key to a person."""
    person, key = person_of(request), key_for(key_id)
    if key is None or (key.owner_id != person.pk and not may_anywhere(person, "manage_people")):
        raise Http404
    revoke_key(key=key, by=person, at=timezone.now(), reason=request.POST.get("reason", "")[:500])
    messages.success(request, f"The key {key.name} opens nothing any more.")
    return redirect("fleet:keys")
