"""People, their roles and sites."""

import datetime as dt

from django.contrib.auth.models import Group
from django.db import transaction

from fleet import audit
from fleet.actions.refusals import Refused
from fleet.models import Person, Posting, Site
from fleet.permissions import ROLES, require


@transaction.atomic
def post_person(
    *,
    person: Person,
    role: str,
    site: Site | None,
    by: Person | None,
    at: dt.datetime,
    competent_person: bool = False,
) -> Posting:
    """Give a person a role at a site (None: every site). Atomic, safe to repeat.

    Refuses: role_unknown. `by` None is the set-up itself; else `manage_people` is required.
    """
    if by is not None:
        require(by, "manage_people", site)
    if role not in ROLES:
        raise Refused("role_unknown", f"There is no role “{role}”.", field="role")
    posting, made = Posting.objects.get_or_create(
        person=person,
        role=Group.objects.get(name=role),
        site=site,
        ended_at=None,
        defaults={"began_at": at, "competent_person": competent_person},
    )
    if made:
        after = {"role": role, "site": site and site.code}
        audit.record(audit.Deed("posted", person, site, {}, after), actor=by, at=at)
    return posting


@transaction.atomic
def end_posting(*, posting: Posting, by: Person, at: dt.datetime, reason: str) -> None:
    """End a person's role. Atomic; ending it twice does nothing the second time."""
    require(by, "manage_people", posting.site_id)
    ended = Posting.objects.filter(pk=posting.pk, ended_at=None).update(ended_at=at)
    if ended:
        before = {"role": posting.role.name, "site": posting.site and posting.site.code}
        deed = audit.Deed("ended a posting", posting.person, posting.site, before, {}, reason)
        audit.record(deed, actor=by, at=at)
