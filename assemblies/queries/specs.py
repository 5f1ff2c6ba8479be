"""Specs read: the list, and the page of one with its length, rating, positions and recipes."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db.models import Exists, OuterRef, Q

from assemblies.calc.search import Term, terms_of
from assemblies.models import (
    AssemblySpec,
    Position,
    RecipeRevision,
    SpecEnd,
    SpecRevision,
    SpecSleeve,
)
from assemblies.queries.catalogue import revisions_fitting
from assemblies.queries.obstacles import Duty, Obstacle, approval_obstacles, duty_of
from assemblies.queries.parts import EndParts, SpecParts, parts_of
from assemblies.queries.ratings import RatingFacts, rating_of
from assemblies.queries.side_by_side import (
    FactCell,
    FactRow,
    RevisionHead,
    fact_rows,
    head_of,
    row_of,
    size_words,
)
from assemblies.queries.spec_lengths import LengthFacts, length_facts
from fleet.calc.keys import text_key
from fleet.models import Person
from fleet.queries.keyset import Order, Page, page_of

BY_CODE = Order("code_key")
MOST_POSITIONS = 100
_STANDING = ("approved", "draft")


@dataclass(frozen=True, slots=True)
class SpecLine:
    """One spec of the list, by the revision that counts."""

    spec_id: int
    code: str
    title: str
    hose: str
    size: str
    length_mm: Decimal | None
    ends: tuple[str, ...]
    working_pressure_bar: Decimal | None
    state: str
    recipes_missing: int


@dataclass(frozen=True, slots=True)
class EndFacts:
    """One end of a spec, with how far its recipe is."""

    which: str
    fitting_id: int
    fitting: str
    shell_id: int | None
    shell: str
    connection: str
    form: str
    turns: str
    allowance_mm: Decimal | None
    small_parts: str
    recipe_id: int | None
    recipe_state: str
    recipe_words: str
    matched: bool


@dataclass(frozen=True, slots=True)
class SpecPage:
    """One revision of a spec, whole."""

    spec_id: int
    code: str
    title: str
    revision: SpecRevision
    head: RevisionHead
    heads: tuple[RevisionHead, ...]
    rows: tuple[FactRow, ...]
    hose_id: int
    hose: str
    hose_words: str
    size: str
    ends: tuple[EndFacts, ...]
    length: LengthFacts
    rating: RatingFacts
    duties: tuple[Duty, ...]
    elsewhere: int
    obstacles: tuple[Obstacle, ...]
    sleeves: tuple[SpecSleeve, ...]
    approved_alone: bool

    @property
    def strip(self) -> tuple[str, ...]:
        """What stands on the strip: size, length, pressure."""
        bar = self.rating.working_pressure_bar
        pressure = "" if bar is None else f"{bar.normalize():f} bar"
        return (self.size, f"{self.length.length_mm.normalize():f} mm", pressure)

    @property
    def angle_note(self) -> str:
        limits = self.length.angle_limits
        return f"±{limits.plus_minus_deg.normalize():f}°, from B to A" if limits else ""

    @property
    def draft(self) -> RevisionHead | None:
        return next((head for head in self.heads if head.state == "draft"), None)


def spec_lines(text: str, *, after: tuple[Any, ...] | None, size: int) -> Page[SpecLine]:
    """A page of the current specs that fit a search, by code."""
    found = AssemblySpec.objects.filter(withdrawn_at=None)
    terms = terms_of(text)
    if terms:
        standing = SpecRevision.objects.filter(header=OuterRef("pk"), state__in=_STANDING)
        found = found.filter(Exists(standing.filter(*(_fits(term) for term in terms))))
    page = page_of(found, order=BY_CODE, after=after, size=size)
    return Page(_lines(page.rows), page.after)


def spec_page(person: Person, spec_id: int, number: int | None = None) -> SpecPage | None:
    """One spec by one revision: the numbered one, else the approved one, else the newest."""
    revisions = list(
        SpecRevision.objects.filter(header=spec_id)
        .select_related("header", "hose", "made_by", "approved_by", "withdrawn_by")
        .order_by("-number")
    )
    chosen = _chosen(revisions, number)
    if chosen is None:
        return None
    parts = parts_of([chosen])[chosen.pk]
    seen, elsewhere = _duties(person, spec_id)
    obstacles = approval_obstacles(parts, person) if chosen.state == "draft" else ()
    return SpecPage(
        spec_id=spec_id,
        code=chosen.header.code,
        title=chosen.header.title,
        revision=chosen,
        head=head_of(chosen),
        heads=tuple(head_of(one) for one in revisions),
        rows=(*fact_rows(revisions), *_part_rows(revisions)),
        hose_id=chosen.hose_id,
        hose=str(chosen.hose),
        hose_words=_hose_words(parts),
        size=size_words(parts.hose.size_dn) if parts.hose else "",
        ends=tuple(end_facts(end) for end in parts.ends),
        length=length_facts(parts),
        rating=rating_of(parts),
        duties=seen,
        elsewhere=elsewhere,
        obstacles=tuple(obstacles),
        sleeves=tuple(chosen.sleeves.all()),
        approved_alone=chosen.approved_by_id is not None
        and chosen.approved_by_id == chosen.made_by_id,
    )


def spec_revision(spec_id: int, number: int) -> SpecRevision | None:
    """One revision of a spec, or None."""
    found = SpecRevision.objects.filter(header=spec_id, number=number)
    return found.select_related("header", "hose").first()


def end_facts(end: EndParts) -> EndFacts:
    """One end in words, its recipe's state among them."""
    fitting, recipe = end.fitting, end.recipe
    return EndFacts(
        which=end.end.which,
        fitting_id=end.end.fitting_id,
        fitting=str(end.end.fitting),
        shell_id=end.end.shell_id,
        shell=str(end.end.shell or ""),
        connection=f"{fitting.connection} {fitting.connection_size}" if fitting else "",
        form=fitting.get_form_display() if fitting else "",
        turns=fitting.get_turns_display() if fitting else "",
        allowance_mm=fitting.allowance_mm if fitting else None,
        small_parts=fitting.small_parts if fitting else "",
        recipe_id=recipe.header_id if recipe else None,
        recipe_state=recipe.state if recipe else "none",
        recipe_words=recipe_words(recipe),
        matched=recipe is not None
        and recipe.state == "approved"
        and recipe.basis == RecipeRevision.Basis.PUBLISHED,
    )


