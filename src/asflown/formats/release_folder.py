"""A release as a folder of files; each may be missing and is then not stated."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from typing import Any

from asflown.core.catalog import (
    Catalog,
    ChangeNotes,
    DeviceNeed,
    ImageWord,
    Release,
)
from asflown.core.record import Original
from asflown.errors import Fault, InputError
from asflown.formats import catalog_factory, catalog_file, control_toml, notes, overlay
from asflown.formats.functions_toml import functions_of
from asflown.formats.hand_written import checked, load_toml, toml_lines
from asflown.formats.image import manifest

#: What a release's stated catalog is called; one of them.
CATALOGS = ("catalog.json", "catalog.json.xz", "catalog.csv")
_KINDS = {
    "release.toml": "release",
    "overlay.toml": "overlay",
    "notes.toml": "notes",
    "functions.toml": "functions",
    "image_words.toml": "image words",
    "devices.toml": "device needs",
    "control.toml": "control structure",
    "SHA256SUMS": "manifest",
    "SHA256SUMS.minisig": "signature",
    "minisign.pub": "signing key",
    **dict.fromkeys(CATALOGS, "catalog"),
}


def read(files: Mapping[str, bytes], name: str) -> Release:
    """Read a release folder.

    Parameters
    ----------
    files
        Bytes by path relative to the folder, ``/`` between parts.
    name
        The folder's name; says the release where ``release.toml`` does not.

    Raises
    ------
    InputError
        Naming every fault of every file.
    """
    return _Folder(files, name).release()


def catalog_of(files: Mapping[str, bytes], name: str) -> Release:
    """Read of a release folder its identity and its catalog alone, faults of its other files aside."""
    wanted = {path: data for path, data in files.items() if _speaks_of_catalog(path.strip("/"))}
    return read(wanted or files, name)


def _speaks_of_catalog(path: str) -> bool:
    return path == "release.toml" or _kind(path) in ("catalog", "overlay", "factory listing")


class _Folder:
    """Reads file after file, collecting faults until all are read."""

    def __init__(self, files: Mapping[str, bytes], name: str) -> None:
        self.files = {path.strip("/"): data for path, data in files.items() if not _is_hidden(path)}
        self.name = name.rstrip("/").rpartition("/")[2] or name
        self.faults: list[Fault] = []
        self.remarks: list[str] = []

    def release(self) -> Release:
        if not self.files:
            raise InputError("holds no file", where=self.name, next_step="see docs/reference/files.md")
        if len(set(self._unknown())) == len(self.files):
            raise self._no_release()
        identity = self._identity()
        catalog = self._tried("catalog", self._catalog)
        declared = self._declared()
        functions = self._table("functions.toml", functions_of)
        self._hashes()
        made = replace(
            identity,
            catalog=catalog,
            notes=self._notes(),
            functions=functions.functions if functions else None,
            base_flash=functions.base if functions else None,
            protocols=functions.protocols if functions else None,
            image_words=self._table("image_words.toml", _words),
            device_needs=self._table("devices.toml", _needs),
            control=declared.control or None,
            stick=declared.stick or None,
            images=self._images(),
            originals=tuple(self._original(path) for path in sorted(self.files)),
        )
        if catalog is not None:
            self.remarks += catalog.remarks
        self.remarks += [f"{path} is not read: no file of a release" for path in self._unknown()]
        if self.faults:
            raise InputError(
                f"{len(self.faults)} thing{'s' if len(self.faults) > 1 else ''} to correct"
                " before the release can be kept",
                where=self.name,
                faults=tuple(self.faults),
                next_step="correct the files and add the folder again",
            )
        return replace(made, remarks=tuple(self.remarks))

    def _no_release(self) -> InputError:
        """A folder with nothing of a release in it; often the one above several releases was meant."""
        below = sorted(
            {path.split("/")[0] for path in self.files if path.count("/") and "release.toml" in path}
        )
        step = "see docs/reference/files.md for what a release's files are called"
        if below:
            step = f"it holds folders of releases; add each: asflown release add {self.name}/{below[0]}"
        return InputError(
            f"none of its {len(self.files)} files is a file of a release", where=self.name, next_step=step
        )

    def _tried(self, path: str, make: Callable[[], Any]) -> Any:
        try:
            return make()
        except InputError as error:
            self.faults += error.faults or (Fault(error.what, error.where or path),)
            return None

    def _table(self, path: str, make: Callable[[dict[str, Any], str, bytes], Any]) -> Any:
        data = self.files.get(path)
        if data is None:
            return None
        return self._tried(path, lambda: make(load_toml(data, path), path, data))

    def _identity(self) -> Release:
        data = self.files.get("release.toml")
        guess = _guessed(self.name)
        if data is None:
            self.remarks.append(f"release.toml is missing; taken from the folder's name: {guess.id}")
            return guess
        made = self._tried("release.toml", lambda: _stated(data))
        return made or guess

    def _catalog(self) -> Catalog | None:
        paths = [path for path in CATALOGS if path in self.files]
        if len(paths) > 1:
            raise InputError(f"more than one catalog: {', '.join(paths)}", where=self.name)
        catalog = catalog_file.stated(self.files[paths[0]], paths[0]) if paths else None
        factory = [path for path in self.files if re.fullmatch(r"factory(\.[A-Za-z0-9]+)?", path)]
        if len(factory) > 1:
            raise InputError(f"more than one factory listing: {', '.join(factory)}", where=self.name)
        if factory:
            catalog = self._with_listing(catalog, factory[0])
        if "overlay.toml" in self.files:
            if catalog is None:
                raise InputError("there is no catalog it could be laid over", where="overlay.toml")
            catalog = overlay.apply(self.files["overlay.toml"], "overlay.toml", catalog)
        return catalog

    def _with_listing(self, catalog: Catalog | None, path: str) -> Catalog:
        shown = catalog_file.listing_of(self.files[path], path)
        self.remarks += catalog_file.remarks_of(shown, path)
        learned = catalog_factory.learn(shown)
        return learned if catalog is None else catalog_factory.with_factory(catalog, learned)

    def _notes(self) -> tuple[ChangeNotes, ...] | None:
        paths = [p for p in sorted(self.files) if p == "notes.toml" or re.fullmatch(r"notes/[^/]+\.toml", p)]
        read = [self._tried(path, lambda p=path: self._one_notes(p)) for path in paths]  # type: ignore[misc]
        return tuple(item for item in read if item is not None) if paths else None

    def _one_notes(self, path: str) -> ChangeNotes:
        return replace(notes.read(self.files[path], path), original=self._original(path))

    def _declared(self) -> control_toml.Declaration:
        data = self.files.get("control.toml")
        read = None if data is None else self._tried("control.toml", lambda: control_toml.read(data))
        return read or control_toml.Declaration()

    def _images(self) -> tuple[Original, ...] | None:
        paths = [path for path in sorted(self.files) if path.startswith("images/")]
        return tuple(self._original(path) for path in paths) if paths else None

    def _hashes(self) -> None:
        """Look at the list of hashes, and lay it beside the images that came with it."""
        data = self.files.get("SHA256SUMS")
        listed = self._tried("SHA256SUMS", lambda: manifest.read(data, "SHA256SUMS")) if data else None
        for path, sha256 in listed or ():
            there = next((p for p in self.files if p in (path, f"images/{path}")), None)
            if there is not None and self._original(there).sha256 != sha256:
                self.faults.append(Fault("is not the file the list of hashes names", there))

    def _original(self, path: str) -> Original:
        data = self.files[path]
        return Original(hashlib.sha256(data).hexdigest(), len(data), path, _kind(path))

    def _unknown(self) -> Iterator[str]:
        for path in sorted(self.files):
            if _kind(path) == "release file":
                yield path


def _kind(path: str) -> str:
    if path in _KINDS:
        return _KINDS[path]
    if path.startswith("notes/") and path.endswith(".toml"):
        return "notes"
    if path.startswith("images/"):
        return "image"
    return "factory listing" if re.fullmatch(r"factory(\.[A-Za-z0-9]+)?", path) else "release file"


def _is_hidden(path: str) -> bool:
    return any(part.startswith(".") for part in path.split("/"))


def _slug(text: str) -> str:
    return re.sub(r"[^a-z0-9._]+", "-", text.casefold()).strip("-._") or "release"


def _guessed(name: str) -> Release:
    slug = _slug(name)
    firmware, _, version = slug.rpartition("-")
    return Release(id=slug, firmware=firmware or slug, version=version)


def _stated(data: bytes) -> Release:
    from asflown.formats.schemas import ReleaseFile

    written = checked(ReleaseFile, load_toml(data, "release.toml"), "release.toml", toml_lines(data))
    return Release(
        id=written.id or _slug(f"{written.firmware}-{written.version}"),
        firmware=written.firmware,
        version=written.version,
        boards=tuple(written.boards) if written.boards is not None else None,
    )


def _words(tree: dict[str, Any], path: str, data: bytes) -> tuple[ImageWord, ...]:
    from asflown.formats.schemas import ImageWordsFile

    written = checked(ImageWordsFile, tree, path, toml_lines(data))
    return tuple(ImageWord(word.kind, word.offset, word.value) for word in written.word)


def _needs(tree: dict[str, Any], path: str, data: bytes) -> tuple[DeviceNeed, ...]:
    from asflown.formats.schemas import DevicesFile

    written = checked(DevicesFile, tree, path, toml_lines(data))
    return tuple(DeviceNeed(n.device, n.statement, n.consequence, n.least_version) for n in written.need)


def stated(release: Release) -> tuple[tuple[str, str], ...]:
    """What a release states, room by room: how much, or ``not stated``."""

    def count(items: tuple[object, ...] | None, word: str) -> str:
        return "not stated" if items is None else f"{len(items)} {word}"

    catalog = release.catalog
    parameters = catalog.parameters if catalog else ()
    known = sum(item.consequence.value != "unknown" for item in parameters)
    return (
        ("catalog", f"{len(parameters)} parameters, {catalog.source}" if catalog else "not stated"),
        (
            "factory listing",
            f"{len(catalog.factory)} values" if catalog and catalog.factory else "not stated",
        ),
        ("consequences", f"{known} of {len(parameters)} parameters" if known else "not stated"),
        ("change notes", count(release.notes, "files")),
        ("optional functions", count(release.functions, "functions")),
        ("protocols", count(release.protocols, "protocols")),
        ("needs of fitted devices", count(release.device_needs, "statements")),
        ("boards", count(release.boards, "boards")),
        ("image words", count(release.image_words, "words")),
        ("images", count(release.images, "files")),
        ("control structure", ", ".join(release.control) if release.control else "not stated"),
        ("stick shape", ", ".join(release.stick) if release.stick else "not stated"),
    )
