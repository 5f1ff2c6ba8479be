"""The duty check read: a position against the spec that it requires, or against another."""

from collections.abc import Sequence

from assemblies.calc.duty import Asked, Borne, Finding, duty_findings
from assemblies.calc.duty_ends import EndAsked
from assemblies.models import AssemblySpec, Position, RecipeRevision, SpecRevision
from assemblies.queries.parts import EndParts, SpecParts, parts_of
from assemblies.queries.ratings import rating_of

_NAMES = {"A": "near", "B": "far"}


def duty_check(position: Position, revision: SpecRevision) -> tuple[Finding, ...]:
    """What stands against a spec's revision at a position, the gravest first."""
    return duty_findings(asked_of(position), borne_by(parts_of([revision])[revision.pk]))


def counting_revision(spec: AssemblySpec) -> SpecRevision | None:
    """The revision of a spec that counts: the approved one, else the newest draft."""
    found = SpecRevision.objects.filter(header=spec, state__in=("approved", "draft"))
    return found.select_related("header", "hose").order_by("state", "-number").first()


def asked_of(position: Position) -> Asked:
    """What a position asks, as far as it is stated."""
    return Asked(
        pressure_bar=position.pressure_bar,
        surge_bar=position.surge_bar,
        oil_temperature_c=position.oil_temperature_c,
        ambient_temperature_c=position.ambient_temperature_c,
        fluid=position.fluid,
        flow_l_per_min=position.flow_l_per_min,
        bend_radius_mm=position.bend_radius_mm,
        circuit=position.circuit,
        exposure=position.exposure,
        hurts=position.consequence == Position.Consequence.HURTS,
        ports=(position.port_a, position.port_b),
    )


def borne_by(parts: SpecParts) -> Borne:
    """What the parts of a spec bear."""
    facts, hose = rating_of(parts), parts.hose
    rating = facts.rating
    hottest = rating.max_temperature_c if rating else None
    by_hose = hose.temperature_high_c if hose else None
    known = hottest if hottest is not None else by_hose
    return Borne(
        working_pressure_bar=facts.working_pressure_bar,
        binding=rating.binding if rating else (),
        temperature_low_c=hose.temperature_low_c if hose else None,
        temperature_high_c=None if known is None else int(known),
        fluids=hose.fluids if hose else "",
        tube_material=hose.tube_material if hose else "",
        hose_source=hose.rating_source if hose else "",
        bend_radius_mm=hose.bend_radius_mm if hose else None,
        bore_mm=hose.bore_mm if hose else None,
        sleeves=parts.spec.sleeves.count(),
        unmatched=_unmatched(parts.ends),
        ends=tuple(_end(end) for end in parts.ends),
    )


def _unmatched(ends: Sequence[EndParts]) -> bool:
    """Whether an end stands on no approved published chart."""
    return any(
        end.recipe is None
        or end.recipe.state != RecipeRevision.State.APPROVED
        or end.recipe.basis != RecipeRevision.Basis.PUBLISHED
        for end in ends
    )


def _end(end: EndParts) -> EndAsked:
    fitting = end.fitting
    name = _NAMES.get(end.end.which, end.end.which)
    if fitting is None:
        return EndAsked(name, str(end.end.fitting), "")
    return EndAsked(name, fitting.connection, fitting.connection_size)
