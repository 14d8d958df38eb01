"""``asflown board``: describe what a board leads out."""

from __future__ import annotations

from cyclopts import App

from asflown.faces.cli.options import NO_OPTIONS, Common

app = App(name="board", help="Boards: begin a description, check it, keep it.")


@app.command(name="new")
def new(name: str, /, *, processor: str, out: str | None = None, common: Common = NO_OPTIONS) -> int:
    """Begin a description from the processor's own data: every serial unit, timer pin and bus, to pick from.

    Example: asflown board new wrackline-2 --processor STM32F722RE

    Parameters
    ----------
    name
        The board's name, as releases say it.
    processor
        Part name, with its package letter (STM32F405RG) or an x for it (STM32F405xG).
    out
        The file to make (default: NAME.toml); it must not be there yet.
    """
    from asflown.app.boards import begin_board
    from asflown.app.views.board_shown import begun_sheet
    from asflown.faces.cli.session import DONE, show
    from asflown.faces.wiring import processors, write_new

    text = begin_board(name, processor, processors())
    place = str(write_new(out or f"{name}.toml", text))
    show(common, lambda: begun_sheet(name, processor, place), lambda: {"board": name, "file": place})
    return DONE


@app.command(name="check")
def check(file: str, /, *, common: Common = NO_OPTIONS) -> int:
    """Hold a description against its processor: pins it has not or that cannot do it, what stands twice.

    Example: asflown board check wrackline-2.toml

    Parameters
    ----------
    file
        The description.
    """
    from asflown.app.boards import check_board
    from asflown.app.views.board_shown import board_json, board_sheet
    from asflown.faces.cli.session import DONE, show
    from asflown.faces.wiring import processors, read_file

    board, processor = check_board(*read_file(file), processors())
    show(
        common,
        lambda: board_sheet(
            board,
            processor,
            sentence="Everything in it can be, by the processor's data.",
            next_act=(f"keep it: asflown board add {file}",),
        ),
        lambda: board_json(board, processor),
    )
    return DONE


@app.command(name="add")
def add(file: str, /, *, common: Common = NO_OPTIONS) -> int:
    """Check a description and keep it; bringing it in again makes a further revision.

    Example: asflown board add wrackline-2.toml

    Parameters
    ----------
    file
        The description.
    """
    from asflown.app.boards import add_board
    from asflown.app.views.board_shown import added_said, board_json, board_sheet
    from asflown.faces.cli.session import DONE, show, work_in
    from asflown.faces.wiring import processors, read_file

    added = add_board(work_in(common), *read_file(file), processors())
    show(
        common,
        lambda: board_sheet(
            added.board,
            added.processor,
            sentence=added_said(added),
            next_act=("plan an aircraft's ports: asflown ports AIRCRAFT",),
        ),
        lambda: {**board_json(added.board, added.processor), "was_kept": added.was_kept},
    )
    return DONE


@app.default
@app.command(name="list")
def list_(*, common: Common = NO_OPTIONS) -> int:
    """List every board described.

    Example: asflown board list
    """
    from asflown.app.boards import all_boards
    from asflown.app.views.board_shown import boards_sheet
    from asflown.faces.cli.session import DONE, show, work_in

    found = all_boards(work_in(common).store)
    show(
        common,
        lambda: boards_sheet(found),
        lambda: {"boards": [{"board": board.name, "processor": board.processor} for board in found]},
    )
    return DONE


@app.command(name="show")
def show_(name: str, /, *, common: Common = NO_OPTIONS) -> int:
    """Show what a board leads out.

    Example: asflown board show wrackline-2

    Parameters
    ----------
    name
        The board.
    """
    from asflown.app.boards import board
    from asflown.app.views.board_shown import board_json, board_sheet
    from asflown.faces.cli.session import DONE, show, work_in
    from asflown.faces.wiring import processors

    found = board(work_in(common).store, name)
    processor = processors().of(found.processor)
    show(
        common,
        lambda: board_sheet(
            found,
            processor,
            sentence=f"{found.name} as it was brought in.",
            next_act=("plan an aircraft's ports: asflown ports AIRCRAFT",),
        ),
        lambda: board_json(found, processor),
    )
    return DONE
