"""The port plan of an aircraft, and the boards described."""

from __future__ import annotations

from dataclasses import replace

from asflown.errors import UsageError
from asflown.faces.web.addresses import at
from asflown.faces.web.page import Act, Asked, Delivered, Field, Go, Page
from asflown.faces.web.pages.beside import links, others

_ADD = Act(
    "add",
    "Check it and keep it",
    (Field("description", "The board's description (TOML)", "file", needed=True),),
    title="Describe a board",
    note="A description that cannot be, by the processor's data, is refused with every reason.",
)
_NEW = Act(
    "new",
    "Begin a description",
    (
        Field("name", "Name, as releases say it", needed=True),
        Field("processor", "Processor, as printed on the chip", needed=True, hint="e.g. STM32F405RG"),
    ),
    title="Begin one from the processor's data",
)


def look(asked: Asked) -> Page:
    """Which device goes where, and why not."""
    from asflown.app import kept
    from asflown.app.ports import PortsAsked, ports_of
    from asflown.app.views.ports_figure import ports_drawing
    from asflown.app.views.ports_shown import ports_json, ports_sheet

    aircraft = kept.aircraft(asked.work.store, asked["aircraft"])
    made = ports_of(asked.work, PortsAsked(aircraft.id, asked.query.get("release") or None))
    boards = links("board", [aircraft.board]) if made.plan is not None and aircraft.board else {}
    # every text of the drawing is escaped where it is drawn
    drawing = ports_drawing(made) if made.plan is not None and made.plan.shown else None
    return Page(
        ports_sheet(made),
        lambda: ports_json(made),
        names=boards,
        others=others(aircraft.id),
        whose=aircraft.id,
        template="ports.html",
        more={"drawing": drawing, "svg_at": at("aircraft", aircraft.id, "ports.svg")},
    )


def boards(asked: Asked) -> Page:
    """Every board described."""
    from asflown.app.boards import all_boards
    from asflown.app.views.board_shown import boards_sheet

    found = all_boards(asked.work.store)
    return Page(
        replace(boards_sheet(found), next_act=()),
        lambda: {"boards": [{"board": board.name, "processor": board.processor} for board in found]},
        acts=(_ADD, _NEW),
        names=links("board", (board.name for board in found)),
    )


def board(asked: Asked) -> Page:
    """What one board leads out."""
    from asflown.app.boards import board as kept_board
    from asflown.app.views.board_shown import board_json, board_sheet

    found = kept_board(asked.work.store, asked["board"])
    assert asked.work.processors is not None
    processor = asked.work.processors.of(found.processor)
    return Page(
        board_sheet(found, processor, sentence=f"{found.name} as it was brought in.", next_act=()),
        lambda: board_json(found, processor),
    )


def add(asked: Asked) -> Go | Delivered:
    """Keep a description, or begin one."""
    from asflown.app.boards import add_board, begin_board
    from asflown.app.views.board_shown import added_said

    sent, processors = asked.sent, asked.work.processors
    assert sent is not None
    assert processors is not None
    if sent.act == "new":
        name = sent.text("name")
        text = begin_board(name, sent.text("processor"), processors)
        return Delivered(text, f"{name}.toml", "application/toml")
    brought = sent.file("description")
    if brought is None:
        raise UsageError("no description was brought", next_step="choose the file")
    added = add_board(asked.work, *brought, processors)
    return Go(at("board", added.board.name), added_said(added))
