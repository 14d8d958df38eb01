"""``asflown compare``: what differs between two records."""

from __future__ import annotations

from asflown.faces.cli.options import NO_OPTIONS, Common


def compare(first: str | None = None, second: str | None = None, /, *, common: Common = NO_OPTIONS) -> int:
    """Compare two records, setting by setting, at the precision the device stores.

    Exit code 0 when they are the same, 4 when they differ.

    Example: asflown compare plover-001 plover-004

    Parameters
    ----------
    first
        A record, or an aircraft: its newest record. Alone, an aircraft: its newest two.
    second
        The other one.
    """
    from asflown.app.compare import compare as compared_of
    from asflown.app.views.record_shown import compared_json, compared_sheet
    from asflown.faces.cli.session import DIFFERS, DONE, show, work_in

    compared = compared_of(work_in(common).store, first, second)
    show(common, lambda: compared_sheet(compared), lambda: compared_json(compared))
    return DONE if compared.differences.is_same else DIFFERS
