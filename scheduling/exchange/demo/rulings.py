"""The demo's life rules, exemptions and its one conditional release."""

from typing import Any

from assemblies.models import ConditionalRelease
from fleet.models import MachineClass
from scheduling.exchange.demo.days import Days, moment
from scheduling.exchange.demo.fleet import FleetPlan
from scheduling.exchange.demo.hoses import Hose
from scheduling.exchange.demo.register import Register
from scheduling.exchange.demo.tables import HappeningRow, RuleRow, tables
from scheduling.models import Exemption, LifeRule, LifeRuleRevision

RELEASED_TO_BAR = 170
"""The limit that the release in happenings.csv states."""


def lay_rules(register: Register, days: Days, fleet: FleetPlan) -> None:
    """The life rules, each approved by a named person in the first week."""
    for number, row in enumerate(tables().rules):
        proposer, approver = fleet.people[row.proposed_by], fleet.people[row.approved_by]
        revision = LifeRuleRevision(
            header=register.add(LifeRule(name=row.name, preset=row.preset)),
            state="approved",
            made_by=proposer,
            made_at=moment(days.start, 10 + number / 4),
            approved_by=approver,
            approved_at=moment(days.start, 14 + number / 4),
            source=row.source,
            **_scope(register, fleet, row),
            **{name: getattr(row, name) for name in LifeRuleRevision.LIMITS},
        )
        register.add(revision)
        at = moment(days.start, 14 + number / 4)
        after = {"rule": row.name, "source": row.source}
        register.tell("approved a life rule", revision, at=at, by=approver, after=after)


def _scope(register: Register, fleet: FleetPlan, row: RuleRow) -> dict[str, Any]:
    classes = {found.name: found for found in register.of(MachineClass)}
    return {
        "site": fleet.sites[row.site] if row.site else None,
        "machine_class": classes[row.machine_class] if row.machine_class else None,
        "circuit": row.circuit,
        "hose_type": row.hose_type,
        "consequence": row.consequence,
        "exposure": row.exposure,
    }


def lay_exemptions(register: Register, days: Days, fleet: FleetPlan, hoses: list[Hose]) -> None:
    """Leave to pass a limit: one hose, and one machine that stands."""
    for row in tables().happenings:
        if not row.kind.startswith("exemption"):
            continue
        grantor, granted_on = fleet.people[row.person], days.ago(row.days_ago)
        exemption = Exemption(
            assembly=hanging(hoses, row).assembly if row.place else None,
            machine=None if row.place else fleet.machines[row.machine].machine,
            triggers=list(row.triggers),
            reason=row.text,
            granted_by=grantor,
            granted_on=granted_on,
            until_on=days.ago(-(row.until_days or 0)),
        )
        register.add(exemption)
        register.tell(
            "granted an exemption",
            exemption,
            at=moment(granted_on, 10),
            by=grantor,
            after={"until": exemption.until_on, "machine": row.machine, "place": row.place},
            reason=row.text,
        )


def lay_releases(register: Register, days: Days, fleet: FleetPlan, hoses: list[Hose]) -> None:
    """A hose made at night from parts that no chart names together."""
    for row in tables().happenings:
        if row.kind != "conditional_release":
            continue
        hose, authority = hanging(hoses, row), fleet.people[row.person]
        at = moment(days.ago(row.days_ago), 4.0)
        release = ConditionalRelease(
            assembly=hose.assembly,
            authority=authority,
            released_at=at,
            reason=row.text,
            limits=row.limits,
            replace_by_on=days.ago(-(row.until_days or 0)),
        )
        register.add(release)
        hose.assembly.working_pressure_bar = RELEASED_TO_BAR
        register.tell(
            "released conditionally",
            hose.assembly,
            at=at,
            by=authority,
            site=hose.site,
            after={"limits": row.limits, "replace_by": release.replace_by_on},
            reason=row.text,
        )


def hanging(hoses: list[Hose], row: HappeningRow) -> Hose:
    """The hose that hangs on a place now."""
    wanted = (row.machine, row.place, row.place_no or 1)
    return next(
        hose
        for hose in hoses
        if hose.fit is not None and hose.fit.removed_on is None and hose.fit.place.key == wanted
    )
