"""Hash lists as coreutils writes them, signatures as minisign writes them (recipe in signed/RECIPE.txt)."""

from __future__ import annotations

from pathlib import Path

import pytest

from asflown.errors import InputError
from asflown.formats.image import manifest, minisign

HERE = Path(__file__).parent
SIGNED = HERE / "signed"
LIST = (SIGNED / "SHA256SUMS").read_bytes()
SIGNATURE = (SIGNED / "SHA256SUMS.minisig").read_bytes()
KEY = minisign.read_key((SIGNED / "minisign.pub").read_bytes(), "minisign.pub")


def verified(message: bytes = LIST, signature: bytes = SIGNATURE, key: minisign.Key = KEY) -> object:
    return minisign.verify(message, signature, "s.minisig", key, of="the list", key_from="a file")


def test_minisigns_signatures_hold_in_both_forms():
    made = verified()
    assert (made.holds, made.comment) == (True, "blink 1, invented")
    assert made.key in (SIGNED / "minisign.pub").read_text()
    old = verified((HERE / "blink.bin").read_bytes(), (SIGNED / "blink.bin.minisig").read_bytes())
    assert (old.holds, old.comment) == (True, "old form")


def test_what_was_changed_does_not_hold():
    assert verified(LIST + b" ").why_not == "the list is not what was signed"
    assert verified(signature=SIGNATURE.replace(b"blink 1", b"blink 2")).why_not == "its comment was changed"
    other = minisign.read_key((SIGNED / "other.pub").read_bytes(), "other.pub")
    assert "it was made with the key" in verified(key=other).why_not


@pytest.mark.parametrize("cut", [b"", b"untrusted comment: x\nAAAA\n", SIGNATURE.replace(b"RU", b"!!")])
def test_what_is_no_signature_is_refused(cut):
    with pytest.raises(InputError):
        verified(signature=cut)


@pytest.mark.parametrize("text", [b"", b"x", b"untrusted comment: a\nAAAA\n"])
def test_what_is_no_key_is_refused(text):
    with pytest.raises(InputError, match=r"minisign public key|base64"):
        minisign.read_key(text, "k")


def test_lists_of_hashes():
    assert [name for name, _ in manifest.read(LIST, "l")] == ["blink.hex", "blink.bin"]
    sha = "A" * 64
    assert manifest.read(f"SHA256 (a b.hex) = {sha}\n".encode(), "l") == (("a b.hex", "a" * 64),)
    with pytest.raises(InputError, match="no list of hashes") as caught:
        manifest.read(f"{sha}  a\n{'b' * 64}  a\nwhat\n".encode(), "l")
    assert [str(f) for f in caught.value.faults] == [
        "l:2: a stands twice, with two hashes",
        "l:3: expected a SHA-256, two blanks and a file name",
    ]
    with pytest.raises(InputError, match="no list"):
        manifest.read(b"\n# nothing\n", "l")
