"""A catalog in a file of its own, whichever kind it is: told by what stands in it, its name as a hint."""

from __future__ import annotations

import csv
import re
from dataclasses import replace

from asflown.core.catalog import Catalog
from asflown.core.listing import Listing
from asflown.errors import InputError
from asflown.formats import catalog_factory, catalog_mavlink, catalog_table, listing
from asflown.formats.hand_written import load_json

_XZ = b"\xfd7zXZ\x00"


def read(data: bytes, name: str) -> Catalog:
    """Read a catalog: the open parameter JSON, a JSON list, a table, or a factory-default settings listing.

    Raises
    ------
    InputError
        Empty, binary, or with every fault of the kind it was taken for.
    """
    if not data.strip(b"\xef\xbb\xbf \t\r\n\0"):
        raise InputError("is empty", where=name, next_step="give a catalog or a factory settings listing")
    made = _told(data, name)
    if not made.parameters:
        raise InputError("holds no parameter", where=name, next_step="give a catalog that names some")
    return made


def _told(data: bytes, name: str) -> Catalog:
    if data.startswith(_XZ):
        return catalog_mavlink.read(data, name)
    if _is_json(data):
        return _from_json(data, name)
    return catalog_table.read(data, name) if _is_table(data, name) else from_listing(data, name)


def stated(data: bytes, path: str) -> Catalog:
    """Read a stated catalog by the name it has in a release folder: ``.json``, ``.json.xz``, ``.csv``."""
    if path.endswith(".csv"):
        return catalog_table.read(data, path)
    if path.endswith(".xz") or catalog_mavlink.looks_like(load_json(data, path)):
        return catalog_mavlink.read(data, path)
    return catalog_table.read(data, path)


def from_listing(data: bytes, name: str) -> Catalog:
    """Learn a catalog from a factory listing; lines that were not understood become a remark.

    Raises
    ------
    InputError
        When it holds no setting at all.
    """
    shown = listing_of(data, name)
    learned = catalog_factory.learn(shown)
    if not learned.parameters:
        raise InputError(
            "is no catalog, and no setting is found in it as a listing",
            where=name,
            next_step="see docs/reference/files.md for the catalogs that are read",
        )
    return replace(learned, remarks=tuple(remarks_of(shown, name)))


def listing_of(data: bytes, name: str) -> Listing:
    """Read a factory listing; what is wrong with it is told under its name."""
    try:
        return listing.read(data)
    except InputError as error:
        raise InputError(error.what, where=name, next_step=error.next_step, faults=error.faults) from error


def remarks_of(shown: Listing, name: str) -> list[str]:
    """What was not understood in a factory listing, in words; nothing where all was."""
    if not shown.not_understood:
        return []
    lines = ", ".join(str(item.line) for item in shown.not_understood[:5])
    count = len(shown.not_understood)
    return [f"{name}: {count} {'line' if count == 1 else 'lines'} not understood (line {lines})"]


def _is_json(data: bytes) -> bool:
    return data.lstrip(b"\xef\xbb\xbf \t\r\n")[:1] in (b"[", b"{")


def _from_json(data: bytes, name: str) -> Catalog:
    """JSON: the open standard's object, a list of parameters, or a listing (names and values)."""
    try:
        tree = load_json(data, name)
    except InputError as error:
        if name.endswith(".json"):
            raise
        try:  # a listing may begin with a bracket and be no JSON at all
            return from_listing(data, name)
        except InputError:
            raise error from None
    if catalog_mavlink.looks_like(tree):
        if "version" in tree:
            return catalog_mavlink.read(data, name)
        return catalog_table.read(data, name)
    if isinstance(tree, list) and all(isinstance(item, dict) and "value" not in item for item in tree):
        return catalog_table.read(data, name)
    return from_listing(data, name)


def _is_table(data: bytes, name: str) -> bool:
    """Whether the first line is the head of a table of parameters: it names columns of one, and no values."""
    first = data.decode("utf-8-sig", "replace").lstrip("\r\n").split("\n", 1)[0]
    separator = max(",;\t", key=first.count)
    try:
        cells = [cell.strip().casefold() for cell in next(csv.reader([first], delimiter=separator), [])]
    except csv.Error:
        return False
    if "value" in cells:
        return False
    known = sum(cell in catalog_table.COLUMNS for cell in cells)
    is_called_so = bool(re.search(r"\.(csv|tsv)$", name.casefold()))
    return "name" in cells and (known > 1 or is_called_so or len(cells) == 1)
