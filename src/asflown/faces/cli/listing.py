"""``asflown listing``: what is learned from a settings listing, without keeping anything."""

from __future__ import annotations

from typing import Literal

from cyclopts import App

from asflown.faces.cli.options import NO_OPTIONS, Common

app = App(name="listing", help="Show what is learned from a settings listing.")


@app.command(name="show")
def show_(
    file: str,
    /,
    *,
    shape: str | None = None,
    repeated: Literal["last", "first"] = "last",
    common: Common = NO_OPTIONS,
) -> int:
    """Show what is learned from a settings listing; nothing is kept.

    Exit code 0 when every line was understood, 2 when something must be said about a line.

    Example: asflown listing show before.txt --shape 'set {name} = {value}'

    Parameters
    ----------
    file
        The settings listing, a text file; - reads standard input.
    shape
        Pin the line's shape: {name}, {value}, {index}, {bank}, {unit}, {skip} stand for the parts.
    repeated
        Which of repeated settings counts.
    """
    from asflown.app.listing_lines import look_at_listing
    from asflown.app.views.listing_sheet import listing_sheet
    from asflown.app.views.listing_shown import show_listing
    from asflown.faces.cli.session import DONE, NEEDS_YOU, show
    from asflown.faces.wiring import read_file

    data, name = read_file(file)
    read = look_at_listing(data, name, shape=shape, repeated=repeated)
    shown = show_listing(read)
    show(common, lambda: listing_sheet(shown, name), shown.to_json)
    return NEEDS_YOU if read.not_understood else DONE
