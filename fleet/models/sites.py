"""Sites, the people who work on them, and what each may see."""

from functools import cached_property
from typing import Any, Self, TypeVar

from django.contrib.auth.models import AbstractUser, AnonymousUser, Group
from django.db import models
from django.db.models import Q

from .abstract import Withdrawable
from .compiled import compiled
from .fields import TextKeyField

_Row = TypeVar("_Row", bound=models.Model)


class SiteScopedQuerySet(models.QuerySet[_Row]):
    """A queryset that starts at what a person may see. `site_path` leads to the site's id."""

    site_path = "site_id"

    def visible_to(self, person: "Person | AnonymousUser") -> Self:
        """Only rows of the person's sites; nothing for a stranger."""
        if not isinstance(person, Person) or not person.is_active:
            return self.none()
        if person.sees_every_site:
            return self
        return self.filter(**{f"{self.site_path}__in": person.seen_site_ids})


class SiteQuerySet(SiteScopedQuerySet[_Row]):
    site_path = "id"


class Site(Withdrawable):
    """A place with machines. Changed by an administrator only."""

    code = models.CharField(max_length=12)
    code_key = TextKeyField(source="code", unique=True)
    name = models.CharField(max_length=120)
    time_zone = models.CharField(max_length=40, default="UTC")
    assembler_mark = models.CharField(max_length=24, blank=True)
    approves_alone = models.BooleanField(default=False)
    proof_test = models.CharField(
        max_length=10,
        default="all",
        choices=[("all", "every build"), ("one_in_n", "one in n"), ("none", "matched builds none")],
    )
    proof_test_one_in = models.PositiveSmallIntegerField(default=1)

    objects = models.Manager.from_queryset(SiteQuerySet)()

    class Meta:
        ordering = ["code_key"]
        constraints = [
            models.CheckConstraint(
                condition=Q(proof_test__in=["all", "one_in_n", "none"]),
                name="site_proof_test_known",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class Person(AbstractUser):
    """Someone who logs in. Deactivated, never deleted."""

    display_name = models.CharField(max_length=120, blank=True)
    demo = models.BooleanField(default=False, help_text="May log in from this machine only.")

    class Meta:
        # What a person may do; roles are groups of these (see fleet.permissions).
        default_permissions = ()
        permissions = [
            ("read_register", "Read machines, hoses and dues"),
            ("record_reading", "Record hour readings"),
            ("edit_machines", "Make and change machines and positions"),
            ("fit_hoses", "Fit, swap and remove hoses, bind tags"),
            ("import_register", "Import a register"),
            ("edit_rules", "Draft life rules"),
            ("approve_rules", "Approve life rules and grant exemptions"),
            ("inspect", "Record inspections"),
            ("edit_catalogue", "Make and change catalogue items and specs"),
            ("approve_specs", "Approve catalogue items and specs"),
            ("edit_recipes", "Draft crimp recipes and record trials"),
            ("approve_recipes", "Approve crimp recipes"),
            ("build", "Record and sign builds"),
            ("release_conditionally", "Release a hose conditionally"),
            ("keep_stock", "Move stock"),
            ("report_failures", "Report failures and downtime"),
            ("read_costs", "Read costs"),
            ("withdraw", "Withdraw items, recipes and reels"),
            ("recall", "Recall across sites"),
            ("manage_people", "Give people their sites and roles"),
        ]

    def __str__(self) -> str:
        return self.display_name or self.get_full_name() or self.username

    @cached_property
    def posts(self) -> "list[Posting]":
        return _posts(self.pk) if self.pk else []

    @cached_property
    def _rights(self) -> "dict[int, frozenset[str]]":
        """What each of the person's roles may do; read once, because a page asks many times."""
        rights: dict[int, set[str]] = {}
        for role, right in _rights_of_roles({post.role_id for post in self.posts}):
            rights.setdefault(role, set()).add(right)
        return {role: frozenset(names) for role, names in rights.items()}

    @cached_property
    def first_site(self) -> "Site | None":
        """The first of the sites that the person sees: whose day it is on pages of several."""
        return _first_site.first(self)

    def capabilities_at(self, site_id: int | None) -> frozenset[str]:
        """What the person may do at a site (None: what goes for every site)."""
        if site_id not in self._capabilities:
            held = [post for post in self.posts if post.site_id is None or post.site_id == site_id]
            self._capabilities[site_id] = self._rights_of(held)
        return self._capabilities[site_id]

    @cached_property
    def capabilities_somewhere(self) -> frozenset[str]:
        """What the person may do at one of their sites at least."""
        return self._rights_of(self.posts)

    @cached_property
    def _capabilities(self) -> "dict[int | None, frozenset[str]]":
        return {}

    def _rights_of(self, posts: "list[Posting]") -> frozenset[str]:
        nothing: frozenset[str] = frozenset()
        return nothing.union(*(self._rights.get(post.role_id, nothing) for post in posts))

    @cached_property
    def sees_every_site(self) -> bool:
        return any(post.site_id is None for post in self.posts)

    @cached_property
    def seen_site_ids(self) -> list[int]:
        return sorted({post.site_id for post in self.posts if post.site_id is not None})


class Posting(models.Model):
    """A person's role at one site, or at every site where the site is empty."""

    person = models.ForeignKey(Person, models.PROTECT, related_name="postings")
    role = models.ForeignKey(Group, models.PROTECT, related_name="postings")
    site = models.ForeignKey(Site, models.PROTECT, null=True, blank=True, related_name="postings")
    competent_person = models.BooleanField(default=False)
    began_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            # Two rules, because SQLite holds two empty sites for different ones.
            models.UniqueConstraint(
                fields=["person", "role", "site"],
                condition=Q(ended_at__isnull=True, site__isnull=False),
                name="posting_once_at_a_site",
            ),
            models.UniqueConstraint(
                fields=["person", "role"],
                condition=Q(ended_at__isnull=True, site__isnull=True),
                name="posting_once_at_every_site",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.person} as {self.role}"


@compiled
def _posts(person_id: int) -> "models.QuerySet[Posting]":
    found = Posting.objects.filter(person=person_id, ended_at=None)
    return found.select_related("role")


@compiled
def _rights_of_roles(role_ids: set[int]) -> "models.QuerySet[Any, tuple[int, str]]":
    held = Group.permissions.through.objects.filter(group__in=role_ids)
    return held.values_list("group_id", "permission__codename")


@compiled
def _first_site(person: Person) -> "models.QuerySet[Site]":
    return Site.objects.visible_to(person).order_by("code_key")[:1]
