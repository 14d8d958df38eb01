"""Cards as text, 72 columns wide: an A5 page in a fixed-width type. Lays out; says nothing of its own."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Mapping, Sequence

from asflown.core.cards import Card, Item, Propellers
from asflown.core.refit import Reading

WIDTH = 72
_BOX = "[    ]"
_UNDER = " " * (len(_BOX) + 1)


def card_text(card: Card, aircraft: str, release: str, readings: Iterable[Reading] = ()) -> str:
    """One card as text, with what was read for it in its boxes."""
    read = {reading.what: reading.value for reading in readings}
    lines = [
        "=" * WIDTH,
        *_filled(f"CARD {card.number}   {card.title}"),
        *_filled(f"{aircraft}   {release}   {card.phase.value}"),
        "=" * WIDTH,
    ]
    lines += _boxed(_safety(card))
    lines += ["", *_part("AIM", [card.aim])]
    lines += _part("SET UP", card.set_up)
    lines += _part("DO", card.do, numbered=True)
    lines += _part("EXPECT", card.expect, box=True)
    if card.items:
        lines.append("CHECK EACH")
        for item in card.items:
            lines += _item(item, read)
        lines.append("")
    if card.measures:
        lines.append("WRITE DOWN")
        lines += [_measure(measure.what, measure.unit, read) for measure in card.measures]
        lines.append("")
    lines += _filled(f"GO ON ONLY IF {card.go_on_only_if}")
    lines += [
        "",
        f"{_BOX} pass   {_BOX} fail   {_BOX} not tested",
        "note " + "_" * (WIDTH - 5),
        "date " + "_" * 20 + "  name " + "_" * (WIDTH - 32),
        f"card {card.id}, end of sheet",
    ]
    return "\n".join(lines) + "\n"


def _safety(card: Card) -> list[str]:
    lines = list(card.safety)
    word = card.propellers.value.upper()
    if card.propellers is Propellers.OFF and not any("PROPELLERS OFF" in line for line in lines):
        lines.insert(0, f"{word}.")
    return lines + [f"STOP: {text}" for text in card.stop]


def _boxed(lines: Sequence[str]) -> list[str]:
    rule = "+" + "-" * (WIDTH - 2) + "+"
    body = [row for text in lines for row in textwrap.wrap(text, WIDTH - 4, break_on_hyphens=False)]
    return [rule, *(f"| {row:<{WIDTH - 4}} |" for row in body), rule]


def _part(title: str, texts: Sequence[str], *, numbered: bool = False, box: bool = False) -> list[str]:
    if not texts:
        return []
    lines = [title]
    for number, text in enumerate(texts, 1):
        mark = _BOX if box else (f"{number}." if numbered else "-")
        lines += textwrap.wrap(
            text,
            WIDTH,
            initial_indent=f"{mark} ",
            subsequent_indent=" " * (len(mark) + 1),
            break_on_hyphens=False,
        )
    return [*lines, ""]


def _item(item: Item, read: Mapping[str, str]) -> Iterable[str]:
    yield from textwrap.wrap(
        item.text,
        WIDTH,
        initial_indent=f"{_BOX} ",
        subsequent_indent=_UNDER,
        break_on_hyphens=False,
    )
    if item.expect:
        yield from textwrap.wrap(
            f"Expect: {item.expect}",
            WIDTH,
            initial_indent=_UNDER,
            subsequent_indent=_UNDER,
            break_on_hyphens=False,
        )
    for one in item.measures:
        planned = f", planned {one.planned}" if one.planned is not None else ""
        yield _UNDER + _measure(f"{one.what}{planned}", one.unit, read, len(_UNDER), one.what)


def _measure(what: str, unit: str, read: Mapping[str, str], less: int = 0, key: str = "") -> str:
    tail = f" {unit}" if unit else ""
    head = f"{what} ".ljust(40 - less, ".")
    room = max(6, WIDTH - less - len(head) - 3 - len(tail))
    return f"{head} [{read.get(key or what, '')[:room]:<{room}}]{tail}"


def _filled(text: str) -> Iterable[str]:
    return textwrap.wrap(text, WIDTH, break_on_hyphens=False)
