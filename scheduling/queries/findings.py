"""One finding, for the page that settles it."""

from fleet.models import Person
from scheduling.models import Finding


def finding_for(person: Person, finding_id: int) -> Finding | None:
    """The finding, where the person may see it and its hose."""
    found = Finding.objects.visible_to(person).filter(pk=finding_id)
    finding: Finding | None = found.select_related("assembly__site", "site").first()
    return finding
