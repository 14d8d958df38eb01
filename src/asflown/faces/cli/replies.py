"""``asflown replies``: what the terminal printed while the listing was written."""

from __future__ import annotations

from asflown.faces.cli.options import NO_OPTIONS, Common


def replies(
    transcript: str,
    /,
    *,
    aircraft: str | None = None,
    rest: str | None = None,
    common: Common = NO_OPTIONS,
) -> int:
    """Lay what the firmware's terminal printed beside the lines that were written.

    Every reply is attributed to its setting; a complaint is explained from the carry-over or marked
    unexplained. Exit code 0 when every line shows and none was complained about, 4 otherwise.

    Example: asflown replies transcript.txt --rest rest.txt

    Parameters
    ----------
    transcript
        The saved terminal output, whole or cut; - reads standard input.
    aircraft
        Which aircraft (default: the current one).
    rest
        When writing stopped half-way: write what is still missing into this new file.
    """
    from asflown.app import kept
    from asflown.app.replies import read_transcript
    from asflown.app.views.replies_shown import replies_json, replies_sheet
    from asflown.faces.cli.session import DIFFERS, DONE, show, work_in
    from asflown.faces.wiring import read_file, write_new

    work = work_in(common)
    meant = kept.aircraft_meant(work.store, aircraft)
    data, name = read_file(transcript)
    read = read_transcript(work, meant, data, name)
    place = str(write_new(rest, read.rest.data)) if rest and read.rest else ""
    show(common, lambda: replies_sheet(read, place), lambda: replies_json(read, place))
    return DONE if read.is_clean else DIFFERS
