"""Printing for the terminal: sheets as text, JSON, and errors. Lays out; says nothing of its own."""

from __future__ import annotations

import json
import os
import shutil
import sys
import textwrap
from itertools import zip_longest
from typing import Any

from asflown.app.views.sheet import Sheet, Table
from asflown.errors import AsflownError

#: What --plain prints for the characters of the sheets that are not ASCII.
PLAIN = str.maketrans(
    {
        "→": "->",
        "×": "x",
        "·": "|",
        "–": "-",
        "—": "-",
        "−": "-",
        "…": "...",
        "─": "-",
        "═": "=",
        "│": "|",
        "’": "'",
        "“": '"',
        "”": '"',
        "≠": "!=",
        "≤": "<=",
        "≥": ">=",
        "°": " deg",
        "☐": "[ ]",
        "²": "2",
        "Ω": "Ohm",
        "√": "sqrt ",
        "³": "3",
        "\N{NO-BREAK SPACE}": " ",
    }
)

WIDEST = 120
#: A longer word is broken where the table has no room.
MOST_FOR_A_WORD = 34


def is_terminal() -> bool:
    """Whether a person sits at both ends: questions may be asked."""
    return sys.stdin.isatty() and sys.stdout.isatty()


def ascii_only(text: str) -> str:
    """The text in ASCII; what has no agreed spelling is escaped, never dropped."""
    return text.translate(PLAIN).encode("ascii", "backslashreplace").decode("ascii")


def shown(text: str) -> str:
    """The text without terminal control characters (a listing may hold any)."""
    return "".join(c if c.isprintable() or c in "\n\N{NO-BREAK SPACE}" else f"\\x{ord(c):02x}" for c in text)


def width() -> int:
    """Columns to use: the terminal's, at most :data:`WIDEST`; 100 where there is none."""
    if not sys.stdout.isatty() and "COLUMNS" not in os.environ:
        return 100
    return max(40, min(WIDEST, shutil.get_terminal_size((100, 24)).columns))


def _colours() -> bool:
    return sys.stdout.isatty() and not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb"


def say(text: str, *, plain: bool = False) -> None:
    """Print text to standard output, in ASCII where asked or where the terminal knows nothing else."""
    encoding = sys.stdout.encoding or "ascii"
    if plain:
        text = ascii_only(text)
    else:
        try:
            text.encode(encoding)
        except UnicodeEncodeError:
            text = ascii_only(text)
    sys.stdout.write(text if text.endswith("\n") else text + "\n")


def say_text(data: bytes) -> None:
    """Print a file as it is, in UTF-8 whatever the terminal is said to know; a program may read it."""
    sys.stdout.flush()
    raw = getattr(sys.stdout, "buffer", None)
    if raw is None:
        sys.stdout.write(data.decode())
        return
    raw.write(data)
    raw.flush()


def say_json(body: Any) -> None:
    """Print JSON: two blanks of indent, keys in the order made, escapes for everything not ASCII."""
    sys.stdout.write(json.dumps(body, indent=2, ensure_ascii=True) + "\n")


def say_sheet(sheet: Sheet, *, plain: bool = False) -> None:
    """Print a sheet."""
    say(sheet_text(sheet, columns=width(), bold=_colours() and not plain), plain=plain)


def sheet_text(sheet: Sheet, *, columns: int = 100, bold: bool = False) -> str:
    """A sheet as text of that width."""
    rule = "─" * columns
    title = f"\x1b[1m{shown(sheet.title)}\x1b[0m" if bold else shown(sheet.title)
    label = max((len(name) for name, _ in sheet.head), default=0)
    lines = [title, rule]
    for name, value in sheet.head:
        lines += _hanging(f"{name:<{label}}  ", value, columns)
    lines += [*([rule] if sheet.head else []), *_filled(sheet.sentence, columns)]
    if sheet.account:
        lines += ["", *_account(sheet.account, columns)]
    if sheet.warnings:
        lines += ["", *(row for text in sheet.warnings for row in _hanging("! ", text, columns))]
    for table in sheet.tables:
        lines += ["", *_table(table, columns)]
    if sheet.notes:
        lines += ["", *(row for text in sheet.notes for row in _filled(text, columns))]
    if sheet.next_act:
        lines += ["", *_hanging("next: ", sheet.next_act[0], columns)]
        lines += [row for text in sheet.next_act[1:] for row in _hanging("  or: ", text, columns)]
    lines += [rule, *_filled(" · ".join((*sheet.foot, "end of sheet")), columns)]
    # what must not part on a line was held together while lines were made; people copy plain blanks
    return "\n".join(lines).replace("\N{NO-BREAK SPACE}", " ") + "\n"


def _account(text: str, columns: int) -> list[str]:
    """The account line; too long for one line, it breaks between its parts, and what is new stands apart."""
    if len(text) <= columns:
        return [text]
    found, plus, new = text.partition("   + ")
    lines = [""]
    for part in found.split(" · "):
        longer = f"{lines[-1]} · {part}" if lines[-1] else part
        lines = [*lines[:-1], longer] if len(longer) <= columns else [*lines, f"  · {part}"]
    return [*lines, *(_filled(f"  + {new}", columns) if plus else ())]


