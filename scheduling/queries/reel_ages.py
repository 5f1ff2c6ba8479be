"""The reel ages that approved life rules set, for the pages of the stock below."""

from collections.abc import Iterator

from assemblies.calc.reel_age import ReelLimit
from assemblies.queries.reel_limits import KeptLimit, keep_reel_limits
from scheduling.models import LifeRuleRevision


def keep_them() -> None:
    """Let the stock's pages ask here."""
    keep_reel_limits("life rules", rule_limits)


def rule_limits() -> Iterator[KeptLimit]:
    """Every approved rule's limit on reel age, in one query.

    What a rule says of a machine, a class, a circuit, a consequence or an exposure is known only
    where the hose is to be fitted: such a limit is told with that place in words.
    """
    approved = LifeRuleRevision.objects.filter(state="approved", header__withdrawn_at=None)
    limited = approved.filter(reel_age_months__isnull=False)
    rules = limited.select_related("header", "machine", "machine__site", "machine_class")
    for rule in rules.order_by("pk"):
        machine = rule.machine
        yield KeptLimit(
            ReelLimit(rule.reel_age_months or 0, rule.source, rule.header.name, _where(rule)),
            machine.site_id if machine else rule.site_id,
            rule.hose_type,
        )


def _where(rule: LifeRuleRevision) -> str:
    parts = (
        f"machine {rule.machine}" if rule.machine else "",
        f"machines of class {rule.machine_class}" if rule.machine_class else "",
        f"{rule.get_circuit_display()} circuits" if rule.circuit else "",
        f"places where a failure {rule.get_consequence_display()}" if rule.consequence else "",
        f"places exposed to {rule.get_exposure_display()}" if rule.exposure else "",
    )
    return ", ".join(part for part in parts if part)