def recipe_words(recipe: RecipeRevision | None) -> str:
    """How far the recipe of a joint is, in words; without one there is no crimp figure."""
    if recipe is None:
        return "No recipe: nobody has said how this hose and fitting are crimped."
    if recipe.state == "draft":
        return f"Recipe revision {recipe.number} is a draft: not to be crimped by yet."
    by_chart = recipe.basis == RecipeRevision.Basis.PUBLISHED
    basis = f"published: {recipe.chart_source}" if by_chart else "found by trial"
    return f"Recipe revision {recipe.number}, {recipe.get_state_display()}, {basis}."


def _part_rows(revisions: Sequence[SpecRevision]) -> Iterator[FactRow]:
    """The ends and sleeves of revisions side by side."""
    ends = list(SpecEnd.objects.filter(spec__in=revisions).select_related("fitting", "shell"))
    for which in ("A", "B"):
        texts = {
            end.spec_id: f"{end.fitting}{f' in {end.shell}' if end.shell else ''}"
            for end in ends
            if end.which == which
        }
        yield row_of(f"End {which}", _texts(revisions, texts))
    sleeves: dict[int, str] = {}
    for sleeve in SpecSleeve.objects.filter(spec__in=revisions).order_by("number"):
        to = "the end" if sleeve.to_mm is None else f"{sleeve.to_mm.normalize():f} mm"
        text = f"{sleeve.kind}, {sleeve.from_mm.normalize():f} mm to {to}"
        sleeves[sleeve.spec_id] = "; ".join(filter(None, (sleeves.get(sleeve.spec_id), text)))
    if sleeves:
        yield row_of("Sleeves", _texts(revisions, sleeves))


def _texts(revisions: Sequence[SpecRevision], by_id: dict[int, str]) -> tuple[FactCell, ...]:
    return tuple(FactCell(one.number, by_id.get(one.pk, "")) for one in revisions)


def _chosen(revisions: Sequence[SpecRevision], number: int | None) -> SpecRevision | None:
    if number is not None:
        return next((one for one in revisions if one.number == number), None)
    approved = (one for one in revisions if one.state == "approved")
    return next(approved, revisions[0] if revisions else None)


def _duties(person: Person, spec_id: int) -> tuple[tuple[Duty, ...], int]:
    """The positions that require a spec: those the person may see, and how many more."""
    asking = Position.objects.filter(required_spec=spec_id, withdrawn_at=None)
    seen = asking.visible_to(person).select_related("machine").order_by("machine", "walk_order")
    shown = tuple(duty_of(position) for position in seen[:MOST_POSITIONS])
    others = asking.exclude(pk__in=[duty.position_id for duty in shown]).values("pk")
    return shown, len(others[:1000])


def _hose_words(parts: SpecParts) -> str:
    hose = parts.hose
    if hose is None:
        return "no revision that counts"
    return f"{hose.maker} {hose.product}, {hose.standard_type or 'outside every standard'}"


def _lines(specs: Sequence[AssemblySpec]) -> tuple[SpecLine, ...]:
    standing = SpecRevision.objects.filter(header__in=specs, state__in=_STANDING)
    best: dict[int, SpecRevision] = {}
    for revision in standing.select_related("header", "hose").order_by("-state", "number"):
        best[revision.header_id] = revision  # approved after draft: "draft" sorts behind
    parts = parts_of(list(best.values()))
    return tuple(_line(spec, best.get(spec.pk), parts) for spec in specs)


def _line(
    spec: AssemblySpec, revision: SpecRevision | None, parts: dict[int, SpecParts]
) -> SpecLine:
    if revision is None:
        return SpecLine(spec.pk, spec.code, spec.title, "", "", None, (), None, "withdrawn", 0)
    own = parts[revision.pk]
    ends = tuple(
        f"{end.fitting.connection} {end.fitting.connection_size}, {end.fitting.get_form_display()}"
        if end.fitting
        else str(end.end.fitting)
        for end in own.ends
    )
    return SpecLine(
        spec_id=spec.pk,
        code=spec.code,
        title=spec.title,
        hose=_hose_words(own),
        size=size_words(own.hose.size_dn) if own.hose else "",
        length_mm=revision.length_mm,
        ends=ends,
        working_pressure_bar=rating_of(own).working_pressure_bar,
        state=revision.state,
        recipes_missing=sum(
            end.recipe is None or end.recipe.state != "approved" for end in own.ends
        ),
    )


def _fits(term: Term) -> Q:
    """A spec fits a term by its code or title, by its hose, or by one of its ends."""
    key = text_key(term.word)
    fits = Q(header__code_key__contains=key) if key else Q()
    for spelling in {term.word, term.word.lower(), term.word.upper(), term.word.capitalize()}:
        fits |= Q(header__title__icontains=spelling)
    fits |= Q(hose__in=revisions_fitting("hose", term).values("header"))
    fittings = revisions_fitting("fitting", term).values("header")
    return fits | Q(ends__fitting__in=fittings)
