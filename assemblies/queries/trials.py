"""Crimp trials read: how one stands, what is next, what a crimper's dial is known to be off."""

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db.models import Prefetch

from assemblies.calc.crimping import Joint
from assemblies.calc.dial import DialDifference, dial_difference
from assemblies.calc.trial import Evaluation, Pin, Press, evaluate_trial
from assemblies.models import (
    BuildEnd,
    Crimper,
    CrimpTrial,
    FittingRevision,
    HoseRevision,
    RecipeRevision,
    RecipeTrial,
    ShellItem,
    ShellRevision,
    TrialPress,
    TrialProof,
)
from assemblies.queries.parts import counting
from fleet.calc.keys import text_key
from fleet.models import Person

SMALL_STEP_MM = Decimal("0.25")
DIAL_PRESSES = 25


@dataclass(frozen=True, slots=True)
class TrialParts:
    """The parts of a joint by the revision that counts; None where one has none."""

    hose: HoseRevision | None
    fitting: FittingRevision | None
    shell: ShellRevision | None

    @property
    def joint(self) -> Joint | None:
        """The joint's geometry, where every size of it is known."""
        hose, fitting, shell = self.hose, self.fitting, self.shell
        if hose is None or fitting is None or shell is None:
            return None
        sizes = (
            *(shell.outside_diameter_mm, shell.inside_diameter_mm, hose.bore_mm),
            *(hose.reinforcement_diameter_mm, fitting.tail_od_mm),
        )
        if any(size is None for size in sizes):
            return None
        try:
            return Joint(*(float(size) for size in sizes))
        except ValueError:
            return None

    @property
    def layers(self) -> int:
        return self.hose.layers if self.hose else 0

    def missing(self) -> tuple[str, ...]:
        """The sizes that geometry needs and nobody has entered."""
        wanted = (
            (self.shell, "outside_diameter_mm", "the shell's outside diameter"),
            (self.shell, "inside_diameter_mm", "the shell's inside diameter"),
            (self.hose, "bore_mm", "the hose's bore"),
            (self.hose, "reinforcement_diameter_mm", "the hose's diameter over the wire"),
            (self.fitting, "tail_od_mm", "the tail's outside diameter"),
        )
        return tuple(words for part, name, words in wanted if getattr(part, name, None) is None)


@dataclass(frozen=True, slots=True)
class PressLine:
    """One press as it was told."""

    number: int
    client_id: str
    setting_mm: Decimal
    pin: str
    words: str
    readings: tuple[Decimal, ...]
    by: str
    at: dt.datetime
    undone_by: str
    undone_at: dt.datetime | None


@dataclass(frozen=True, slots=True)
class TrialLine:
    """One trial in a list."""

    trial_id: int
    joint: str
    site: str
    crimper: str
    begun_at: dt.datetime
    begun_by: str
    open: bool
    outcome: str
    closing_od_mm: Decimal | None
    supports: bool


def parts_of_joint(hose_id: int, fitting_id: int, shell_id: int | None) -> TrialParts:
    """The parts of a joint, each by the revision that counts."""
    hose = counting(HoseRevision, [hose_id]).get(hose_id)
    fitting = counting(FittingRevision, [fitting_id]).get(fitting_id)
    shell = counting(ShellRevision, [shell_id]).get(shell_id) if shell_id is not None else None
    return TrialParts(hose, fitting, shell)


def parts_of_trial(trial: CrimpTrial) -> TrialParts:
    joint = trial.recipe
    return parts_of_joint(joint.hose_id, joint.fitting_id, joint.shell_id)


def learnt_dial(crimper: Crimper, die_set: str) -> DialDifference | None:
    """What a crimper's dial is off with a die, learnt from its own presses; None if unknown.

    The presses of trials and the crimps of signed builds count alike, the latest of both.
    """
    pressed = [*_trial_presses(crimper, die_set), *_built_presses(crimper, die_set)]
    latest = sorted(pressed, key=lambda one: one[0])[-DIAL_PRESSES:]
    return dial_difference(((setting, od) for _, setting, od in latest), latest=DIAL_PRESSES)


def _trial_presses(
    crimper: Crimper, die_set: str
) -> Iterator[tuple[dt.datetime, Decimal, Decimal]]:
    pressed = TrialPress.objects.filter(
        trial__crimper=crimper, trial__die_set=die_set, undone_at=None
    ).select_related("trial")
    found = 0
    ended: set[int] = set()
    for press in pressed.order_by("-pressed_at", "-pk")[: 8 * DIAL_PRESSES]:
        # Newest first: the first press met of a trial is its last one, which closing measures.
        closing = press.trial.closing_readings if press.trial_id not in ended else []
        ended.add(press.trial_id)
        od = _press(press, closing or press.od_readings).od_mm
        if od is not None and found < DIAL_PRESSES:
            found += 1
            yield press.pressed_at, press.setting_mm, od


def _built_presses(
    crimper: Crimper, die_set: str
) -> Iterator[tuple[dt.datetime, Decimal, Decimal]]:
    built = BuildEnd.objects.filter(
        build__crimper=crimper,
        die_set=die_set,
        setting_mm__isnull=False,
        crimp_od_mm__isnull=False,
        build__signed_at__isnull=False,
    )
    told = built.order_by("-build__signed_at", "-pk")[:DIAL_PRESSES]
    for at, setting, od in told.values_list("build__signed_at", "setting_mm", "crimp_od_mm"):
        if at is not None and setting is not None and od is not None:
            yield at, setting, od


