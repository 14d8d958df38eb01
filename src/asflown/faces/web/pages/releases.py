"""Releases: those brought in, one of them, and a new one."""

from __future__ import annotations

from dataclasses import replace

from asflown.errors import UsageError
from asflown.faces.web.addresses import at
from asflown.faces.web.page import Act, Asked, Field, Go, Page, Way
from asflown.faces.web.pages.beside import links

ADD = Act(
    "add",
    "Bring the release in",
    (
        Field(
            "files",
            "The files of its folder, or the folder as a zip",
            "files",
            needed=True,
            hint="release.toml, the catalog, change notes, images: whatever the release came with",
        ),
        Field("name", "Name", hint="where release.toml does not say it"),
    ),
    title="Bring a release in",
)


def look(asked: Asked) -> Page:
    """Every release brought in."""
    from asflown.app import kept
    from asflown.app.views.release_shown import release_json, release_list_sheet

    found = kept.all_releases(asked.work.store)
    return Page(
        replace(release_list_sheet([release for release, _ in found]), next_act=()),
        lambda: {"releases": [release_json(release, document.sha256) for release, document in found]},
        acts=(ADD, _match_act([release.id for release, _ in found])) if len(found) > 1 else (ADD,),
        names=links("release", (release.id for release, _ in found)),
    )


def _match_act(ids: list[str]) -> Act:
    ways = tuple(Way(id, id) for id in ids)
    return Act(
        "match",
        "Match them",
        (
            Field("old", "Old release", "choice", ids[0], ways),
            Field("new", "New release", "choice", ids[-1], ways),
        ),
        address="/match",
        title="What became of every name between two releases",
    )


def one(asked: Asked) -> Page:
    """What one release came with, and what is not stated."""
    from asflown.app import kept
    from asflown.app.views.release_shown import release_json, release_sheet

    release = kept.release(asked.work.store, asked["release"])
    found = kept.release_with_document(asked.work.store, release.id)
    sha256 = found[1].sha256 if found else ""
    return Page(release_sheet(release, sha256), lambda: release_json(release, sha256))


def add(asked: Asked) -> Go:
    """Bring a release in."""
    from asflown.app import releases as job
    from asflown.faces.wiring import unpacked

    assert asked.sent is not None
    uploads = asked.sent.files.get("files", ())
    if not uploads:
        raise UsageError("no file was chosen", next_step="choose the files of the release's folder")
    if len(uploads) == 1 and uploads[0].name.lower().endswith(".zip"):
        files = unpacked(uploads[0].data, uploads[0].name)
        name = uploads[0].name[:-4]
    else:
        files = {one.name: one.data for one in uploads}
        name = ""
    made = job.add_release(asked.work, files, asked.sent.text("name") or name)
    return Go(at("release", made.release.id), f"{made.release.id} is kept.")
