"""The sources that hoses are traced to: what each is called, and who may see it."""

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, replace
from typing import Any, Final

from django.db.models import Q, QuerySet

from assemblies.models import (
    Assembly,
    BuildEnd,
    Crimper,
    CrimpRecipe,
    CrimpTrial,
    Instrument,
    RecipeRevision,
    Reel,
    StockItem,
)
from assemblies.queries.trace_links import text_source
from fleet.calc.keys import text_key
from fleet.models import Person, Site
from fleet.models.compiled import Compiled, compiled

MOST_FOUND: Final = 8


@dataclass(frozen=True, slots=True)
class Subject:
    """One source: a reel, a lot, a tool, a recipe, a person, a supplier, a trial.

    `site_id` is None for what all sites share. `own_id` is the row's, where it has one.
    """

    kind: str
    key: str
    noun: str
    label: str
    facts: str = ""
    site_id: int | None = None
    site: str = ""
    own_id: int | None = None
    withdrawn: str = ""
    may_be_withdrawn: bool = False


@dataclass(frozen=True, slots=True)
class _Kind:
    """A kind of source with rows of its own: which the person may see, and how one is told.

    What is `shared` everybody sees.
    """

    noun: str
    seen: Callable[[Any], "QuerySet[Any]"]
    told: Callable[[Any], dict[str, Any]]
    fits: Callable[[str], Q]
    shared: bool = False


def subject_for(person: Person, kind: str, key: str) -> Subject | None:
    """A source by its kind and key, where the person may see it."""
    return subjects_for(person, [(kind, key)]).get((kind, key))


def subjects_for(
    person: Person, wanted: Collection[tuple[str, str]]
) -> dict[tuple[str, str], Subject]:
    """Some sources, those the person may see. A few queries for each kind that is asked for."""
    found: dict[tuple[str, str], Subject] = {}
    for kind in {kind for kind, _ in wanted}:
        keys = [key for one, key in wanted if one == kind]
        if kind in _KINDS:
            ids = [int(key) for key in keys if key.isdecimal() and int(key) < 2**63]
            rows = _SEEN[kind](None if _KINDS[kind].shared else person, ids) if ids else []
            found |= {(kind, str(row.pk)): _told(kind, row) for row in rows}
        elif kind in _TEXTS:
            known = {one.key: one for key in keys for one in _TEXTS[kind](person, _bare(key))}
            found |= {(kind, key): known[key] for key in keys if key in known}
    return found


def text_subject(person: Person, kind: str, key: str, text: str) -> Subject | None:
    """A source that is only a text, as it was written; None where its site is not seen."""
    site, colon, _ = key.partition(":")
    if kind != "die_set" or not colon:
        return Subject(kind, key, _TEXT_NOUNS[kind], text)
    name = _site_name.first(person, int(site))
    return None if name is None else _die_set(int(site), name, text)


@compiled
def _site_name(person: Person, site_id: int) -> "QuerySet[Site, str]":
    return Site.objects.visible_to(person).filter(pk=site_id).values_list("name", flat=True)


def is_text(kind: str) -> bool:
    """Whether sources of a kind are only texts, without a row of their own."""
    return kind in _TEXT_NOUNS


def find_subjects(person: Person, text: str) -> tuple[Subject, ...]:
    """Sources that fit what was typed, a few of each kind, by kind. A fixed number of queries."""
    key = text_key(text)
    if not key:
        return ()
    found: list[Subject] = []
    for kind, one in _KINDS.items():
        rows = one.seen(person).filter(one.fits(key)).distinct().order_by("pk")[:MOST_FOUND]
        found += [_told(kind, row) for row in rows]
    for texts in _TEXTS.values():
        found += texts(person, key)[:MOST_FOUND]
    return tuple(found)


def revisions_of(recipe_id: int) -> tuple[Subject, ...]:
    """The revisions of a recipe that ever counted, the newest first."""
    rows = _recipes_revisions().filter(header=recipe_id).exclude(state="draft")
    return tuple(_told("recipe_revision", row) for row in rows.order_by("-number"))


