"""A catalog by one word: a file of any kind that is read, a release folder, or a release that is kept."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, replace

from asflown.app.needs import Bring, Brought, Store
from asflown.core.catalog import Catalog, ParameterDef, Release
from asflown.errors import InputError, UsageError

#: Read beside a catalog that is called as in a release folder: what it has no room for, and which release.
BESIDE = ("overlay.toml", "release.toml")


@dataclass(frozen=True)
class Given:
    """A catalog somebody gave.

    Attributes
    ----------
    name
        As it was given.
    release
        Which release it is of; ``None`` where nothing says it.
    is_guessed
        Whether that is taken from the name of a file or folder alone.
    """

    name: str
    catalog: Catalog
    release: str | None = None
    is_guessed: bool = False
    remarks: tuple[str, ...] = ()


def both(old: str, new: str, bring: Bring, store: Callable[[], Store | None]) -> tuple[Given, Given]:
    """Two catalogs (see :func:`given`); standard input can be only one of them."""
    refuse_input_twice(old, new)
    return given(old, bring, store), given(new, bring, store)


def refuse_input_twice(*words: str | None) -> None:
    """Refuse two words that both mean standard input.

    Raises
    ------
    UsageError
        Standard input can be read once.
    """
    if sum(word in ("-", "<standard input>") for word in words if word is not None) > 1:
        raise UsageError("standard input can be read only once", next_step="give one of them as a file")


def given(word: str, bring: Bring, store: Callable[[], Store | None]) -> Given:
    """The catalog a word names.

    Parameters
    ----------
    word
        A file, a release folder, ``-``; where nothing of that name is there, the id of a release kept.
    store
        Opens the store where there is one; never makes it.

    Raises
    ------
    InputError
        When it cannot be read, or is nowhere.
    """
    brought = bring(word, BESIDE)
    made = _kept(word, store) if brought is None else _read(brought)
    return replace(made, catalog=_at_factory(made.catalog))


def _read(brought: Brought) -> Given:
    from asflown.formats import catalog_file, release_folder

    name = next(iter(brought.files), "")
    if brought.is_folder or name in release_folder.CATALOGS:
        try:
            release = release_folder.catalog_of(brought.files, brought.folder or brought.name)
        except InputError as error:
            what = f"{len(error.faults)} to correct" if error.faults else error.what
            step = "correct the files" if error.faults else error.next_step
            raise InputError(what, where=brought.name, faults=error.faults, next_step=step) from error
        catalog, is_guessed = _catalog(release, brought.name), "release.toml" not in brought.files
        remarks = release.remarks if brought.is_folder else catalog.remarks
        return Given(brought.name, catalog, release.id, is_guessed, remarks)
    catalog = catalog_file.read(brought.files[name], brought.name)
    is_file = brought.folder is not None
    return Given(brought.name, catalog, _stem(name) if is_file else None, is_file, catalog.remarks)


def _catalog(release: Release, name: str) -> Catalog:
    if release.catalog is None or not release.catalog.parameters:
        raise InputError(
            "states no catalog: neither a catalog nor a factory listing is in it",
            where=name,
            next_step="see docs/reference/files.md for what a release's files are called",
        )
    return release.catalog


def _kept(word: str, store: Callable[[], Store | None]) -> Given:
    from asflown.app import kept

    opened = store() if re.fullmatch(r"[a-z0-9][a-z0-9._-]{0,79}", word) else None
    found = kept.release_with_document(opened, word) if opened is not None else None
    if found is not None:
        return Given(word, _catalog(found[0], word), word)
    known = [document.id for document in opened.documents("release")] if opened is not None else []
    says = f"; kept are: {', '.join(known)}" if known else ""
    raise InputError(
        f"no such file or folder, and no release of that name is kept{says}",
        where=word,
        next_step="check the name; give a catalog, a release folder, or - to read standard input",
    )


def _stem(name: str) -> str:
    """A release's identifier made of a file's name."""
    stem = re.sub(r"(\.(json|csv|tsv|txt|xz|toml|log))+$", "", name.casefold())
    return re.sub(r"[^a-z0-9._]+", "-", stem).strip("-._")[:80] or "release"


def _at_factory(catalog: Catalog) -> Catalog:
    """The catalog with the values of its factory listing in place of stated defaults: the board is right."""
    if not catalog.factory:
        return catalog
    return replace(catalog, parameters=tuple(_with_value(catalog, item) for item in catalog.parameters))


def _with_value(catalog: Catalog, item: ParameterDef) -> ParameterDef:
    values = {catalog.factory_values[key] for key in item.keys() if key in catalog.factory_values}
    return replace(item, default=values.pop()) if len(values) == 1 else item


def sizes(old: Given, new: Given) -> str:
    """What is being matched, for the line shown while it takes time."""
    return f"matching {len(old.catalog.parameters)} names with {len(new.catalog.parameters)}"
