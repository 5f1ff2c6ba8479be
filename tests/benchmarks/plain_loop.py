"""Dues as one would first write them: hose by hose, read through the ORM and worked out in plain
Python. What `bench_dues` is measured beside; it comes to the same days, or the benchmark stops.
"""

from typing import Any

from assemblies.models import Assembly, Stay
from fleet.models import Usage
from scheduling.models import Due
from scheduling.queries.rule_tables import rulebook
from tests.unit.scheduling.slow_due import NONE, SlowHose, day

_PLACES = {"position": 1, "store": 2, "bench": 3, "scrapped": 4}
_DATES = ("replace_on", "inspect_on")


class PlainLoop:
    """The rules, read once."""

    def __init__(self) -> None:
        book = rulebook()
        self.texts = dict(book.texts)
        self.rules = [book.rules.row(at) for at in range(book.rules.size)]
        self.exemptions = [book.exemptions.row(at) for at in range(book.exemptions.size)]

    def work_out(self, due: Due) -> None:
        """Lay a hose's dates into its row, which is not yet saved."""
        found = SlowHose(self._row(due.assembly), self.rules, self.exemptions).result()
        due.replace_early_on, due.replace_late_on = (
            day(found[name]) for name in ("replace_early", "replace_late")
        )
        for name in _DATES:
            setattr(due, name, day(found[name]))
        due.due_on = day(min(found[name] for name in _DATES))
        due.replace_trigger, due.inspect_trigger = (
            found["replace_trigger"],
            found["inspect_trigger"],
        )
        for name in ("replace_rule", "inspect_rule"):
            setattr(due, name, None if found[name] == NONE else found[name])
        due.flags = found["flags"]

    def _row(self, hose: Assembly) -> dict[str, int]:
        stay = hose.stays.filter(is_open=True).first()
        row: dict[str, Any] = {
            "assembly": hose.pk,
            "site": hose.site_id,
            "hose_type": self._code("hose_type", hose.hose_type),
            "place": _PLACES[stay.place] if stay else _PLACES["bench"],
            "made_early_on": _stored(hose, "made_earliest_on"),
            "made_late_on": _stored(hose, "made_latest_on"),
            "built_early_on": _stored(hose, "built_earliest_on"),
            "built_late_on": _stored(hose, "built_latest_on"),
            "known_from_on": _stored(hose, "known_from_on"),
            "earlier_tenths": _stored(hose, "earlier_h"),
            "earlier_missing": 0,  # no stay of the big register has ended
            "placed_early_on": _stored(stay, "from_earliest_on"),
            "placed_late_on": _stored(stay, "from_latest_on"),
            "placed_tenths": _stored(stay, "from_machine_h"),
            **self._on_machine(stay),
            **_looked_at(hose),
        }
        return row

    def _on_machine(self, stay: Stay | None) -> dict[str, int]:
        position = stay.position if stay else None
        machine = position.machine if position else None
        usage = None
        if position and machine:
            usage = machine.usages.filter(counts=position.counts).first()
        kind = machine.machine_class if machine else None
        scopes = ("circuit", "consequence", "exposure")
        return {
            "position": position.pk if position else NONE,
            "machine": machine.pk if machine else NONE,
            "machine_class": kind.pk if kind else NONE,
            **{name: self._code(name, getattr(position, name, "")) for name in scopes},
            "meter_tenths": _stored(usage, "machine_h"),
            "meter_on": _stored(usage, "as_of_on"),
            **{f"rate{end}_milli": _rate(usage, own) for end, own in _RATES},
            "class_rate_milli": _stored(kind, "hours_per_day") if kind else 0,
        }

    def _code(self, name: str, text: str) -> int:
        return self.texts.get(f"{name}:{text}", 0)


_RATES = (("_low", "low_h_per_day"), ("", "rate_h_per_day"), ("_high", "high_h_per_day"))


def _looked_at(hose: Assembly) -> dict[str, int]:
    seen = hose.inspections.filter(not_seen=False, taken_back_at=None)
    last = seen.order_by("-inspected_on", "-machine_h").first()
    open_findings = list(hose.findings.filter(dealt_with_at=None))
    release = hose.releases.order_by("-pk").first()

    def first(verdict: str, name: str) -> int:
        return min((_stored(f, name) for f in open_findings if f.verdict == verdict), default=NONE)

    return {
        "inspected_on": _stored(last, "inspected_on"),
        "inspected_tenths": _stored(last, "machine_h"),
        "recheck_on": first("recheck", "by_on"),
        "replace_by_on": first("replace", "by_on"),
        "take_out_on": first("out_now", "found_on"),
        "release_on": _stored(release, "replace_by_on"),
    }


def _rate(usage: Usage | None, name: str) -> int:
    return _stored(usage, name) if usage else 0


def _stored(row: Any, name: str) -> int:
    """A day or an amount as a whole number."""
    value = None if row is None else row._meta.get_field(name).get_prep_value(getattr(row, name))
    return NONE if value is None else int(value)