def noun_of(kind: str) -> str:
    """What a kind of source is called."""
    return _KINDS[kind].noun if kind in _KINDS else _TEXT_NOUNS[kind]


def _told(kind: str, row: Any) -> Subject:
    one = _KINDS[kind]
    known = Subject(kind, str(row.pk), one.noun, str(row), own_id=row.pk)
    return replace(known, **one.told(row))


def _withdrawn(row: Any) -> str:
    return row.withdrawal_reason or "withdrawn" if row.withdrawn_at is not None else ""


def _at_site(row: Any, facts: str) -> dict[str, Any]:
    return {"facts": facts, "site_id": row.site_id, "site": row.site.name}


def _reel(row: Reel) -> dict[str, Any]:
    made = f", made {row.made_typed}" if row.made_typed else ""
    facts = f"{row.hose}{f' from {row.supplier}' if row.supplier else ''}{made}"
    gone = _withdrawn(row)
    return {"withdrawn": gone, "may_be_withdrawn": not gone, **_at_site(row, facts)}


def _lot(row: StockItem) -> dict[str, Any]:
    supplier = f"from {row.supplier}" if row.supplier else ""
    gone = _withdrawn(row)
    label = f"{row.fitting or row.shell}, lot {row.lot or 'without a number'}"
    told = {"label": label, "withdrawn": gone, "may_be_withdrawn": not gone}
    return {**told, **_at_site(row, supplier)}


def _tool(row: Any) -> dict[str, Any]:
    due = f"calibration due {row.calibration_due_on}" if row.calibration_due_on else ""
    facts = ", ".join(part for part in (row.description, due) if part)
    return {"withdrawn": _withdrawn(row), **_at_site(row, facts)}


def _revision(row: RecipeRevision) -> dict[str, Any]:
    gone = _withdrawn(row)
    return {
        "label": f"{row.header}, revision {row.number}",
        "facts": f"{row.get_state_display()}, {row.get_basis_display()}",
        "withdrawn": gone,
        "may_be_withdrawn": not gone and row.state != "draft",
    }


def _trial(row: CrimpTrial) -> dict[str, Any]:
    begun = f"{row.begun_at:%Y-%m-%d} by {row.begun_by}"
    return {"label": f"trial of {row.recipe}", **_at_site(row, f"begun {begun}")}


def _recipes_revisions() -> "QuerySet[RecipeRevision]":
    joint = ("header__hose", "header__fitting", "header__shell")
    return RecipeRevision.objects.select_related(*joint)


def _people(person: Person) -> "QuerySet[Person]":
    """Those who are, or were, posted to a site that the person sees."""
    if person.sees_every_site:
        return Person.objects.all()
    at = Q(postings__site__in=person.seen_site_ids) | Q(postings__site=None, postings__isnull=False)
    return Person.objects.filter(at).distinct()


def _joint(path: str = "") -> Callable[[str], Q]:
    def fits(key: str) -> Q:
        return (
            Q(**{f"{path}hose__code_key__contains": key})
            | Q(**{f"{path}fitting__code_key__contains": key})
            | Q(**{f"{path}shell__code_key__contains": key})
        )

    return fits


def _lots(part: str) -> Callable[[Person], "QuerySet[Any]"]:
    def seen(person: Person) -> "QuerySet[Any]":
        rows = StockItem.objects.visible_to(person).filter(**{f"{part}__isnull": False})
        return rows.select_related("site", part)

    return seen


def _code(key: str) -> Q:
    return Q(code_key__contains=key)


