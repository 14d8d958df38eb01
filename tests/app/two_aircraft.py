"""Two aircraft of one build in one store, and two releases without change notes between them."""

from __future__ import annotations

from dataclasses import replace

from memory_store import MemoryStore, TickingClock
from small_world import NEW, OLD, C, H, S, put, real, whole

from asflown.app import carry_over, decide
from asflown.app.carry_over import Made
from asflown.app.take_record import Request, take_record
from asflown.app.workplace import Workplace
from asflown.core.aircraft import Aircraft
from asflown.core.catalog import Catalog, CatalogSource, ParameterDef, Release
from asflown.core.record import Extent


def says(description: str, parameter: ParameterDef) -> ParameterDef:
    return replace(parameter, description=description)


BEFORE = Release(
    OLD.id, "thrush", "1.0",
    Catalog(
        (
            real("lost_after", "s", "0", "30", "1.0", 1, S),
            says("how softly it turns about its middle", whole("turn_soft", "deg", "0", "100", "20", H)),
            says("lift at which the nose is let down", whole("nod_soft", "m", "0", "100", "20", H)),
            whole("idle_turns", None, "0", "900", "300", H),
            whole("spin_slow", None, "0", "100", "5", S),
            whole("lean_most", "deg", "0", "90", "50", H),
            whole("lamp_tint", None, "0", "360", "120", C),
            whole("home_east", None, "-900", "900", "0", H),
        ),
        CatalogSource.STATED,
    ),
)  # fmt: skip

AFTER = Release(
    NEW.id, "thrush", "2.0",
    Catalog(
        (
            whole("lost_after_ms", "ms", "0", "30000", "1000", S),
            says("how softly it turns about its middle", whole("turn_gentle", "deg", "0", "100", "20", H)),
            says("lift at which the nose is let down", whole("nod_gentle", "m", "0", "100", "20", H)),
            whole("idle_turns", None, "0", "900", "350", H),
            whole("spin_slow", None, "0", "100", "8", S),
            whole("lean_most", "deg", "0", "60", "50", H),
            whole("lamp_tint", None, "0", "360", "120", C),
            whole("brake_firm", None, "0", "9", "2", H),
            whole("home_east", None, "-100", "100", "0", H),
        ),
        CatalogSource.STATED,
    ),
)  # fmt: skip

FOUND = {
    "lost_after": "2.5",
    "turn_soft": "31",
    "nod_soft": "33",
    "idle_turns": "300",
    "spin_slow": "5",
    "lean_most": "75",
    "lamp_tint": "120",
    "home_east": "417",
}


def place(*releases: Release) -> Workplace:
    """A store with both releases."""
    clock = TickingClock()
    work = Workplace(MemoryStore(clock), clock, "R. Anley")
    for release in releases or (BEFORE, AFTER):
        put(work, "release", release.id, release)
    return work


def add(work: Workplace, name: str, **found: str) -> None:
    """An aircraft with its as-found record."""
    put(work, "aircraft", name, Aircraft(name, name.title(), board="b1", release=BEFORE.id))
    values = {**FOUND, **found}
    listing = "".join(f"let {key} be {value}\r\n" for key, value in values.items())
    take_record(work, Request(listing.encode(), "before.txt", name, extent=Extent.FULL))


def plan(work: Workplace, name: str) -> Made:
    return carry_over.make_plan(work, carry_over.Ask(name, AFTER.id))


def settle(
    work: Workplace, name: str, setting: str, option: str, why: str = "as it flew", **typed: str
) -> Made:
    """Settle one setting."""
    group = next(g for g in plan(work, name).plan.open_groups if any(_named(x, setting) for x in g.lines))
    choice = decide.Choice(group.id, option, why, only=() if typed else (setting,), values=typed)
    return decide.decide(work, name, choice)


def _named(line, setting: str) -> bool:
    return setting in [item.key.name for item in (line.old or line.new)]


def line_about(made: Made, setting: str):
    return next(line for line in made.plan.lines if _named(line, setting))


#: What R. Anley decides for the first aircraft.
CHOICES = {
    "turn_soft": "rename",
    "nod_soft": "rename",
    "idle_turns": "keep",
    "brake_firm": "factory",
    "lean_most": "nearest",
    "lost_after": "rename",
    "spin_slow": "keep",
}


def first_decided(work: Workplace, name: str = "wren") -> Made:
    """The first aircraft, with everything but its home decided."""
    add(work, name)
    made = plan(work, name)
    for setting, option in CHOICES.items():
        made = settle(work, name, setting, option)
    return made


def with_state(work: Workplace, refit: str, **more: object) -> None:
    """A refit put into another state, without the steps that lead there."""
    from asflown.app import kept

    found = kept.refit(work.store, refit)
    assert found is not None
    put(work, "refit", refit, replace(found.refit, **more))  # type: ignore[arg-type]