def _filled(text: str, columns: int) -> list[str]:
    return textwrap.wrap(
        shown(text), columns, break_on_hyphens=False, drop_whitespace=True, replace_whitespace=False
    ) or [""]


def _hanging(first: str, text: str, columns: int) -> list[str]:
    return textwrap.wrap(
        shown(text),
        columns,
        initial_indent=first,
        subsequent_indent=" " * len(first),
        break_on_hyphens=False,
    ) or [first.rstrip()]


def _table(table: Table, columns: int) -> list[str]:
    lines = _filled(table.title, columns) if table.title else []
    if table.rows:
        titles = tuple(title.rstrip("#") for title in table.columns)
        right = tuple(title.endswith("#") for title in table.columns)
        rows = [tuple(shown(cell) for cell in row) for row in table.rows]
        widths = _widths(titles, rows, columns)
        lines += _row(titles, widths, right)
        lines.append("  ".join("─" * w for w in widths))
        for row, under in zip_longest(rows, table.under, fillvalue=()):
            lines += _row(row, widths, right)
            lines += [part for text in under for part in _under(text, columns)]
    elif not table.folded:
        lines += _filled(table.empty, columns)
    lines += [row for text in table.folded for row in _hanging("… ", text, columns)]
    return lines


def _under(text: str, columns: int) -> list[str]:
    """A line below a row, set in from it."""
    return textwrap.wrap(
        shown(text), columns, initial_indent="    ", subsequent_indent="      ", break_on_hyphens=False
    )


def _widths(titles: tuple[str, ...], rows: list[tuple[str, ...]], columns: int) -> list[int]:
    """Column widths: the widest columns give way first, none below its longest word while that fits."""
    cells = [[part for row in rows for part in row[i].split("\n")] for i in range(len(titles))]
    wanted = [max(map(len, (title, *cells[i]))) for i, title in enumerate(titles)]
    least = [_longest_word(title, cells[i]) for i, title in enumerate(titles)]
    room = columns - 2 * (len(titles) - 1)
    share = max(1, room // len(titles))
    while sum(wanted) > room:
        wide = [i for i, w in enumerate(wanted) if w > least[i]]
        if not wide and max(least) <= share:
            break
        if not wide:  # the longest words alone are too wide: they are broken
            least = [min(w, share) for w in least]
            continue
        widest = max(wide, key=wanted.__getitem__)
        second = max((w for i, w in enumerate(wanted) if i != widest), default=10)
        over = sum(wanted) - room
        wanted[widest] = max(least[widest], min(second - 1, wanted[widest] - 1), wanted[widest] - over)
    return wanted


def _longest_word(title: str, cells: list[str]) -> int:
    words = (len(word) for cell in (title, *cells) for word in cell.split(" "))
    return min(MOST_FOR_A_WORD, max(10, *words))


def _row(cells: tuple[str, ...], widths: list[int], right: tuple[bool, ...]) -> list[str]:
    if all(len(cell) <= wide and "\n" not in cell for cell, wide in zip(cells, widths, strict=True)):
        wrapped = [[cell] for cell in cells]
    else:
        wrapped = [
            [row for part in cell.split("\n") for row in _wrapped(part, wide)]
            for cell, wide in zip(cells, widths, strict=True)
        ]
    lines = []
    for i in range(max(map(len, wrapped))):
        parts = (part[i] if i < len(part) else "" for part in wrapped)
        line = "  ".join(
            f"{part:>{wide}}" if flush else f"{part:<{wide}}"
            for part, wide, flush in zip(parts, widths, right, strict=True)
        )
        lines.append(line.rstrip())
    return lines


def _wrapped(text: str, wide: int) -> list[str]:
    """A part of a cell; its own indent is kept."""
    indent = text[: len(text) - len(text.lstrip(" "))]
    return textwrap.wrap(text.strip(), wide, initial_indent=indent, break_on_hyphens=False) or [""]


def say_error(error: AsflownError, *, as_json: bool, plain: bool = False) -> None:
    """Print an error to standard error: its text, or ``{"error": …}`` with --json."""
    if as_json:
        body = {
            "error": {
                "kind": type(error).__name__,
                "what": error.what,
                "where": error.where,
                "faults": [{"what": fault.what, "where": fault.where} for fault in error.faults],
                "next": error.next_step,
                "exit_code": error.exit_code,
            }
        }
        sys.stderr.write(json.dumps(body, indent=2) + "\n")
        return
    say_meanwhile(f"asflown: {shown(str(error))}", plain=plain)


def say_meanwhile(line: str, *, plain: bool = False) -> None:
    """A line on standard error at once, beside what is printed in the end."""
    encoding = sys.stderr.encoding or "ascii"
    try:
        line.encode(encoding)
    except UnicodeEncodeError:
        plain = True
    sys.stderr.write((ascii_only(line) if plain else line) + "\n")
    sys.stderr.flush()


def ask(question: str) -> str:
    """One line from the person, without the blanks around it. Only at a terminal.

    Raises
    ------
    EOFError
        When there is no more input.
    """
    sys.stdout.write(question)
    sys.stdout.flush()
    answer = sys.stdin.readline()
    if not answer:
        raise EOFError
    return answer.strip()
