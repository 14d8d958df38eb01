"""``asflown release``: bring a release in, list them, show one."""

from __future__ import annotations

from pathlib import Path

from cyclopts import App

from asflown.faces.cli.options import NO_OPTIONS, Common

app = App(name="release", help="Bring a release in, list them, show one.")


@app.command(name="add")
def add(folder: str, /, *, common: Common = NO_OPTIONS) -> int:
    """Bring a release in: catalog, overlay, change notes, optional functions, image words, images.

    Each may be missing and is then not stated. Bringing it in again makes a further revision; plans made
    from the one before say so.

    Example: asflown release add releases/marram-5.0

    Parameters
    ----------
    folder
        The folder that holds the release's files.
    """
    from asflown.app import releases
    from asflown.app.views.release_shown import release_json, release_sheet
    from asflown.faces.cli.session import DONE, show, work_in
    from asflown.faces.wiring import read_folder

    name = Path(folder).resolve().name
    added = releases.add_release(work_in(common), read_folder(folder), name)
    show(
        common,
        lambda: release_sheet(added.release, added.sha256),
        lambda: {**release_json(added.release, added.sha256), "was_kept": added.was_kept},
    )
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
