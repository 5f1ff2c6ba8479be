"""A crimping bench for tests: three-layer hose, a shell made for two, a crimper, trials."""

from decimal import Decimal
from itertools import count
from typing import Any

from assemblies.actions.trials import (
    TrialSetup,
    begin_trial,
    close_trial,
    log_press,
    record_trial_proof,
)
from assemblies.models import Crimper, CrimpTrial, HoseRevision, TrialPress
from fleet.models import Person, Site
from tests import factories as make
from tests.db.assemblies import spec_shop as shop

NOW = make.NOW
STEPS = (("27.00", "enters"), ("26.75", "enters"), ("26.50", "tight"), ("26.25", "refuses"))
CLOSING = ("26.40", "26.42", "26.38")
MADE: dict[str, Any] = {
    "insertion_depth_mm": Decimal(34),
    "external_skive": "length",
    "external_skive_mm": Decimal(29),
}
_ids = count(1)


def drawn() -> str:
    """An id as a phone would draw it."""
    return f"id-{next(_ids)}"


def crimper(at: Site, **facts: Any) -> Crimper:
    return Crimper.objects.create(**{"site": at, "code": f"C-{next(_ids)}", **facts})


def three_layer(**facts: Any) -> HoseRevision:
    return make.hose(**{"layers": 3, "standard_type": "", "product": "H3", **facts})


def setup(at: Site, **facts: Any) -> TrialSetup:
    """What is chosen before the first press."""
    if "hose" not in facts:
        facts["hose"] = three_layer().header
    if "fitting" not in facts:
        facts["fitting"] = make.fitting().header
        facts["shell"] = shop.shell().header
    pin = {"pin_mm": Decimal("9.50"), "pin_from": "nut end", "made": MADE}
    tools = {"crimper": facts.pop("crimper", None) or crimper(at), "die_set": "D 26"}
    return TrialSetup(**{**pin, **tools, **facts})


def begun(at: Site, by: Person, **facts: Any) -> CrimpTrial:
    return begin_trial(setup=setup(at, **facts), client_id=drawn(), person=by, at=NOW)


def press(trial: CrimpTrial, by: Person, setting: str, pin: str, *ods: str) -> TrialPress:
    return log_press(
        trial=trial,
        client_id=drawn(),
        setting_mm=Decimal(setting),
        pin=pin,
        od_readings_mm=[Decimal(od) for od in ods],
        person=by,
        at=NOW,
    )


def closed(at: Site, by: Person, closing: tuple[str, ...] = CLOSING, **facts: Any) -> CrimpTrial:
    """A trial that found the collapse: the trade's own four settings, three readings."""
    trial = begun(at, by, **facts)
    for setting, pin in STEPS:
        press(trial, by, setting, pin)
    return close_trial(
        trial=trial,
        client_id=drawn(),
        od_readings_mm=[Decimal(od) for od in closing],
        person=by,
        at=NOW,
    )


def proven(trial: CrimpTrial, by: Person, bar: int = 400, passed: bool = True) -> CrimpTrial:
    record_trial_proof(
        trial=trial, pressure_bar=Decimal(bar), hold_s=60, passed=passed, person=by, at=NOW
    )
    return trial
