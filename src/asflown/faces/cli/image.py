"""``asflown image``: firmware images, before they are written."""

from __future__ import annotations

from cyclopts import App

from asflown.faces.cli.options import NO_OPTIONS, Common

app = App(name="image", help="Firmware images: check one before it is written.")


@app.command(name="check")
def check(
    file: str,
    /,
    *,
    board: str,
    release: str | None = None,
    old: str | None = None,
    at: str | None = None,
    hashes: str | None = None,
    signature: str | None = None,
    key: str | None = None,
    common: Common = NO_OPTIONS,
) -> int:
    """Check an image against a board: each fact agrees, differs or is not stated. No board is needed.

    Raw binary, Intel HEX, ELF or UF2, with or without a USB DFU suffix. Exit code 0 when nothing differs,
    4 when something does that a person may answer, 5 when it must not go on this board.

    Example: asflown image check marram-5.0.hex --board wrackline-2.toml --release marram-5.0

    Parameters
    ----------
    file
        The image.
    board
        The board's description (a .toml file), a board kept, or the name of its processor.
    release
        The release it should be: says where its words stand, for which boards it is, its hashes.
    old
        The image that is on the board now: says which sectors differ.
    at
        Address of a raw binary where the board does not state it, e.g. 0x08000000.
    hashes
        The maker's list of SHA-256 (default: the one that came with the release).
    signature
        A minisign signature of the image, or of the list where the file's name is SHA256SUMS.minisig.
    key
        The maker's minisign public key.
    """
    from asflown.app.image_check import Wanted, address, check_files
    from asflown.app.views.image_shown import image_json, image_sheet
    from asflown.faces.cli.session import DIFFERS, DOES_NOT_FIT, DONE, show, work_in
    from asflown.faces.wiring import read_file

    wanted = Wanted(file, board, release, address(at), old, signature, key, hashes)
    checked = check_files(wanted, read_file, lambda: work_in(common).store)
    show(common, lambda: image_sheet(checked), lambda: image_json(checked))
    if checked.refused:
        return DOES_NOT_FIT
    return DIFFERS if checked.to_answer else DONE
