"""``asflown records``: list records, show one, say what lines of one are."""

from __future__ import annotations

from typing import Annotated, Literal

from cyclopts import App, Parameter

from asflown.faces.cli.options import NO_OPTIONS, Common

app = App(name="records", help="List records, show one, say what is open about one.")


@app.default
@app.command(name="list")
def list_(aircraft: str | None = None, /, *, common: Common = NO_OPTIONS) -> int:
    """List the records of an aircraft, newest last.

    Example: asflown records list plover

    Parameters
    ----------
    aircraft
        Which aircraft (default: the current one).
    """
    from asflown.app import kept
    from asflown.app.views.record_shown import records_json, records_sheet
    from asflown.faces.cli.session import DONE, show, work_in

    store = work_in(common).store
    meant = kept.aircraft_meant(store, aircraft)
    entries = kept.record_entries(store, meant)
    show(common, lambda: records_sheet(meant, entries), lambda: records_json(meant, entries))
    return DONE


@app.command(name="show")
def show_(record: str, /, *, common: Common = NO_OPTIONS) -> int:
    """Show a record: its facts and every setting.

    Example: asflown records show plover-001

    Parameters
    ----------
    record
        The record's identifier.
    """
    from asflown.app import kept
    from asflown.app.views.record_shown import record_json, record_sheet
    from asflown.faces.cli.session import DONE, show, work_in

    found = kept.record(work_in(common).store, record)
    show(common, lambda: record_sheet(found), lambda: record_json(found))
    return DONE


@app.command(name="set-aside")
def set_aside(
    record: str,
    /,
    *,
    lines: str,
    what: Annotated[str, Parameter(name="--as")] = "no setting",
    common: Common = NO_OPTIONS,
) -> int:
    """Say of lines that were not understood what they are; kept in the logbook.

    Example: asflown records set-aside plover-001 --lines 3,7-9 --as "a greeting of the terminal"

    Parameters
    ----------
    record
        The record's identifier.
    lines
        Line numbers, e.g. 3,7-9, or all.
    what
        What they are.
    """
    from asflown.app import take_record
    from asflown.app.views.record_shown import record_json, record_sheet
    from asflown.faces.cli.session import DONE, NEEDS_YOU, show, work_in

    changed = take_record.set_aside(work_in(common), record, lines, what)
    show(common, lambda: record_sheet(changed), lambda: record_json(changed))
    return NEEDS_YOU if changed.open_lines else DONE


@app.command(name="say-repeated")
def say_repeated(record: str, which: Literal["last", "first"], /, *, common: Common = NO_OPTIONS) -> int:
    """Say which one counts where a setting stands more than once in a record's listing.

    Example: asflown records say-repeated plover-001 last

    Parameters
    ----------
    record
        The record's identifier.
    which
        The one on the last line, or on the first.
    """
    from asflown.app import take_record
    from asflown.app.views.record_shown import record_json, record_sheet
    from asflown.faces.cli.session import DONE, show, work_in

    changed = take_record.say_repeated(work_in(common), record, which)
    show(common, lambda: record_sheet(changed), lambda: record_json(changed))
    return DONE


@app.command(name="say-extent")
def say_extent(
    record: str, extent: Literal["full", "changes-only"], /, *, common: Common = NO_OPTIONS
) -> int:
    """Say whether a record's listing shows every setting or only changes from factory.

    Example: asflown records say-extent plover-001 full

    Parameters
    ----------
    record
        The record's identifier.
    extent
        Which it is.
    """
    from asflown.app import take_record
    from asflown.app.views.record_shown import record_json, record_sheet
    from asflown.core.record import Extent
    from asflown.faces.cli.session import DONE, show, work_in

    changed = take_record.say_extent(work_in(common), record, Extent(extent))
    show(common, lambda: record_sheet(changed), lambda: record_json(changed))
    return DONE
