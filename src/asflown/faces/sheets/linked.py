"""Commands and names inside a sheet's sentences, as links to the pages that do the same."""

from __future__ import annotations

import re
import shlex
from collections.abc import Callable, Mapping

from markupsafe import Markup, escape

#: The address of a page for the words of a command after ``asflown``; ``None`` where no page does it.
Address = Callable[[tuple[str, ...]], str | None]

_COMMAND = re.compile(r"asflown(?: (?:'[^'\n]*'|\"[^\"\n]*\"|[^\s'\";:,()]+(?<![.])))+")


def linked(text: str, address: Address, names: Mapping[str, str] | None = None) -> Markup:
    """Text as HTML: commands become links or code, a name alone becomes a link, line ends are kept.

    Parameters
    ----------
    names
        Address by name, for a text that is nothing but that name.
    """
    whole = text.strip().removesuffix(" *")
    if names and whole in names:
        return Markup('<a href="{}">{}</a>').format(names[whole], text)
    if "asflown" not in text:
        return _lines(text)
    parts: list[Markup] = []
    place = 0
    for match in _COMMAND.finditer(text):
        parts.append(_lines(text[place : match.start()]))
        parts.append(_command(match.group(), address))
        place = match.end()
    parts.append(_lines(text[place:]))
    return Markup("").join(parts)


def next_act(text: str, address: Address) -> tuple[str, str | None, str]:
    """A next act's words, the address of its page and its command.

    Examples
    --------
    >>> next_act("sign it off: asflown sign plover", lambda words: "/" + "/".join(words))
    ('sign it off', '/sign/plover', 'asflown sign plover')
    """
    match = _COMMAND.search(text)
    if match is None:
        return text, None, ""
    words = text[: match.start()].strip().rstrip(":").strip()
    command = match.group()
    return words or command.removeprefix("asflown "), address(_words(command)), command


def _command(command: str, address: Address) -> Markup:
    found = address(_words(command))
    code = Markup("<code>{}</code>").format(command)
    return code if found is None else Markup('<a href="{}">{}</a>').format(found, code)


def _words(command: str) -> tuple[str, ...]:
    try:
        return tuple(shlex.split(command)[1:])
    except ValueError:
        return tuple(command.split()[1:])


def _lines(text: str) -> Markup:
    escaped = escape(text)
    return Markup(str(escaped).replace("\n", "<br>")) if "\n" in text else escaped
