"""Signatures in the minisign form: ed25519, checked by ``cryptography``.

Public key: an untrusted comment line, then base64 of ``Ed``, key identifier (8), key (32). Signature: an
untrusted comment line, base64 of ``Ed`` or ``ED``, key identifier (8), signature (64); a trusted comment
line; base64 of the signature over the first signature and the trusted comment. With ``ED`` the BLAKE2b-512
of the file is signed, with ``Ed`` the file itself. (The form's published description.)
"""

from __future__ import annotations

import base64
import binascii
import hashlib
from dataclasses import dataclass

from asflown.core.image.origin import Signed
from asflown.formats.hand_written import text_of
from asflown.formats.image.parts import refused

_TRUSTED = "trusted comment: "


@dataclass(frozen=True, slots=True)
class Key:
    """A public key and its identifier."""

    identifier: bytes
    key: bytes

    @property
    def shown(self) -> str:
        """The identifier as it is printed: the bytes as one number, in capitals."""
        return f"{int.from_bytes(self.identifier, 'little'):016X}"


def read_key(data: bytes, name: str) -> Key:
    """Read a public key: the file of two lines, or its second line alone.

    Raises
    ------
    InputError
        When it is none.
    """
    lines = [line for line in text_of(data, name).splitlines() if line.strip()]
    raw = _decoded(lines[-1] if lines else "", name)
    if len(lines) > 2 or len(raw) != 42 or raw[:2] != b"Ed":
        raise refused("is no minisign public key", name, "give the maker's .pub file")
    return Key(raw[2:10], raw[10:])


def _decoded(line: str, name: str) -> bytes:
    try:
        return base64.b64decode(line.strip(), validate=True)
    except (binascii.Error, ValueError):
        raise refused("holds a line that should be base64 and is not", name, "fetch the file again") from None


def verify(message: bytes, signature: bytes, name: str, key: Key, *, of: str, key_from: str) -> Signed:
    """Check a signature over a message.

    Raises
    ------
    InputError
        When the signature file has not the form of one; one that does not hold is a result.
    """
    lines = text_of(signature, name).splitlines()
    if len(lines) < 4 or not lines[2].startswith(_TRUSTED):
        raise refused("is no minisign signature: four lines are expected", name, "fetch the .minisig again")
    raw, overall = _decoded(lines[1], name), _decoded(lines[3], name)
    if len(raw) != 74 or raw[:2] not in (b"Ed", b"ED") or len(overall) != 64:
        raise refused("is no minisign signature of a known kind", name, "fetch the .minisig again")
    comment = lines[2].removeprefix(_TRUSTED)

    def result(why_not: str = "") -> Signed:
        return Signed(not why_not, of, key.shown, key_from, "" if why_not else comment, why_not)

    if raw[2:10] != key.identifier:
        made_by = Key(raw[2:10], b"").shown
        return result(f"it was made with the key {made_by}, the key given is {key.shown}")
    signed = hashlib.blake2b(message).digest() if raw[:2] == b"ED" else message
    if not _holds(key.key, raw[10:], signed):
        return result(f"{of} is not what was signed")
    if not _holds(key.key, overall, raw[10:] + comment.encode()):
        return result("its comment was changed")
    return result()


def _holds(key: bytes, signature: bytes, message: bytes) -> bool:
    from cryptography.exceptions import InvalidSignature
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

    try:
        Ed25519PublicKey.from_public_bytes(key).verify(signature, message)
    except InvalidSignature:
        return False
    return True
