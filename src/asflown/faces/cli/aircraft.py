"""``asflown aircraft``: describe aircraft, list them, choose the current one."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

from cyclopts import App, Parameter

from asflown.errors import UsageError
from asflown.faces.cli.options import NO_OPTIONS, Common

if TYPE_CHECKING:
    from asflown.core.aircraft import Aircraft

app = App(name="aircraft", help="Describe an aircraft, list them, choose the current one.")

Facts = Annotated[tuple[str, ...], Parameter(name="--set", consume_multiple=True, negative=())]
FromFile = Annotated[str | None, Parameter(name="--from")]


@app.command(name="new")
def new(
    id: str | None = None, /, *, from_file: FromFile = None, facts: Facts = (), common: Common = NO_OPTIONS
) -> int:
    """Describe a new aircraft; at a terminal it asks for what it needs.

    Example: asflown aircraft new plover --set title="Plover 1" board=brant-h7 release=marram-4.1

    Parameters
    ----------
    id
        Short name: lower case letters, digits, hyphens.
    from_file
        A description, TOML (asflown schema aircraft).
    facts
        Facts as KEY=VALUE, e.g. mass_kg=0.42 motors.count=4 device.esc.version=2.1.
    """
    from asflown.app import aircraft as job
    from asflown.app.views.aircraft_shown import aircraft_json, aircraft_sheet
    from asflown.core.aircraft import Aircraft
    from asflown.faces.cli.console import is_terminal
    from asflown.faces.cli.session import DONE, show, work_in
    from asflown.faces.wiring import read_file

    said = _facts(facts)
    if from_file is not None:
        described = job.from_file(*read_file(from_file))
        if id is not None and described.id != id:
            raise UsageError(
                f"the file describes {described.id!r}, not {id!r}", next_step="leave the name out, or fix it"
            )
    elif id is None and not is_terminal():
        raise UsageError(
            "an aircraft needs a short name", next_step="asflown aircraft new plover --set title=…"
        )
    else:
        asked = _asked(id, said) if is_terminal() and not facts else {}
        name = job.check_id(id or asked.pop("id"))
        described = job.with_facts(Aircraft(id=name, title=name), asked)
    described = job.with_facts(described, said)
    made = job.new_aircraft(work_in(common), described).aircraft
    show(common, lambda: aircraft_sheet(made), lambda: aircraft_json(made))
    return DONE


@app.command(name="edit")
def edit(
    id: str | None = None,
    /,
    *,
    from_file: FromFile = None,
    facts: Facts = (),
    remove_device: Annotated[tuple[str, ...], Parameter(consume_multiple=True, negative=())] = (),
    common: Common = NO_OPTIONS,
) -> int:
    """Change what is known of an aircraft; the revision before stays.

    Example: asflown aircraft edit plover --set device.esc.version=2.1 release=marram-5.0

    Parameters
    ----------
    id
        Which aircraft (default: the current one).
    from_file
        A whole description, TOML.
    facts
        Facts as KEY=VALUE; an empty value makes a fact not stated.
    remove_device
        Fitted devices that are gone.
    """
    from asflown.app import aircraft as job
    from asflown.app import kept
    from asflown.app.views.aircraft_shown import aircraft_json, aircraft_sheet
    from asflown.faces.cli.session import DONE, show, work_in
    from asflown.faces.wiring import read_file

    if not (from_file or facts or remove_device):
        raise UsageError("nothing to change was said", next_step="--set KEY=VALUE, or --from FILE")

    def change(before: Aircraft) -> Aircraft:
        after = job.from_file(*read_file(from_file)) if from_file else before
        for name in remove_device:
            after = job.without_device(after, name)
        return job.with_facts(after, _facts(facts))

    work = work_in(common)
    meant = kept.aircraft_meant(work.store, id)
    made = job.edit_aircraft(work, meant, change).aircraft
    found = kept.open_refit(work.store, meant)
    refit = found.refit if found else None
    show(common, lambda: aircraft_sheet(made, refit), lambda: aircraft_json(made, refit))
    return DONE


@app.command(name="show")
def show_(id: str | None = None, /, *, common: Common = NO_OPTIONS) -> int:
    """Show what is known of an aircraft.

    Example: asflown aircraft show plover

    Parameters
    ----------
    id
        Which aircraft (default: the current one).
    """
    from asflown.app import kept
    from asflown.app.views.aircraft_shown import aircraft_json, aircraft_sheet
    from asflown.faces.cli.session import DONE, show, work_in

    store = work_in(common).store
    made = kept.aircraft(store, kept.aircraft_meant(store, id))
    found = kept.open_refit(store, made.id)
    refit = found.refit if found else None
    show(common, lambda: aircraft_sheet(made, refit), lambda: aircraft_json(made, refit))
    return DONE


@app.default
@app.command(name="list")
def list_(*, common: Common = NO_OPTIONS) -> int:
    """List every aircraft with its open refit.

    Example: asflown aircraft list
    """
    from asflown.app import kept
    from asflown.app.views.aircraft_shown import aircraft_list_json, aircraft_list_sheet
    from asflown.faces.cli.session import DONE, show, work_in

    store = work_in(common).store
    current = store.memory(kept.CURRENT)
    fleet = []
    for made in kept.all_aircraft(store):
        found = kept.open_refit(store, made.id)
        fleet.append((made, found.refit if found else None))
    show(common, lambda: aircraft_list_sheet(fleet, current), lambda: aircraft_list_json(fleet, current))
    return DONE


@app.command(name="use")
def use(id: str, /, *, common: Common = NO_OPTIONS) -> int:
    """Choose the current aircraft, so that its name need not be typed again.

    Example: asflown aircraft use plover

    Parameters
    ----------
    id
        Which aircraft.
    """
    from asflown.app import aircraft as job
    from asflown.app.views.aircraft_shown import aircraft_json, aircraft_sheet
    from asflown.faces.cli.session import DONE, show, work_in

    made = job.use(work_in(common), id)
    show(common, lambda: aircraft_sheet(made), lambda: aircraft_json(made))
    return DONE


def _facts(facts: tuple[str, ...]) -> dict[str, str]:
    said: dict[str, str] = {}
    for text in facts:
        key, sign, value = text.partition("=")
        if not sign or not key.strip():
            raise UsageError(f"{text!r} is no KEY=VALUE", next_step="write --set KEY=VALUE KEY=VALUE …")
        said[key.strip()] = value
    return said


def _asked(id: str | None, said: dict[str, str]) -> dict[str, str]:
    """Ask for what is needed; an empty answer leaves a fact not stated."""
    from asflown.app.aircraft import ASKED, FACTS
    from asflown.faces.cli.console import ask

    answers: dict[str, str] = {}
    try:
        if id is None:
            answers["id"] = ask("short name, e.g. plover: ")
        for key in ASKED:
            if key not in said:
                answer = ask(f"{FACTS[key][1]} (empty: not stated): ")
                if answer:
                    answers[key] = answer
    except EOFError:
        raise UsageError("the questions were not answered to the end", next_step="run it again") from None
    return answers
