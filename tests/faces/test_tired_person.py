"""What a tired person types: each answer says what is wrong and what to do next, with the documented code."""

from __future__ import annotations

import json

import pytest
from desk_files import LISTING

from asflown.demo import scenario


def refused(ran, says, *, code):
    text = " ".join(ran.err.split())
    assert ran.code == code, ran.err
    assert says in text, ran.err
    assert "next: " in ran.err or '"next":' in ran.err
    return text


#: Words typed on a desk with both releases, plover, its record and an open plan; {f} is the desk's folder.
WRONG = [
    ("found {f}/nofile.txt", "no such file or directory", 1),
    ("found {f}", "is a directory", 1),
    ("found {f}/empty.txt", "is empty (0 bytes)", 1),
    ("found {f}/binary.bin", "binary file", 1),
    ("found {f}/before.txt --device vtx", "--set device.vtx.kind=KIND", 1),
    ("found {f}/before.txt --at yesterday", "'yesterday' is no time", 1),
    ("found {f}/before.txt --set-aside 3-x", "'3-x' is no line number", 1),
    ("found {f}/before.txt --against {f}/before.txt", "the same file", 1),
    ("found {f}/before.txt --aircraft plovr", "plover is meant?", 1),
    ("found {f}/before.txt --extent half", "half", 1),
    ("found", "see `asflown found --help`", 1),
    ("plan plovr --to marl-2.0", "plover is meant?", 1),
    ("plan --to marl-3.0", "it goes to marl-2.0, not to marl-3.0", 2),
    ("plan --new-board", "--new-board is missing, or nothing stands behind it", 1),
    ("plan --notes {f}/before.txt", "before.txt", 1),
    ("plan --record plover", "plover is an aircraft; list its records", 1),
    ("plan --show everything", "everything", 1),
    ("decide nosuch --choose keep --why x", "no open group is called 'nosuch'", 1),
    ("decide idle", "no open group is called 'idle'", 1),
    ("decide {g} --choose keep", "say why", 1),
    ("decide {g} --choose nosuch --why x", "is not offered", 1),
    ("decide --choose keep --why x", "which group?", 1),
    ("decide --undo --why x", "there is no decision to take back", 1),
    ("decide {g} --choose keep --undo --why x", "four acts", 1),
    ("write-out", "nothing is written yet", 2),
    ("readback {f}/before.txt", "nothing was written out", 2),
    ("replies {f}/before.txt", "nothing was written out", 2),
    ("sign --name I --role k", "waits for the gate 'read-back'", 2),
    ("sign", "a sign-off needs a name and a role", 1),
    ("not-now", "--why is missing", 1),
    ("gate nosuch passed --why x", "names no gate", 1),
    ("gate baseline-flight perhaps --why x", "perhaps", 1),
    ("compare plover-009 plover-001", "neither a record nor an aircraft", 1),
    ("records show plover", "plover is an aircraft; list its records", 1),
    ("records set-aside plover-001 --lines 3", "not one of the lines not understood", 1),
    ("records say-repeated plover-001 last", "nothing stands more than once", 1),
    ("logbook gull", "there is no aircraft 'gull'", 1),
    ("receive {f}/before.txt", "is no zip file", 1),
    ("receive {f}", "is no hand-over", 1),
    ("handover --out {f}/before.txt", "is there already", 1),
    ("release add {f}", "asflown release add", 1),
    ("release add {f}/before.txt", "is a file, a folder is wanted", 1),
    ("release show marl-9", "there is no release 'marl-9'", 1),
    ("aircraft new plover", "already", 1),
    ("aircraft new Übung", "cannot be an aircraft's short name", 1),
    ("aircraft new gull --set colour=red", "no such fact", 1),
    ("aircraft use gul", "there is no aircraft 'gul'", 1),
    ("listing show {f}/binary.bin", "binary file", 1),
    ("schema nosuch", "there is no schema 'nosuch'", 1),
    ("planm", "'plan' is meant?", 1),
]


@pytest.fixture
def worn(desk):
    desk.ready()
    desk("plan", "--to", "marl-2.0", code=2)
    desk.write("empty.txt", b"")
    desk.write("binary.bin", bytes(range(256)) * 8)
    return desk


