"""What a terminal leaves in a saved listing: control sequences, overwritten text, page breaks."""

from __future__ import annotations

from asflown.formats.listing.text import Line, is_pager, overwritten, without_escapes

_CONTROLS = {code: None for code in range(32) if code not in (8, 9, 13)} | {
    127: None,
    0xFEFF: None,
    0x200B: None,
}
_SUSPECT = frozenset(map(chr, (*range(9), *range(11, 32), 127, 0x9B, 0xFEFF, 0x200B)))


def clean(lines: list[Line]) -> None:
    """Replace each line's text by what a person saw on the screen; trailing blanks go."""
    for line in lines:
        text = line.text
        if text.isprintable() or _SUSPECT.isdisjoint(text):
            line.text = text.rstrip()
            continue
        seen = _seen(text)
        line.noisy = seen != text
        line.text = seen.rstrip()


def _seen(text: str) -> str:
    text = without_escapes(text)
    if "\r" in text:
        text = _after_overwriting(text)
    if "\x08" in text:
        text = _backspaced(text)
    return text.translate(_CONTROLS)


def _after_overwriting(text: str) -> str:
    parts = [part for part in text.split("\r") if part.strip()]
    if not parts:
        return ""
    kept = [part for part in parts if not overwritten(part)]
    return kept[-1] if kept else parts[-1]


def _backspaced(text: str) -> str:
    out: list[str] = []
    pager = 0
    for char in text:
        if char == "\x08":
            if out:
                out.pop()
            pager += 1
        else:
            out.append(char)
    return "".join(out)


def is_page_break(line: Line) -> bool:
    """Whether a line is nothing but a page break or a pager's word."""
    return is_pager(line.text)
