"""A simulated board's stored settings as a file: what it stored stays from one command to the next."""

from __future__ import annotations

import json
from pathlib import Path

from asflown.core.record import Key
from asflown.demo.device import SimulatedBoard
from asflown.errors import InputError


def dumped(board: SimulatedBoard) -> bytes:
    """Release, board and every setting as it stands."""
    rows = [[key.name, key.bank, key.index, value] for key, value in board.values().items()]
    body = {"release": board.release, "board": board.board, "settings": rows}
    return (json.dumps(body, indent=0) + "\n").encode()


def loaded(path: str) -> SimulatedBoard:
    """The board of a file.

    Raises
    ------
    InputError
        When it is no such file.
    """
    place = Path(path)
    if place.suffix != ".board" or not place.is_file():
        raise InputError(
            "is no simulated board", where=path, next_step="make one: asflown demo FOLDER --board"
        )
    try:
        body = json.loads(place.read_bytes())
        values = {Key(name, bank, index): value for name, bank, index, value in body["settings"]}
        return SimulatedBoard(body["release"], values, board=body["board"])
    except (KeyError, TypeError, ValueError) as error:
        raise InputError(f"is no simulated board ({error})", where=path) from None


def keep(path: str, board: SimulatedBoard) -> None:
    """Write what is stored; what is in use and not stored is not kept."""
    if not board.unsaved:
        Path(path).write_bytes(dumped(board))
