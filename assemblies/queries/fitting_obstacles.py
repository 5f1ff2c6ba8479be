"""What stands in the way of fitting a hose on a position, and what a named authority lifts."""

import datetime as dt
from collections.abc import Callable, Iterator

from assemblies.models import Assembly, ConditionalRelease, Position
from assemblies.queries.obstacles import Obstacle
from assemblies.queries.releases import release_of
from assemblies.queries.unmatched import hurts_there, why_unmatched

Bar = Callable[[Assembly], str]
_bars: dict[str, Bar] = {}


def add_bar(code: str, bar: Bar) -> None:
    """Have an app above say what forbids fitting a hose: a sentence, or nothing."""
    _bars[code] = bar


def fitting_obstacles(hose: Assembly, position: Position, *, on: dt.date) -> Iterator[Obstacle]:
    """All that forbids fitting a hose there on a day.

    A conditional release whose day is not past lifts that a hose is held or not signed; one that
    says so lifts that unmatched parts are kept from where a failure hurts someone. Nothing lifts
    that a hose is scrap, that a finding says take out now, or the release's own pressure.
    """
    for code, bar in _bars.items():
        if sentence := bar(hose):
            yield Obstacle(code, sentence)
    release = _released(hose, on)
    yield from _condition(hose, release)
    yield from _unsigned(hose, release)
    yield from _unmatched(hose, position, release)
    yield from _past_its_limits(position, release)


def _released(hose: Assembly, on: dt.date) -> ConditionalRelease | None:
    release = release_of(hose)
    return release if release is not None and release.replace_by_on >= on else None


def _condition(hose: Assembly, release: ConditionalRelease | None) -> Iterator[Obstacle]:
    held = hose.condition == Assembly.Condition.HELD
    if hose.condition == Assembly.Condition.USABLE or (held and release is not None):
        return
    way_out = ": only a conditional release lets it on" if held else ""
    state = hose.get_condition_display()
    yield Obstacle("not_usable", f"{hose} is {state}: it can't go on{way_out}.")


def _unsigned(hose: Assembly, release: ConditionalRelease | None) -> Iterator[Obstacle]:
    build = getattr(hose, "build", None)
    if build is not None and build.signed_at is None and release is None:
        yield Obstacle(
            "build_unsigned",
            f"The build of {hose} is not signed: sign it first, or have it released conditionally.",
        )


def _unmatched(
    hose: Assembly, position: Position, release: ConditionalRelease | None
) -> Iterator[Obstacle]:
    if not hurts_there(position) or (release is not None and release.where_it_hurts):
        return
    if why := why_unmatched(hose):
        yield Obstacle(
            "unmatched_where_it_hurts",
            f"{hose} is unmatched ({why}), and a failure at {position} hurts someone: it may not "
            "go there. Only who may release conditionally can lift that, with a reason.",
        )


def _past_its_limits(position: Position, release: ConditionalRelease | None) -> Iterator[Obstacle]:
    if release is None or release.pressure_bar is None:
        return
    asked = [one for one in (position.pressure_bar, position.surge_bar) if one is not None]
    if asked and max(asked) > release.pressure_bar:
        yield Obstacle(
            "above_release",
            f"It is released up to {release.pressure_bar.normalize():f} bar; {position} asks "
            f"{max(asked).normalize():f} bar.",
        )
