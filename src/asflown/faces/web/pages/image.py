"""An image checked against a board and a release, before anything is written."""

from __future__ import annotations

from asflown.errors import UsageError
from asflown.faces.web.page import Act, Asked, Field, Page, Way

_NOT_SAID = "not said"


def look(asked: Asked) -> Page:
    """What is needed to check an image."""
    from asflown.app.views.image_shown import asked_sheet

    return Page(asked_sheet(), acts=(_act(asked),))


def _act(asked: Asked) -> Act:
    from asflown.app import kept
    from asflown.app.boards import all_boards
    from asflown.core.image.processors import PROCESSORS

    store = asked.work.store
    boards = [board.name for board in all_boards(store)]
    releases = [release.id for release, _ in kept.all_releases(store)]
    ways = (
        *(Way(name, name) for name in boards),
        *(Way(name, f"{name}, nothing else known") for name in PROCESSORS),
    )
    said = Way("", _NOT_SAID)
    return Act(
        "check",
        "Check it",
        (
            Field("image", "Image", "file", needed=True, hint="raw binary, Intel HEX, ELF or UF2"),
            Field("board", "Board, or its processor", "choice", ways[0].value, ways),
            Field("release", "Release it should be", "choice", "", (said, *(Way(id, id) for id in releases))),
            Field("old", "Image that is on the board now", "file"),
            Field(
                "hashes", "The maker's list of SHA-256", "file", hint="where it did not come with the release"
            ),
            Field("signature", "minisign signature", "file"),
            Field("key", "The maker's minisign public key", "file"),
            Field("at", "Address of a raw binary", hint="e.g. 0x08000000; where the board does not state it"),
        ),
    )


def check(asked: Asked) -> Page:
    """The facts about the image that was sent."""
    from asflown.app.image_check import Wanted, address, check_files
    from asflown.app.views.image_shown import image_sheet

    sent = asked.sent
    assert sent is not None
    files = {name: sent.file(name) for name in ("image", "old", "hashes", "signature", "key")}
    if files["image"] is None:
        raise UsageError("no image was brought", next_step="choose its file")

    def read_file(word: str) -> tuple[bytes, str]:
        found = files[word.partition("/")[0]]
        assert found is not None
        return found

    def given(name: str) -> str | None:
        """The field and the file's own name, which tells a signed list from a signed image."""
        found = files[name]
        return None if found is None else f"{name}/{found[1]}"

    wanted = Wanted(
        given("image") or "",
        sent.text("board"),
        sent.said("release"),
        address(sent.said("at")),
        given("old"),
        given("signature"),
        given("key"),
        given("hashes"),
    )
    return Page(image_sheet(check_files(wanted, read_file, lambda: asked.work.store)), acts=(_act(asked),))
