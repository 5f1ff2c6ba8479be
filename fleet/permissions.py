"""The one gate: who may do what, where."""

from typing import TYPE_CHECKING, Final

from django.contrib.auth.models import AnonymousUser, Group, Permission

from fleet.models import Person, Site

if TYPE_CHECKING:
    from collections.abc import Mapping

READ: Final = "read_register"

_FITTER = (
    READ,
    "record_reading",
    "fit_hoses",
    "inspect",
    "build",
    "report_failures",
    "edit_recipes",
)
_PLANNER = (
    *(READ, "record_reading", "edit_machines", "fit_hoses", "import_register", "edit_rules"),
    *("approve_rules", "inspect", "edit_catalogue", "approve_specs", "edit_recipes"),
    *("report_failures", "keep_stock", "read_costs"),
)
ROLES: "Final[Mapping[str, tuple[str, ...]]]" = {
    "planner": _PLANNER,
    "fitter": _FITTER,
    "inspector": (READ, "record_reading", "inspect", "report_failures"),
    "manager": (
        *(READ, "read_costs", "report_failures", "approve_rules", "approve_specs"),
        *("approve_recipes", "release_conditionally"),
    ),
    "storeman": (READ, "keep_stock"),
    "safety officer": (READ, "read_costs", "withdraw", "recall", "report_failures", "inspect"),
    "administrator": (READ, "manage_people", "edit_machines"),
}


class NotAllowed(Exception):
    """The person may not do this at this site."""


def may(person: Person | AnonymousUser, capability: str, site: Site | int | None) -> bool:
    """Whether the person has the capability at the site (None: at every site)."""
    if not isinstance(person, Person) or not person.is_active:
        return False
    site_id = site.pk if isinstance(site, Site) else site
    return capability in person.capabilities_at(site_id)


def require(person: Person | AnonymousUser, capability: str, site: Site | int | None) -> None:
    """Raise `NotAllowed` unless the person has the capability at the site."""
    if not may(person, capability, site):
        raise NotAllowed(f"This needs the right “{capability.replace('_', ' ')}” at this site.")


def may_anywhere(person: Person | AnonymousUser, capability: str) -> bool:
    """Whether the person has the capability at some site: for what all sites share."""
    if not isinstance(person, Person) or not person.is_active:
        return False
    return capability in person.capabilities_somewhere


def ensure_roles() -> None:
    """Make the roles' groups and give each its capabilities; safe to repeat."""
    rights = {right.codename: right for right in _rights()}
    for name, capabilities in ROLES.items():
        group, _ = Group.objects.get_or_create(name=name)
        group.permissions.set([rights[capability] for capability in capabilities])


def _rights() -> list[Permission]:
    found = Permission.objects.filter(content_type__app_label="fleet", content_type__model="person")
    return list(found)
