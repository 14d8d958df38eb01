"""Change notes: what became of a release's parameters in the next one (TOML)."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING

from asflown.core.catalog import ChangeNote, ChangeNotes, ConversionSpec, NoteKind
from asflown.core.expression import parse
from asflown.errors import Fault, InputError
from asflown.formats.hand_written import checked, load_toml, toml_lines

if TYPE_CHECKING:
    from asflown.formats.schemas import Change


def read(data: bytes, name: str) -> ChangeNotes:
    """Read change notes.

    Raises
    ------
    InputError
        With every fault and its line.
    """
    from asflown.formats.schemas import NotesFile

    tree = load_toml(data, name)
    lines = toml_lines(data)
    written = checked(NotesFile, tree, name, lines)
    changes = tuple(_change(item, lines.get(("change", n))) for n, item in enumerate(written.change))
    faults = tuple(_expression_faults(changes, name))
    if faults:
        raise InputError("an expression cannot be read", where=name, faults=faults)
    return ChangeNotes(written.from_, written.to, changes, written.complete)


def _change(item: Change, line: int | None) -> ChangeNote:
    new = tuple(item.new) or ((item.old[0],) if item.kind is NoteKind.CONVERT else ())
    return ChangeNote(
        item.kind, tuple(item.old), new, _conversion(item, new), item.why, item.consequence, line
    )


def _conversion(item: Change, new: tuple[str, ...]) -> ConversionSpec:
    written = item.expression
    expressions = {name: written for name in new} if isinstance(written, str) else dict(written or {})
    return ConversionSpec(
        factor=item.factor,
        offset=item.offset,
        unit_from=item.unit.from_ if item.unit else None,
        unit_to=item.unit.to if item.unit else None,
        choices=dict(item.choices),
        expressions=expressions,
    )


def _expression_faults(changes: Iterable[ChangeNote], name: str) -> Iterator[Fault]:
    for number, change in enumerate(changes, 1):
        where = f"{name}:{change.line} change[{number}].expression"
        for target, text in change.conversion.expressions.items():
            if target not in change.new:
                yield Fault(f"'{target}' is none of the new names {', '.join(change.new)}", where)
            try:
                used = parse(text).names
            except InputError as error:
                yield Fault(error.what, where)
                continue
            known = {*change.old, "old"} if len(change.old) == 1 else set(change.old)
            for word in sorted(used - known):
                yield Fault(f"'{word}' is none of the old names {', '.join(change.old)}", where)


def write(notes: ChangeNotes) -> bytes:
    """Write change notes; reading them gives the same notes back."""
    head = [f"from = {toml_text(notes.from_release)}", f"to = {toml_text(notes.to_release)}"]
    head.append(f"complete = {'true' if notes.complete else 'false'}")
    blocks = ["\n".join(change_lines(change)) for change in notes.changes]
    return ("\n\n".join(["\n".join(head), *blocks]) + "\n").encode()


def change_lines(change: ChangeNote) -> Iterator[str]:
    """One change as lines of TOML."""
    yield "[[change]]"
    yield f"kind = {toml_text(change.kind)}"
    yield f"old = {_names(change.old)}"
    if change.new:
        yield f"new = {_names(change.new)}"
    spec = change.conversion
    if spec.factor is not None:
        yield f"factor = {toml_text(f'{spec.factor:f}')}"
    if spec.offset:
        yield f"offset = {toml_text(f'{spec.offset:f}')}"
    if spec.unit_to is not None:
        yield f"unit = {{ from = {toml_text(spec.unit_from or '')}, to = {toml_text(spec.unit_to)} }}"
    if spec.choices:
        yield f"choices = {_table(spec.choices.items())}"
    if spec.expressions:
        yield f"expression = {_table(spec.expressions.items())}"
    if change.why is not None:
        yield f"why = {toml_text(change.why)}"
    if change.consequence is not None:
        yield f"consequence = {toml_text(change.consequence)}"


def _table(items: Iterable[tuple[str, str]]) -> str:
    return "{ " + ", ".join(f"{toml_text(key)} = {toml_text(value)}" for key, value in items) + " }"


def _names(names: tuple[str, ...]) -> str:
    return toml_text(names[0]) if len(names) == 1 else f"[{', '.join(map(toml_text, names))}]"


def toml_text(text: str) -> str:
    """A TOML basic string (TOML 1.0: control characters, quotes and backslashes escaped).

    Raises
    ------
    InputError
        When it holds half a character (a lone surrogate): a terminal passes on so what is no UTF-8.
    """
    if any("\ud800" <= sign <= "\udfff" for sign in text):
        raise InputError(
            f"the text {text[:40]!a} holds bytes that are no UTF-8", next_step="type it again in UTF-8"
        )
    made = []
    for sign in text:
        if sign in '"\\':
            made.append("\\" + sign)
        elif ord(sign) < 32 or ord(sign) == 127:
            made.append(f"\\u{ord(sign):04X}")
        else:
            made.append(sign)
    return '"' + "".join(made) + '"'