def standing_presses(trial: CrimpTrial) -> list[TrialPress]:
    """The presses that count, in order: those not undone."""
    return list(trial.presses.filter(undone_at=None).order_by("number"))


def calc_presses(trial: CrimpTrial, presses: Sequence[TrialPress]) -> list[Press]:
    """The presses as the calculation takes them; readings at closing are the last one's."""
    told = [_press(press, press.od_readings) for press in presses]
    if told and trial.closing_readings:
        told[-1] = _press(presses[-1], trial.closing_readings)
    return told


def evaluation_of(trial: CrimpTrial, presses: Sequence[TrialPress] | None = None) -> Evaluation:
    """How a trial stands."""
    standing = standing_presses(trial) if presses is None else presses
    return evaluate_trial(
        calc_presses(trial, standing),
        small_step_mm=SMALL_STEP_MM,
        coarse_step_mm=trial.coarse_step_mm,
        estimate_mm=trial.estimate_setting_mm,
    )


def next_setting(trial: CrimpTrial, evaluation: Evaluation) -> Decimal | None:
    """What to dial next: the first setting proposed, later the evaluation's."""
    return evaluation.next_setting_mm or (
        trial.first_setting_mm if not trial.presses.filter(undone_at=None).exists() else None
    )


def press_lines(trial: CrimpTrial) -> tuple[PressLine, ...]:
    """All that was told, undone presses too, in order."""
    rows = trial.presses.select_related("pressed_by", "undone_by").order_by("number")
    return tuple(
        PressLine(
            row.number,
            row.client_id,
            row.setting_mm,
            row.pin,
            row.get_pin_display(),
            tuple(Decimal(text) for text in row.od_readings),
            str(row.pressed_by or "–"),
            row.pressed_at,
            str(row.undone_by or ""),
            row.undone_at,
        )
        for row in rows
    )


def trial_for(person: Person, trial_id: int) -> CrimpTrial | None:
    """One trial, where the person may see its site."""
    seen = CrimpTrial.objects.visible_to(person).filter(pk=trial_id)
    found: CrimpTrial | None = seen.select_related(
        *("recipe__hose", "recipe__fitting", "recipe__shell", "site", "crimper"),
        *("begun_by", "closed_by", "overruled_by"),
    ).first()
    return found


def trials_seen(person: Person, *, recipe_id: int | None = None, most: int = 60) -> list[TrialLine]:
    """The trials at the person's sites: the open ones first, then the newest."""
    seen = CrimpTrial.objects.visible_to(person)
    if recipe_id is not None:
        seen = seen.filter(recipe_id=recipe_id)
    rows = seen.select_related(
        *("recipe__hose", "recipe__fitting", "recipe__shell", "site", "crimper", "begun_by")
    )
    standing = TrialPress.objects.filter(undone_at=None).order_by("number")
    with_presses = rows.prefetch_related(Prefetch("presses", queryset=standing, to_attr="standing"))
    newest = list(with_presses.order_by("-begun_at")[:most])
    return [_line(row) for row in sorted(newest, key=lambda row: row.closed_at is not None)]


def last_proof(trial: CrimpTrial) -> TrialProof | None:
    """The proof test of a trial's piece that counts: the last one."""
    return trial.proofs.select_related("tested_by", "gauge").order_by("tested_at", "pk").last()


def recipes_behind(trial: CrimpTrial) -> list[RecipeRevision]:
    """The recipe revisions that a trial stands behind."""
    links = RecipeTrial.objects.filter(trial=trial).select_related("revision__header")
    return [link.revision for link in links]


def crimpers_at(person: Person) -> list[Crimper]:
    """The crimpers at the person's sites that are in use."""
    seen = Crimper.objects.visible_to(person).filter(withdrawn_at=None)
    return list(seen.select_related("site").order_by("site__code_key", "code_key"))


def _line(trial: Any) -> TrialLine:
    evaluation = evaluation_of(trial, trial.standing)
    return TrialLine(
        trial.pk,
        str(trial.recipe),
        trial.site.name,
        trial.crimper.code,
        trial.begun_at,
        str(trial.begun_by),
        trial.closed_at is None,
        trial.outcome or evaluation.outcome.value,
        evaluation.closing_od_mm,
        evaluation.supports_recipe,
    )


def _press(press: TrialPress, readings: Sequence[str]) -> Press:
    sizes = tuple(Decimal(text) for text in readings)
    return Press(press.setting_mm, Pin(press.pin), sizes)


def provisional_of(recipe_id: int) -> RecipeRevision | None:
    """The provisional revision of a recipe, if it has one."""
    found = RecipeRevision.objects.filter(header=recipe_id, state="provisional")
    return found.select_related("header", "made_by").order_by("-number").first()


def shell_depth(code: str) -> Decimal | None:
    """The internal depth of the shell with this code, where it is known."""
    shell = ShellItem.objects.filter(code_key=text_key(code)).first()
    if shell is None:
        return None
    counts: ShellRevision | None = counting(ShellRevision, [shell.pk]).get(shell.pk)
    return counts.internal_depth_mm if counts else None
