"""The entry point: finds the command, runs it, turns what happened into an exit code."""

from __future__ import annotations

import os
import re
import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from asflown.errors import AsflownError, UsageError
from asflown.faces.cli.commands import COMMANDS, overview

if TYPE_CHECKING:
    from cyclopts import App, CycloptsError

    from asflown.faces.cli.help_text import HelpText

STOPPED = 130
#: What stands for ``-`` inside, since the parser of options takes a bare hyphen for one.
STANDARD_INPUT = "<standard input>"
FAULT = 70


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command.

    Parameters
    ----------
    argv
        The words after ``asflown``; this process's own when ``None``.

    Returns
    -------
    int
        The exit code (see ``asflown --help``).
    """
    words = list(sys.argv[1:] if argv is None else argv)
    if argv is None:
        _collect_rarely()
    try:
        code = _run(words)
        sys.stdout.flush()
        return code
    except AsflownError as error:
        return _refused(error, words)
    except KeyboardInterrupt:
        sys.stderr.write("\nasflown: stopped by you; what was finished before is kept\n")
        return STOPPED
    except BrokenPipeError:
        # the reader of a pipe went away (`asflown logbook | head`): nothing to say, nobody to say it to
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except Exception as error:
        return _fault(error)


def _collect_rarely() -> None:
    """Look for garbage less often: a command ends soon, and its objects live as long as it does."""
    import gc

    gc.set_threshold(100_000, 50, 50)


def _run(words: list[str]) -> int:
    if not words or words[0] in ("--help", "-h", "help"):
        sys.stdout.write(overview())
        return 0 if words else 1
    if words[0] in ("--version", "version"):
        from asflown import __version__

        sys.stdout.write(f"asflown {__version__}\n")
        return 0
    _known(words[0])
    from cyclopts import CycloptsError

    try:
        result = build()([STANDARD_INPUT if word == "-" else word for word in words])
    except CycloptsError as error:
        raise _usage(error, words) from error
    return result if isinstance(result, int) else 0


def _known(word: str) -> None:
    """Refuse a command that does not exist before any is loaded."""
    names = [command.name for command in COMMANDS]
    if word in names:
        return
    from difflib import get_close_matches

    near = get_close_matches(word, names, n=1)
    guess = f"; {near[0]!r} is meant?" if near else ""
    raise UsageError(f"there is no command {word!r}{guess}", next_step="see `asflown --help`")


def build() -> App:
    """The tree of commands; each module is imported when its command runs."""
    from cyclopts import App

    layout: Any = _HelpText()  # it is what cyclopts wants once it is asked
    app = App(
        name="asflown",
        help="Takes an aircraft's settings from one release to another, with a way back.",
        help_format="plaintext",
        help_formatter=layout,
        version_flags=(),
        result_action="return_value",
        print_error=False,
        exit_on_error=False,
        suppress_keyboard_interrupt=False,
    )
    for command in COMMANDS:
        app.command(f"asflown.faces.cli.{command.target}", name=command.name)
    return app


class _HelpText:
    """The layout of help, imported when the first page of it is printed."""

    def __call__(self, *given: Any) -> None:
        """Print one panel."""
        self._made()(*given)

    def __getattr__(self, name: str) -> Any:
        return getattr(self._made(), name)

    def _made(self) -> HelpText:
        from asflown.faces.cli.help_text import HelpText

        return HelpText()


def _usage(error: CycloptsError, words: list[str]) -> UsageError:
    names = {command.name for command in COMMANDS}
    page = f"asflown {words[0]} --help" if words[0] in names else "asflown --help"
    text = " ".join(str(error).split()).rstrip(".")
    missing = re.fullmatch(r'(?:command )?"[^"]*" parameter (\S+) requires an argument', text, re.IGNORECASE)
    if missing:
        what = f"{missing[1]} is missing, or nothing stands behind it"
    else:
        what = text[:1].lower() + text[1:]
    return UsageError(what, next_step=f"see `{page}`")


def _refused(error: AsflownError, words: list[str]) -> int:
    from asflown.faces.cli.console import say_error

    say_error(error, as_json="--json" in words, plain="--plain" in words)
    return error.exit_code


def _fault(error: Exception) -> int:
    if os.environ.get("ASFLOWN_TRACE"):
        import traceback

        traceback.print_exception(error)
    where = ""
    if error.__traceback__ is not None:
        last = error.__traceback__
        while last.tb_next is not None:
            last = last.tb_next
        where = f" in {last.tb_frame.f_globals.get('__name__', '?')} line {last.tb_lineno}"
    sys.stderr.write(
        f"asflown: a fault in asflown itself: {type(error).__name__}{where}: {error}\n"
        "next: nothing half-written is kept; set ASFLOWN_TRACE=1, run the same command again and report"
        " what it prints together with `asflown --version`\n"
    )
    return FAULT


if __name__ == "__main__":
    sys.exit(main())
