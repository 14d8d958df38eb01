"""Bring a release in: its files kept, its rooms filled as far as they were stated."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from asflown.app import kept
from asflown.app.needs import Transaction
from asflown.app.workplace import Workplace
from asflown.core.catalog import Release
from asflown.core.record import Original
from asflown.formats import documents


@dataclass(frozen=True)
class Added:
    """A release as it is kept now.

    Attributes
    ----------
    sha256
        Hash of the document: what plans are sealed to.
    was_kept
        Whether this call kept anything; ``False`` when the same was there already.
    """

    release: Release
    sha256: str
    was_kept: bool


def add_release(work: Workplace, files: Mapping[str, bytes], name: str) -> Added:
    """Read a release folder and keep it with the bytes of its files.

    Parameters
    ----------
    files
        Bytes by path relative to the folder.
    name
        The folder, for messages.

    Raises
    ------
    InputError
        Naming every fault of every file.
    """
    from asflown.formats import release_folder

    release = release_folder.read(files, name)
    before = kept.release_with_document(work.store, release.id)
    with work.store.transaction() as tx:
        release = replace(release, originals=_keep(tx, release, files))
        body = documents.dump(release)
        if before is not None and documents.dump(before[0]) == body:
            return Added(release, before[1].sha256, was_kept=False)
        revision = before[1].revision if before else 0
        document = tx.put("release", release.id, body, expect=revision)
        tx.log(
            kept.RELEASES,
            "release",
            {
                "what": "brought in again" if before else "brought in",
                "id": release.id,
                "sha256": document.sha256,
                "replaces": before[1].sha256 if before else None,
                "parameters": len(release.catalog.parameters) if release.catalog else None,
                "originals": [original.sha256 for original in release.originals],
            },
        )
    return Added(release, document.sha256, was_kept=True)


def _keep(tx: Transaction, release: Release, files: Mapping[str, bytes]) -> tuple[Original, ...]:
    """Keep every file; the reader's own word for what a file is, where it gave one."""
    kinds = {original.sha256: original.kind for original in release.originals}
    made = []
    for path, data in files.items():
        original = tx.keep(data, name=path, kind="release file")
        made.append(replace(original, kind=kinds.get(original.sha256, original.kind)))
    return tuple(made)
