"""Board descriptions: begin one, check one, keep one."""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass

from asflown.app import kept
from asflown.app.needs import Document, Store
from asflown.app.workplace import Workplace
from asflown.core.ports.board import Board
from asflown.core.ports.processor import Processor, split
from asflown.errors import UsageError
from asflown.formats import documents

#: Loads the table of a part; ``None`` where there is none.
LoadProcessor = Callable[[str], Processor | None]


@dataclass(frozen=True)
class Processors:
    """The processor tables there are."""

    load: LoadProcessor
    names: Callable[[], Collection[str]]

    def of(self, part: str) -> Processor:
        """The table of a part.

        Raises
        ------
        UsageError
            When there is none.
        """
        found = self.load(part)
        if found is None:
            raise UsageError(
                f"there is no table for the processor {part!r}",
                next_step=f"give one of these, its package for x or x itself: {', '.join(self.names())}",
            )
        return found


@dataclass(frozen=True)
class AddedBoard:
    """A board as it is kept now."""

    board: Board
    processor: Processor
    sha256: str
    was_kept: bool


def check_board(data: bytes, name: str, processors: Processors) -> tuple[Board, Processor]:
    """Read a description and hold it against its processor.

    Raises
    ------
    InputError
        Naming everything that cannot be, with its line.
    """
    from asflown.formats import board_toml

    return board_toml.read(data, name, processors.load, processors.names())


def add_board(work: Workplace, data: bytes, name: str, processors: Processors) -> AddedBoard:
    """Keep a board's description, with the bytes of its file.

    Raises
    ------
    InputError
        When it cannot be (see `check_board`).
    """
    board, processor = check_board(data, name, processors)
    before = board_with_document(work.store, board.name)
    body = documents.dump(board)
    if before is not None and documents.dump(before[0]) == body:
        return AddedBoard(board, processor, before[1].sha256, was_kept=False)
    with work.store.transaction() as tx:
        original = tx.keep(data, name=name, kind="board description")
        document = tx.put("board", board.name, body, expect=before[1].revision if before else 0)
        tx.log(
            kept.RELEASES,
            "board",
            {
                "id": board.name,
                "what": "brought in again" if before else "brought in",
                "processor": processor.name,
                "sha256": document.sha256,
                "originals": [original.sha256],
            },
        )
    return AddedBoard(board, processor, document.sha256, was_kept=True)


def board_with_document(store: Store, name: str) -> tuple[Board, Document] | None:
    """A board and the revision it stands in, ``None`` where none of that name is kept."""
    document = store.document("board", name)
    return None if document is None else (documents.load(document.body, Board), document)


def board(store: Store, name: str) -> Board:
    """A board.

    Raises
    ------
    UsageError
        When none of that name is kept.
    """
    found = board_with_document(store, name)
    if found is None:
        known = [document.id for document in store.documents("board")]
        says = f"known: {', '.join(known)}" if known else "none is described yet"
        raise UsageError(
            f"there is no board {name!r} ({says})",
            next_step=f"begin one: asflown board new {name} --processor PART; then asflown board add FILE",
        )
    return found[0]


def board_file(store: Store, name: str) -> bytes | None:
    """The file a kept board was brought in with last, ``None`` where none of that name is kept."""
    for entry in reversed(store.book(kept.RELEASES)):
        if entry.kind == "board" and entry.body.get("id") == name:
            return store.original(str(entry.body["originals"][0]))
    return None


def all_boards(store: Store) -> tuple[Board, ...]:
    """Every board, by name."""
    return tuple(documents.load(document.body, Board) for document in store.documents("board"))


def begin_board(name: str, part: str, processors: Processors) -> bytes:
    """The text of a new description, filled with what the processor has.

    Raises
    ------
    UsageError
        When there is no table for the processor, or no such package of it.
    """
    from asflown.formats import board_toml

    processor = processors.of(part)
    package = split(part)[1]
    if package is not None and package not in processor.packages:
        raise UsageError(
            f"there is no package {package} of {processor.name}",
            next_step=f"packages: {', '.join(sorted(processor.packages))}; or leave the letter out",
        )
    return board_toml.begin(processor, name, package)
