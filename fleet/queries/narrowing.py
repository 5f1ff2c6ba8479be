"""Sites and classes of machines: few, named beside long lists, and what those are narrowed by.

They are read for themselves: joined to a long list, they tempt a database to begin with them.
"""

from django.db.models import QuerySet

from fleet.models import MachineClass, Person, Site
from fleet.models.compiled import compiled


@compiled
def sites_seen(person: Person) -> "QuerySet[Site, tuple[int, str]]":
    """The current sites that the person sees, id and name, in their order."""
    seen = Site.objects.visible_to(person).filter(withdrawn_at=None)
    return seen.order_by("code_key").values_list("pk", "name")


@compiled
def machine_classes() -> "QuerySet[MachineClass, tuple[int, str]]":
    """The current classes of machines, id and name, in their order."""
    found = MachineClass.objects.filter(withdrawn_at=None)
    return found.order_by("name_key").values_list("pk", "name")


@compiled
def site_codes() -> "QuerySet[Site, tuple[int, str]]":
    """The code of every site by its id."""
    return Site.objects.order_by().values_list("pk", "code")


@compiled
def class_names() -> "QuerySet[MachineClass, tuple[int, str]]":
    """The name of every class of machines by its id."""
    return MachineClass.objects.order_by().values_list("pk", "name")
