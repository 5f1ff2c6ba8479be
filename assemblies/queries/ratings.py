"""What an assembly may bear, and what binds it: the lowest of its hose, ends and recipes."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from assemblies.calc.ratings import (
    PartKind,
    PartRating,
    Rating,
    RatingError,
    assembly_rating,
)
from assemblies.models import Assembly, SpecRevision
from assemblies.queries.parts import EndParts, SpecParts, parts_of

_END_NAMES = {"A": "end A", "B": "end B"}


@dataclass(frozen=True, slots=True)
class RatingFacts:
    """A rating with its parts; where there is none, the sentence that says why."""

    rating: Rating | None
    problem: str
    parts: tuple[PartRating, ...]
    notes: tuple[str, ...] = ()
    stated_bar: Decimal | None = None

    @property
    def working_pressure_bar(self) -> Decimal | None:
        """By its parts, else as the register states it."""
        return self.rating.working_pressure_bar if self.rating else self.stated_bar


def spec_ratings(specs: Sequence[SpecRevision]) -> dict[int, RatingFacts]:
    """The rating of each spec revision by its id; the number of queries doesn't grow."""
    return {spec_id: rating_of(parts) for spec_id, parts in parts_of(specs).items()}


def spec_rating(spec: SpecRevision) -> RatingFacts:
    """The rating of one spec revision."""
    return spec_ratings([spec])[spec.pk]


def assembly_ratings(assemblies: Sequence[Assembly]) -> dict[int, RatingFacts]:
    """The rating of each assembly by its id: by its spec, else as the register states it."""
    specs = {one.spec_id: one.spec for one in assemblies if one.spec is not None}
    by_spec = spec_ratings(list(specs.values()))
    return {
        one.pk: by_spec[one.spec_id] if one.spec_id in by_spec else _as_stated(one)
        for one in assemblies
    }


def assembly_rating_of(assembly: Assembly) -> RatingFacts:
    """The rating of one assembly."""
    return assembly_ratings([assembly])[assembly.pk]


def rating_of(parts: SpecParts) -> RatingFacts:
    """The rating that the parts of a spec give."""
    rated = tuple(part_ratings(parts))
    notes = tuple(_note(end) for end in parts.ends if _unrated_recipe(end))
    try:
        return RatingFacts(assembly_rating(rated), "", rated, notes)
    except RatingError as error:
        return RatingFacts(None, str(error), rated, notes)


def part_ratings(parts: SpecParts) -> list[PartRating]:
    """What each part of a spec is rated at, by which document."""
    found = [_hose(parts)]
    for end in parts.ends:
        found.append(_end(end))
        found.extend(_recipe(end))
    return found


def _hose(parts: SpecParts) -> PartRating:
    hose = parts.hose
    if hose is None:
        return PartRating(PartKind.HOSE, f"hose {parts.spec.hose}", None, "no revision that counts")
    high = hose.temperature_high_c
    return PartRating(
        PartKind.HOSE,
        f"hose {hose.header}",
        hose.working_pressure_bar,
        hose.rating_source,
        None if high is None else Decimal(high),
    )


def _end(end: EndParts) -> PartRating:
    name = f"fitting {end.end.fitting} ({_END_NAMES[end.end.which]})"
    if end.fitting is None:
        return PartRating(PartKind.END, name, None, "no revision that counts")
    return PartRating(
        PartKind.END, name, end.fitting.working_pressure_bar, end.fitting.rating_source
    )


def _recipe(end: EndParts) -> list[PartRating]:
    """A recipe binds once it is approved and states a pressure; a draft says nothing yet."""
    recipe = end.recipe
    if recipe is None or recipe.state != "approved" or recipe.working_pressure_bar is None:
        return []
    high = recipe.temperature_high_c
    return [
        PartRating(
            PartKind.RECIPE,
            f"recipe of {_END_NAMES[end.end.which]}",
            recipe.working_pressure_bar,
            recipe.chart_source or f"stated by {recipe.rated_by or recipe.approved_by}",
            None if high is None else Decimal(high),
        )
    ]


def _unrated_recipe(end: EndParts) -> bool:
    recipe = end.recipe
    return recipe is None or recipe.state != "approved" or recipe.working_pressure_bar is None


def _note(end: EndParts) -> str:
    where = f"End {end.end.which}"
    if end.recipe is None or end.recipe.state != "approved":
        return f"{where} has no approved recipe: this is the ceiling of the parts alone."
    return f"{where}: the chart states no pressure of its own for the joint."


def _as_stated(assembly: Assembly) -> RatingFacts:
    """A hose without a spec: what the register says of it, and no more is known."""
    bar = assembly.working_pressure_bar
    if bar is None:
        return RatingFacts(
            None, "No spec, and the register states no working pressure for this hose.", ()
        )
    typed = assembly.pressure_typed or f"{bar.normalize():f} bar"
    words = f"The register states {typed}; the parts behind it are not known."
    return RatingFacts(None, words, (), stated_bar=bar)
