"""``asflown release``: bring a release in, list them, show one."""

from __future__ import annotations

from pathlib import Path

from cyclopts import App

from asflown.errors import UsageError
from asflown.faces.cli.options import NO_OPTIONS, Common

app = App(name="release", help="Bring a release in, list them, show one.")


@app.command(name="add")
def add(
    folder: str | None = None,
    /,
    *,
    link: str | None = None,
    name: str | None = None,
    system: int | None = None,
    common: Common = NO_OPTIONS,
) -> int:
    """Bring a release in: catalog, overlay, change notes, optional functions, image words, images.

    Each may be missing and is then not stated. Bringing it in again makes a further revision; plans made
    from the one before say so. With --link the catalog comes from the aircraft itself, over MAVLink FTP,
    each file checked by its CRC-32; nothing is written to it, and nothing is fetched from anywhere else.

    Example: asflown release add releases/marram-5.0

    Parameters
    ----------
    folder
        The folder that holds the release's files; with --link without a catalog, or none at all.
    link
        Take the catalog from the aircraft at this link: serial:/dev/ttyACM0@115200,
        udp:127.0.0.1:14550 (listens), udp-to:HOST:PORT, tcp:HOST:PORT.
    name
        With --link and without a folder: the release, e.g. marram-5.0.
    system
        With --link: which of several aircraft (default: the only one).
    """
    from asflown.app import releases
    from asflown.app.views.release_shown import release_json, release_sheet
    from asflown.faces.cli.session import DONE, show, work_in
    from asflown.faces.wiring import read_folder

    if link is not None:
        return _over(link, folder, name, system, common)
    if folder is None or name is not None:
        raise UsageError(
            "a folder is wanted" if folder is None else "--name goes with --link",
            next_step="name the release's folder, or --link ADDRESS --name RELEASE",
        )
    added = releases.add_release(work_in(common), read_folder(folder), Path(folder).resolve().name)
    show(
        common,
        lambda: release_sheet(added.release, added.sha256),
        lambda: {**release_json(added.release, added.sha256), "was_kept": added.was_kept},
    )
    return DONE


def _over(link: str, folder: str | None, name: str | None, system: int | None, common: Common) -> int:
    """Bring in a release whose catalog the aircraft states."""
    from asflown.app.link.metadata import release_over
    from asflown.app.views.mavlink_shown import described_json, described_sheet
    from asflown.faces.cli.session import DONE, show, work_in
    from asflown.faces.wiring import links, read_folder

    if (folder is None) == (name is None):
        raise UsageError(
            "which release it is must be said once",
            next_step="--name marram-5.0, or the folder of its other files",
        )
    files = {} if folder is None else read_folder(folder)
    meant = name or Path(folder or "").resolve().name
    made = release_over(work_in(common), links(), link, meant, files, system)
    show(common, lambda: described_sheet(made), lambda: described_json(made))
    return DONE


@app.default
@app.command(name="list")
def list_(*, common: Common = NO_OPTIONS) -> int:
    """List every release brought in.

    Example: asflown release list
    """
    from asflown.app import kept
    from asflown.app.views.release_shown import release_json, release_list_sheet
    from asflown.faces.cli.session import DONE, show, work_in

    found = kept.all_releases(work_in(common).store)
    show(
        common,
        lambda: release_list_sheet([release for release, _ in found]),
        lambda: {"releases": [release_json(release, document.sha256) for release, document in found]},
    )
    return DONE


@app.command(name="show")
def show_(id: str, /, *, common: Common = NO_OPTIONS) -> int:
    """Show what a release came with, and what is not stated.

    Example: asflown release show marram-5.0

    Parameters
    ----------
    id
        The release.
    """
    from asflown.app import kept
    from asflown.app.views.release_shown import release_json, release_sheet
    from asflown.faces.cli.session import DONE, show, work_in

    store = work_in(common).store
    release = kept.release(store, id)
    document = store.document("release", id)
    sha256 = document.sha256 if document else ""
    show(common, lambda: release_sheet(release, sha256), lambda: release_json(release, sha256))
    return DONE
