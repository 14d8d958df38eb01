"""``asflown ports``: what the board can carry of what is fitted, and why not."""

from __future__ import annotations

from typing import Annotated

from cyclopts import App, Parameter

from asflown.faces.cli.options import NO_OPTIONS, Common

app = App(name="ports", help_format="plaintext")


@app.default
def ports(
    aircraft: str | None = None,
    /,
    *,
    release: str | None = None,
    with_: Annotated[list[str] | None, Parameter(name="--with", negative=())] = None,
    image_has: Annotated[list[str] | None, Parameter(name="--image-has", negative=())] = None,
    every: Annotated[bool, Parameter(negative=())] = False,
    svg: str | None = None,
    common: Common = NO_OPTIONS,
) -> int:
    """Plan which device goes where, and what does not go together: ports, timers, DMA, flash.

    What is wired stays where it is if that works. Where it does not, the smallest set of things that cannot
    be together is told, and the ways out, the least first. Settings, devices and image are held against each
    other. Exit code 0 when all is well, 2 when something needs you. Nothing is changed.

    Example: asflown ports plover --release marram-5.0

    Parameters
    ----------
    aircraft
        Which aircraft (default: the current one).
    release
        The release to plan for (default: the one the open refit goes to, else the one it has).
    with_
        An optional function that is wanted besides those that devices need; may be given again.
    image_has
        A function of the image that will be loaded (default: those the plan includes); may be given again.
    every
        All aircraft, a line each.
    svg
        Draw connectors, devices and streams into this new file.
    """
    from asflown.app import kept
    from asflown.app.ports import PortsAsked, fleet_ports, ports_of
    from asflown.app.views import ports_shown
    from asflown.errors import UsageError
    from asflown.faces.cli.session import DONE, NEEDS_YOU, show, work_in
    from asflown.faces.wiring import refuse_existing, write_new

    work = work_in(common)
    if every:
        if aircraft or with_ or image_has or svg:
            raise UsageError("--every is for all aircraft", next_step="leave the other words out, or --every")
        found = fleet_ports(work, release)
        show(common, lambda: ports_shown.fleet_sheet(found), lambda: ports_shown.fleet_json(found))
        return NEEDS_YOU if any(one.needs_person for one in found) else DONE
    if svg:
        refuse_existing(svg)
    id = kept.aircraft_meant(work.store, aircraft)
    wanted = PortsAsked(id, release, tuple(with_ or ()), tuple(image_has) if image_has is not None else None)
    made = ports_of(work, wanted)
    if svg:
        from asflown.app.views.ports_figure import ports_drawing

        write_new(svg, ports_drawing(made).encode())
    show(common, lambda: ports_shown.ports_sheet(made), lambda: ports_shown.ports_json(made))
    return NEEDS_YOU if made.needs_person else DONE
