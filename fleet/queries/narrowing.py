"""What lists are narrowed by: the sites that a person sees, the classes of machines."""

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