_KINDS: Final[Mapping[str, _Kind]] = {
    "reel": _Kind(
        "Reel",
        lambda person: Reel.objects.visible_to(person).select_related("site", "hose"),
        _reel,
        lambda key: _code(key) | Q(hose__code_key__contains=key),
    ),
    "fitting_lot": _Kind(
        "Lot of fittings",
        _lots("fitting"),
        _lot,
        lambda key: Q(lot__icontains=key) | Q(fitting__code_key__contains=key),
    ),
    "shell_lot": _Kind(
        "Lot of shells",
        _lots("shell"),
        _lot,
        lambda key: Q(lot__icontains=key) | Q(shell__code_key__contains=key),
    ),
    "recipe": _Kind(
        "Recipe",
        lambda _: CrimpRecipe.objects.select_related("hose", "fitting", "shell"),
        lambda _: {"facts": "all revisions"},
        _joint(),
        shared=True,
    ),
    "recipe_revision": _Kind(
        "Recipe revision",
        lambda _: _recipes_revisions(),
        _revision,
        lambda _: Q(pk__in=[]),
        shared=True,
    ),
    "crimper": _Kind(
        "Crimper",
        lambda person: Crimper.objects.visible_to(person).select_related("site"),
        _tool,
        _code,
    ),
    "instrument": _Kind(
        "Instrument",
        lambda person: Instrument.objects.visible_to(person).select_related("site"),
        _tool,
        _code,
    ),
    "person": _Kind(
        "Person",
        _people,
        lambda _: {},
        lambda key: Q(display_name__icontains=key) | Q(username__icontains=key),
    ),
    "trial": _Kind(
        "Crimp trial",
        lambda person: CrimpTrial.objects.visible_to(person).select_related(
            "site", "begun_by", "recipe__hose", "recipe__fitting", "recipe__shell"
        ),
        _trial,
        _joint("recipe__"),
    ),
}


def _seen(one: _Kind) -> "Compiled[[Person | None, Collection[int]], Any]":
    """Those of a kind that are named by their ids, where the person may see them."""

    def seen(person: Person | None, ids: Collection[int]) -> "QuerySet[Any]":
        return one.seen(person).filter(pk__in=ids)

    return compiled(seen)


_SEEN: Final = {kind: _seen(one) for kind, one in _KINDS.items()}


def _die_sets(person: Person, key: str) -> list[Subject]:
    """Die sets by site. The distinct texts are few; only those alike are looked up by site."""
    built = BuildEnd.objects.exclude(die_set="").order_by()
    tried = CrimpTrial.objects.exclude(die_set="").order_by()
    texts = {*built.values_list("die_set", flat=True).distinct()}
    texts |= {*tried.values_list("die_set", flat=True).distinct()}
    alike = [text for text in texts if key in text_key(text)]
    sites = dict(Site.objects.visible_to(person).values_list("pk", "name"))
    pairs = {
        *built.filter(die_set__in=alike, build__site__in=sites)
        .values_list("build__site", "die_set")
        .distinct(),
        *tried.filter(die_set__in=alike, site__in=sites).values_list("site", "die_set").distinct(),
    }
    found = [_die_set(site, sites[site], die) for site, die in sorted(pairs)]
    return list({one.key: one for one in found}.values())


def _die_set(site_id: int, site: str, text: str) -> Subject:
    key = text_source(text, site_id)
    return Subject("die_set", key, _TEXT_NOUNS["die_set"], text, site_id=site_id, site=site)


def _suppliers(person: Person, key: str) -> list[Subject]:
    bought = Assembly.objects.visible_to(person).filter(origin=Assembly.Origin.BOUGHT)
    names = bought.exclude(supplier="").order_by("supplier").values_list("supplier", flat=True)
    found = {
        text_source(name): Subject("supplier", text_source(name), _TEXT_NOUNS["supplier"], name)
        for name in names.distinct()
        if key in text_key(name)
    }
    return list(found.values())


def _bare(key: str) -> str:
    """A key without the site before it."""
    site, colon, text = key.partition(":")
    return text if colon and site.isdecimal() else key


_TEXT_NOUNS: Final = {"die_set": "Die set", "supplier": "Supplier"}
_TEXTS: Final[Mapping[str, Callable[[Person, str], list[Subject]]]] = {
    "die_set": _die_sets,
    "supplier": _suppliers,
}
