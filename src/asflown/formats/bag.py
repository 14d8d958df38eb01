"""BagIt folders (RFC 8493): files with a manifest, so that any machine can check that nothing changed.

A bag is a mapping from path to bytes here; adapters make folders and zips of it.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable, Mapping

from asflown.errors import Damaged, Fault, InputError

#: RFC 8493 section 2.1.1: the bag declaration, exactly two lines.
DECLARATION = b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"
MANIFEST = "manifest-sha256.txt"
TAG_MANIFEST = "tagmanifest-sha256.txt"
INFO = "bag-info.txt"
PAYLOAD = "data/"

_DIGEST = re.compile(r"[0-9a-f]{64}")


def make(payload: Mapping[str, bytes], info: Mapping[str, str]) -> dict[str, bytes]:
    """Make a bag.

    Parameters
    ----------
    payload
        Bytes by path relative to ``data/``.
    info
        Metadata labels and values for ``bag-info.txt`` (RFC 8493 section 2.2.2); Payload-Oxum is added.

    Returns
    -------
    dict
        Every file of the bag by its path.
    """
    files = {PAYLOAD + path: data for path, data in sorted(payload.items())}
    octets = sum(map(len, payload.values()))
    lines = {**info, "Payload-Oxum": f"{octets}.{len(payload)}"}
    tags = {
        "bagit.txt": DECLARATION,
        INFO: "".join(f"{label}: {' '.join(text.split())}\n" for label, text in lines.items()).encode(),
        MANIFEST: _manifest(files),
    }
    return {**tags, TAG_MANIFEST: _manifest(tags), **files}


def _manifest(files: Mapping[str, bytes]) -> bytes:
    return "".join(
        f"{hashlib.sha256(data).hexdigest()}  {_encoded(path)}\n" for path, data in files.items()
    ).encode()


def _encoded(path: str) -> str:
    """RFC 8493 section 2.1.3: LF, CR and % in a path are percent-encoded."""
    return path.replace("%", "%25").replace("\n", "%0A").replace("\r", "%0D")


def _decoded(path: str) -> str:
    for code, character in (("%0A", "\n"), ("%0a", "\n"), ("%0D", "\r"), ("%0d", "\r")):
        path = path.replace(code, character)
    return path.replace("%25", "%")


def check(files: Mapping[str, bytes], name: str) -> dict[str, bytes]:
    """Check a bag and give its payload.

    Returns
    -------
    dict
        Bytes by path relative to ``data/``.

    Raises
    ------
    Damaged
        Naming every file that is missing, changed or not named by a manifest.
    """
    if not any(path in files for path in ("bagit.txt", "manifest-sha256.txt", "tagmanifest-sha256.txt")):
        raise InputError(
            "is no hand-over: there is no bagit.txt and no manifest in it",
            where=name,
            next_step="give a folder or zip that asflown handover made",
        )
    faults = [*_declaration(files), *_listed(files), *_counted(files)]
    if faults:
        raise Damaged(
            "is no whole bag (RFC 8493)",
            where=name,
            faults=tuple(faults[:50]),
            next_step="ask for it again; nothing was taken in",
        )
    return {path[len(PAYLOAD) :]: data for path, data in files.items() if path.startswith(PAYLOAD)}


def _declaration(files: Mapping[str, bytes]) -> Iterable[Fault]:
    said = files.get("bagit.txt")
    if said is None:
        yield Fault("is missing", "bagit.txt")
    elif not said.replace(b"\r\n", b"\n").startswith(
        b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8"
    ):
        yield Fault("does not declare BagIt 1.0 in UTF-8", "bagit.txt")
    for manifest in (MANIFEST, TAG_MANIFEST):
        if manifest not in files:
            yield Fault("is missing", manifest)


def _listed(files: Mapping[str, bytes]) -> Iterable[Fault]:
    named: set[str] = {TAG_MANIFEST}
    for manifest in (MANIFEST, TAG_MANIFEST):
        for path, wanted in _entries(files.get(manifest, b"")):
            if not _DIGEST.fullmatch(wanted) or not path:
                yield Fault("a line is no SHA-256 with a path", manifest)
                continue
            if not is_safe(path):
                yield Fault("leads out of the bag", path)
                continue
            named.add(path)
            data = files.get(path)
            if data is None:
                yield Fault("is named by the manifest and missing", path)
            elif hashlib.sha256(data).hexdigest() != wanted:
                yield Fault("was changed after the bag was made", path)
    for path in files:
        if path not in named:
            yield Fault("is not named by a manifest", path)


def _counted(files: Mapping[str, bytes]) -> Iterable[Fault]:
    """Payload-Oxum, where ``bag-info.txt`` states it: octets and files of the payload."""
    payload = [data for path, data in files.items() if path.startswith(PAYLOAD)]
    counted = f"{sum(map(len, payload))}.{len(payload)}"
    for line in files.get(INFO, b"").decode("utf-8", "replace").splitlines():
        label, _, said = line.partition(":")
        if label.casefold() == "payload-oxum" and said.strip() != counted:
            yield Fault(f"states {said.strip()} (octets.files), there are {counted}", f"{INFO} Payload-Oxum")


def _entries(manifest: bytes) -> Iterable[tuple[str, str]]:
    for line in manifest.decode("utf-8", "replace").replace("\r\n", "\n").split("\n"):
        digest, _, path = line.partition(" ")
        if line.strip():
            yield _decoded(path.lstrip(" ").removeprefix("*")), digest.lower()


def is_safe(path: str) -> bool:
    """Whether a path stays inside the bag (RFC 8493 section 5.1) and names one file in one way."""
    parts = path.replace("\\", "/").split("/")
    odd = {"", ".", ".."} & set(parts)
    return not odd and not path.startswith("~") and ":" not in parts[0] and "\0" not in path
