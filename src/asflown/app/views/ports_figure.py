"""A port plan drawn: devices on the left, connectors of the board in the middle, DMA streams on the right."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from html import escape

from asflown.app.ports import Ports
from asflown.core.ports.plan import Placed, PortPlan
from asflown.core.ports.processor import lane_said

_ROW, _TOP, _WIDTH = 30, 70, 900
_LEFT, _MIDDLE, _RIGHT = 20, 330, 660
_BOX = 210


@dataclass(frozen=True)
class _Box:
    name: str
    more: str
    x: int
    y: int

    @property
    def right(self) -> tuple[int, float]:
        return self.x + _BOX, self.y + _ROW * 0.4

    @property
    def left(self) -> tuple[int, float]:
        return self.x, self.y + _ROW * 0.4


def ports_drawing(ports: Ports) -> str:
    """The plan as SVG; the table of the sheet says the same in words.

    Returns
    -------
    str
        In currentColor alone, so that it follows the page's colours; wires that move are broken lines.
    """
    plan = ports.plan
    items = [item for item in plan.shown if item.place and not item.left_off] if plan else []
    title = f"Port plan of {ports.aircraft.id}"
    if plan is None or not items:
        return _svg(
            title, 140, [_text(_LEFT, 100, "nothing is planned: the board or the devices are not described")]
        )
    places = list(dict.fromkeys(item.place for item in items if item.place))
    lanes = list(dict.fromkeys(lane for item in items for _, lane in item.lanes))
    things = {item.name: _Box(item.name, "", _LEFT, _TOP + n * _ROW) for n, item in enumerate(items)}
    middle = {
        name: _Box(name, _printed(plan, name), _MIDDLE, _TOP + n * _ROW) for n, name in enumerate(places)
    }
    right = {lane: _Box(lane_said(lane), "", _RIGHT, _TOP + n * _ROW) for n, lane in enumerate(lanes)}
    height = _TOP + max(len(things), len(middle), len(right)) * _ROW + 40
    parts = [
        _text(x, 50, word, bold=True) for x, word in ((_LEFT, "fitted"), (_MIDDLE, "board"), (_RIGHT, "DMA"))
    ]
    parts += list(_lines(items, things, middle, right))
    for box in (*things.values(), *middle.values(), *right.values()):
        parts += _drawn(box)
    parts.append(_text(_LEFT, height - 12, "broken line: the wire moves"))
    return _svg(title, height, parts)


def _lines(
    items: Iterable[Placed], things: dict[str, _Box], middle: dict[str, _Box], right: dict[str, _Box]
) -> Iterable[str]:
    for item in items:
        assert item.place is not None
        yield _line(things[item.name].right, middle[item.place].left, broken=item.moves)
        for _, lane in item.lanes:
            yield _line(middle[item.place].right, right[lane].left)


def _printed(plan: PortPlan, place: str) -> str:
    """The connector of a place."""
    board = plan.board
    plugs = {
        **{one.name: one.connector for one in board.serial},
        **{one.name: one.connector for one in board.outputs},
        **{one.name: one.connector for one in board.inputs},
        **{one.name: one.connector for one in board.buses},
    }
    return plugs.get(place) or ""


def _drawn(box: _Box) -> list[str]:
    at = f'x="{box.x}" y="{box.y - 4}" width="{_BOX}" height="{_ROW - 6}"'
    parts = [f'<rect {at} fill="none" stroke="currentColor"/>', _text(box.x + 8, box.y + 13, box.name)]
    if box.more:
        parts.append(_text(box.x + _BOX - 8, box.y + 13, box.more, anchor="end"))
    return parts


def _line(start: tuple[int, float], end: tuple[int, float], *, broken: bool = False) -> str:
    dashes = ' stroke-dasharray="6 4"' if broken else ""
    bend = (start[0] + end[0]) / 2
    path = f"M{start[0]} {start[1]:g}C{bend:g} {start[1]:g} {bend:g} {end[1]:g} {end[0]} {end[1]:g}"
    return f'<path d="{path}" fill="none" stroke="currentColor" stroke-width="1.5"{dashes}/>'


def _text(x: int, y: int, words: str, *, bold: bool = False, anchor: str = "start") -> str:
    weight = ' font-weight="bold"' if bold else ""
    return f'<text x="{x}" y="{y}" text-anchor="{anchor}"{weight}>{escape(words)}</text>'


def _svg(title: str, height: int, parts: list[str]) -> str:
    body = "\n".join(parts)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_WIDTH} {height}" role="img"'
        f' font-family="sans-serif" font-size="13" fill="currentColor">\n<title>{escape(title)}</title>\n'
        f"{_text(_LEFT, 24, title, bold=True)}\n{body}\n</svg>\n"
    )
