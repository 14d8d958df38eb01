"""``asflown flight layout``: the layouts of logs that were confirmed."""

from __future__ import annotations

from typing import Annotated

from cyclopts import App, Parameter

from asflown.faces.cli.options import NO_OPTIONS, Common

app = App(name="layout", help="The layouts of logs that were confirmed: show, save, forget.")


@app.default
@app.command(name="show")
def show_(fingerprint: str | None = None, /, *, common: Common = NO_OPTIONS) -> int:
    """Show a remembered layout; without a fingerprint, the list of them.

    Example: asflown flight layout show

    Parameters
    ----------
    fingerprint
        The header's fingerprint, or how it begins.
    """
    from asflown.app.flights import layouts
    from asflown.app.views import flight_layouts as views
    from asflown.faces.cli.session import DONE, show, work_in

    store = work_in(common).store
    if fingerprint is None:
        every = layouts.all_remembered(store)
        show(common, lambda: views.layouts_sheet(every), lambda: views.layouts_json(every))
        return DONE
    layout = layouts.meant(store, fingerprint)
    show(common, lambda: views.layout_sheet(layout), lambda: views.layout_json(layout))
    return DONE


@app.command(name="save")
def save(
    fingerprint: str,
    out: str,
    /,
    *,
    replace: Annotated[bool, Parameter(negative=())] = False,
    common: Common = NO_OPTIONS,
) -> int:
    """Write a remembered layout to a file that --layout takes.

    Example: asflown flight layout save 3f2a log-layout.toml

    Parameters
    ----------
    fingerprint
        The header's fingerprint, or how it begins.
    out
        The file to write.
    replace
        Write over a file that is there.
    """
    from asflown.app.flights import layouts
    from asflown.app.views import flight_layouts as views
    from asflown.faces.cli.session import DONE, show, work_in
    from asflown.faces.wiring import write_or_replace

    layout = layouts.meant(work_in(common).store, fingerprint)
    place = str(write_or_replace(out, layouts.file_of(layout), replace=replace))
    show(
        common,
        lambda: views.saved_sheet(layout, place),
        lambda: {**views.layout_json(layout), "place": place},
    )
    return DONE


@app.command(name="forget")
def forget(fingerprint: str, /, *, common: Common = NO_OPTIONS) -> int:
    """Forget a layout: logs with that header are asked about again.

    Example: asflown flight layout forget 3f2a

    Parameters
    ----------
    fingerprint
        The header's fingerprint, or how it begins.
    """
    from asflown.app.flights import layouts
    from asflown.app.views import flight_layouts as views
    from asflown.faces.cli.session import DONE, show, work_in

    work = work_in(common)
    layout = layouts.meant(work.store, fingerprint)
    layouts.forget(work, layout)
    show(common, lambda: views.forgotten_sheet(layout), lambda: {"forgotten": layout.fingerprint})
    return DONE
