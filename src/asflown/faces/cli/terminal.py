"""``asflown terminal``: the words of a firmware's text terminal."""

from __future__ import annotations

import sys

from cyclopts import App

from asflown.faces.cli.options import NO_OPTIONS, Common

app = App(name="terminal", help="The words of a firmware's text terminal: pinned once, none built in.")


@app.command(name="new")
def new(firmware: str, /, *, common: Common = NO_OPTIONS) -> int:
    """Print the beginning of a file with the words of a firmware's terminal, to fill in.

    Example: asflown terminal new marram > words.toml

    Parameters
    ----------
    firmware
        Name of the firmware, as its releases begin.
    """
    from asflown.app.link.words import BEGIN

    sys.stdout.write(BEGIN.format(firmware=firmware.replace('"', "")))
    return 0


@app.command(name="add")
def add(file: str, /, *, common: Common = NO_OPTIONS) -> int:
    """Keep the words of a firmware's terminal.

    Example: asflown terminal add words.toml

    Parameters
    ----------
    file
        The words (see asflown terminal new).
    """
    from asflown.app.link.words import add_words
    from asflown.app.views.terminal_shown import words_json, words_sheet
    from asflown.faces.cli.session import DONE, show, work_in
    from asflown.faces.wiring import read_file

    added = add_words(work_in(common), *read_file(file))
    said = f"{added.words.firmware}: {'kept' if added.was_kept else 'kept already, unchanged'}."
    show(common, lambda: words_sheet((added.words,), said=said), lambda: words_json((added.words,)))
    return DONE


@app.command(name="list")
def list_(*, common: Common = NO_OPTIONS) -> int:
    """List the words that are kept.

    Example: asflown terminal list
    """
    from asflown.app.link.words import all_words
    from asflown.app.views.terminal_shown import words_json, words_sheet
    from asflown.faces.cli.session import DONE, show, work_in

    words = all_words(work_in(common))
    show(common, lambda: words_sheet(words), lambda: words_json(words))
    return DONE