def typed(desk, words):
    group = "renumbered.lost.do"
    return [word.replace("{f}", str(desk.folder)).replace("{g}", group) for word in words.split()]


def test_each_wrong_line_is_answered(worn):
    for words, says, code in WRONG:
        refused(worn(*typed(worn, words), code=None), says, code=code)


def test_each_wrong_line_is_answered_in_json_too(worn):
    for words, _, code in WRONG:
        ran = worn(*typed(worn, words), "--json", code=None)
        if words in ("planm", "sign", "found"):
            continue  # the command line itself is not whole
        body = json.loads(ran.err)["error"]
        assert (body["exit_code"], ran.code) == (code, code), words
        assert body["next"], words


@pytest.mark.parametrize("columns", ["40", "20", "400", "nonsense", "0"])
def test_every_sheet_fits_a_narrow_terminal(worn, monkeypatch, columns):
    monkeypatch.setenv("COLUMNS", columns)
    for words in (
        "plan",
        "decide",
        "logbook",
        "records",
        "records show plover-001",
        "aircraft",
        "cards",
        "release",
    ):
        ran = worn(*words.split(), "--plain", code=None)
        assert ran.code in (0, 2)
        assert ran.out.isascii()
        assert "end of sheet" in ran.out
        if columns == "40":
            long = [line for line in ran.out.splitlines() if len(line) > 60]
            assert not long, (words, long[:3])


def test_nothing_on_standard_input_is_said(worn, monkeypatch):
    import io
    import sys
    from types import SimpleNamespace

    monkeypatch.setattr(sys, "stdin", SimpleNamespace(buffer=io.BytesIO(b""), isatty=lambda: False))
    refused(worn("found", "-", code=None), "is empty (0 bytes)", code=1)


# ------------------------------------------------------------------------------- after the end


@pytest.fixture
def signed(desk):
    desk.ready()
    desk("plan", "--to", "marl-2.0", code=2)
    made = desk("decide", "--json", code=2).json
    while made["groups"]:
        group = made["groups"][0]
        option = next(o for o in group["options"] if o != "value")
        made = desk("decide", group["id"], "--choose", option, "--why", "seen", "--json", code=None).json
    desk("write-out", "--out", str(desk.folder / "out"))
    desk("gate", "before-loading", "passed", "--why", "log opens, image kept", code=None)
    left = {}
    for line in desk("plan", "--json", code=None).json["lines"]:
        left.update(zip(line["new"], line["to_be_left"], strict=True))
    desk.write("after.txt", "".join(f"{name} = {value}\n" for name, value in left.items()))
    desk("readback", str(desk.folder / "after.txt"), "--extent", "full")
    desk("sign", "--name", "Ines", "--role", "keeper")
    return desk


def test_after_a_sign_off_every_act_says_that_it_has_ended(signed):
    for words in (
        "sign --name I --role k",
        "decide",
        "decide x --choose keep --why y",
        "write-out",
        "readback {f}/after.txt",
        "replies {f}/after.txt",
        "not-now --why x",
    ):
        text = refused(signed(*typed(signed, words), code=None), "plover-r1, has ended (signed off)", code=2)
        assert "asflown back plover" in text
    assert signed("back", code=None).code == 0  # going back stays open after a sign-off


def test_write_out_never_writes_over_a_folder(signed):
    assert "is there already" in signed("back", "--out", str(signed.folder / "out"), code=1).err


def test_another_aircrafts_listing_is_noticed(signed):
    signed("aircraft", "new", "gull", "--set", "title=Gull", "board=brant-h7", "release=marl-1.0")
    ran = signed("found", str(signed.folder / "before.txt"), "--aircraft", "gull")
    assert "byte for byte the listing of plover-001" in " ".join(ran.out.split())
    twin = signed.write("twin.txt", LISTING + "\n")
    signed("found", twin, "--aircraft", "gull")
    back = signed("back", "plover", "--readback", twin, "--extent", "full", code=None)
    assert "another aircraft's record" in " ".join(back.out.split())


def test_a_file_of_another_release_is_noticed(worn):
    ran = worn("found", worn.write("other.txt", scenario.found_listing()), "--extent", "full", code=None)
    assert "names are not in the catalog of marl-1.0" in " ".join(ran.out.split())
