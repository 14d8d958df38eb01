"""An aircraft's own description of its parameters: read over MAVLink FTP, checked, and kept as a release."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from asflown.app.link.talk import Aircraft, Talk
from asflown.app.needs import Links
from asflown.app.releases import Added, add_release
from asflown.app.workplace import Workplace
from asflown.core.link.values import FTP_BIT
from asflown.errors import Damaged, NeedsPerson, UsageError
from asflown.formats import component_metadata
from asflown.formats.release_folder import CATALOGS

#: How often a file is read whose CRC is not the stated one.
READINGS = 3


@dataclass(frozen=True, slots=True)
class FileRead:
    """A file of the aircraft.

    Attributes
    ----------
    checked
        Form of the CRC that it has; empty where none was stated.
    """

    path: str
    data: bytes
    checked: str


@dataclass(frozen=True)
class AddedOver:
    """A release whose catalog an aircraft stated itself."""

    added: Added
    aircraft: Aircraft
    files: tuple[FileRead, ...]


def release_over(
    work: Workplace,
    links: Links,
    address: str,
    name: str,
    files: Mapping[str, bytes],
    system: int | None = None,
) -> AddedOver:
    """Bring in a release with the catalog that an aircraft states itself.

    Parameters
    ----------
    name
        The release, or the folder of its other files.
    files
        Its other files by path: overlay, notes, functions; none of them a catalog.

    Raises
    ------
    UsageError
        When there is a catalog among the files.
    NeedsPerson
        When the aircraft states no description, or states it elsewhere: nothing is fetched from elsewhere.
    Damaged
        When a file's CRC is not the stated one, however often it is read.
    DeviceError
        When the link is gone, or a file does not come.
    InputError
        When a file is not as the standard has it.
    """
    there = [path for path in files if path.strip("/") in CATALOGS]
    if there:
        raise UsageError(
            f"{name} has a catalog already ({there[0]})",
            next_step="leave out --link, or take that file out of the folder",
        )
    with Talk(links, address, system) as talk:
        aircraft = talk.greet()
        general, parameters = described(talk, aircraft)
    packed = parameters.data.startswith(b"\xfd7zXZ\x00")
    catalog = {"catalog.json.xz" if packed else "catalog.json": parameters.data}
    added = add_release(work, {**files, **catalog}, name)
    return AddedOver(added, aircraft, (general, parameters))


def described(talk: Talk, aircraft: Aircraft) -> tuple[FileRead, FileRead]:
    """The general file and the parameters' file of an aircraft, each checked.

    Raises
    ------
    NeedsPerson, Damaged, DeviceError, InputError
        As for `release_over`.
    """
    place = talk.metadata_at() if aircraft.version.capabilities & FTP_BIT else None
    if place is None:
        raise NeedsPerson(
            "the aircraft does not describe its parameters itself",
            next_step="take the catalog from the release's maker, or a factory listing:"
            " asflown release add FOLDER",
        )
    general = _file(talk, place.uri, place.crc or None)
    found = component_metadata.parameters_at(general.data, general.path)
    if found is None:
        raise NeedsPerson(
            f"{general.path} on the aircraft says nothing of its parameters",
            next_step="take the catalog from the release's maker: asflown release add FOLDER",
        )
    return general, _file(talk, found.uri, found.crc)


def _file(talk: Talk, uri: str, crc: int | None) -> FileRead:
    path = component_metadata.path_of(uri)
    if path is None:
        raise NeedsPerson(
            f"the aircraft says that its description lies elsewhere: {uri}",
            next_step="asflown fetches nothing from elsewhere: get the file yourself, then:"
            " asflown release add FOLDER",
        )
    for _ in range(READINGS):
        data = talk.read_file(path)
        form = component_metadata.form_of(data, crc) if crc is not None else ""
        if form is not None:
            return FileRead(path, data, form)
    raise Damaged(
        f"{path}: its CRC-32 is not the one the aircraft states ({crc:08x}), read {READINGS} times",
        next_step="load the firmware's image again, or take the catalog from the release's maker",
    )
