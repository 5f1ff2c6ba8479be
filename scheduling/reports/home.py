"""The manager's first question: what is it costing, and is it getting better?"""

from dataclasses import replace
from decimal import Decimal

from scheduling.calc.report import Figure, small_number_warning
from scheduling.queries.home_losses import HomeLosses
from scheduling.reports.figures import CENT, rate_figure, share

HOUR = 3600


def home_figures(found: HomeLosses, *, lists: dict[str, str]) -> tuple[Figure, ...]:
    """Cost, time down, the rate with its limits, and what was planned; each with its list."""
    sums = found.sums
    down, asked = (_hours(sums[name]) for name in ("unplanned_s", "planned_s"))
    off = sums["changed_planned"] + sums["changed_failed"]
    made = (
        Figure(
            "cost",
            "Failures cost",
            Decimal(sums["lost_minor"] + sums["cost_minor"]) / CENT,
            "money",
            note="Time down, parts, oil and labour, as far as they were told.",
        ),
        Figure("unplanned", "Down, unplanned", down, "h", 1, note=f"Planned beside it: {asked} h."),
        rate_figure(
            (sums["failures"], sums["tenths_h"] / 10),
            (sums["failures_before"], sums["tenths_h_before"] / 10),
        ),
        Figure(
            "changed_share",
            "Hoses changed before they failed",
            share(Decimal(sums["changed_planned"]), Decimal(off)),
            "%",
            note=f"{sums['changed_planned']:,} of {off:,} that came off for cause." if off else "",
            why="" if off else "No hose came off a machine.",
        ),
    )
    return tuple(replace(one, link=lists.get(one.key, "")) for one in made)


def home_warning(found: HomeLosses) -> str:
    """What must be said beside few failures, or where a site is not worked out yet."""
    told = [small_number_warning(found.sums["failures"])]
    if found.missing:
        are = "is" if found.missing == 1 else "are"
        told.append(f"{found.missing} of your sites {are} not worked out yet and not in it.")
    return " ".join(said for said in told if said)


def _hours(seconds: int) -> Decimal:
    return (Decimal(seconds) / HOUR).quantize(Decimal("0.1"))
