"""One finding, for the page that settles it."""

from assemblies.models import Assembly
from fleet.models import Person
from scheduling.models import Finding


def finding_for(person: Person, finding_id: int) -> Finding | None:
    """The finding, where the person may see its hose: it goes with the hose to another site."""
    seen = Assembly.objects.visible_to(person)
    found = Finding.objects.filter(pk=finding_id, assembly__in=seen)
    finding: Finding | None = found.select_related("assembly__site", "site").first()
    return finding
