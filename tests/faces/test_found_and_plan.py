"""found, records, plan, decide, not-now, compare, logbook through the command line."""

from __future__ import annotations

import pytest

LISTING = """\
lost.wait = 1.5
lost.do = 2
idle.speed = 0.05
tilt.max = 50
lamp.on = 1
lamp.hue = 120
beep.low = 10.8
old.toy = 4
"""


def by_name(plan):
    return {name: line for line in plan["lines"] for name in (line["old"] or line["new"])}


# ------------------------------------------------------------------------------------ found


def test_found_keeps_the_settings_and_the_bytes(desk):
    desk.releases()
    desk.plover()
    body = desk("found", desk.write("before.txt", LISTING), "--json").json
    assert body["id"] == "plover-001"
    assert (body["found"], body["extent"], body["lossless"]) == (8, "full", True)
    assert (body["release"], body["board"]) == ("marl-1.0", "brant-h7")
    assert body["settings"][0] == {
        "name": "lost.wait",
        "bank": None,
        "index": None,
        "value": "1.5",
        "unit": None,
        "line": 1,
    }
    import hashlib

    assert body["originals"][0]["sha256"] == hashlib.sha256(LISTING.encode()).hexdigest()
    assert [r["id"] for r in desk("records", "--json").json["records"]] == ["plover-001"]
    assert desk("records", "show", "plover-001", "--json").json["settings"] == body["settings"]


def test_found_reads_standard_input(desk, monkeypatch):
    import io
    import sys
    from types import SimpleNamespace

    desk.plover()
    monkeypatch.setattr(
        sys, "stdin", SimpleNamespace(buffer=io.BytesIO(LISTING.encode()), isatty=lambda: False)
    )
    body = desk("found", "-", "--json", "--extent", "full").json
    assert body["originals"][0]["name"] == "standard-input.txt"


def test_a_second_reading_that_differs_keeps_nothing(desk):
    desk.releases()
    desk.plover()
    first = desk.write("a.txt", LISTING)
    second = desk.write("b.txt", LISTING.replace("50", "51"))
    refused = desk("found", first, "--against", second, code=2)
    assert "tilt.max: 50 first, 51 second" in refused.err
    assert desk("records", "--json").json["records"] == []
    kept = desk("found", first, "--against", second, "--keep-anyway", "a loose plug", "--json").json
    assert "kept because: a loose plug" in kept["remarks"][0]
    agreed = desk("found", first, "--against", desk.write("c.txt", LISTING), "--json").json
    assert agreed["second_reading"] == {"same": 8, "differs": []}
    assert len(agreed["originals"]) == 2
    assert "same file" in desk("found", first, "--against", first, code=1).err


def test_a_second_reading_that_agrees_passes_its_gate(desk):
    desk.releases()
    desk.plover()
    desk("found", desk.write("a.txt", LISTING), "--against", desk.write("c.txt", LISTING))
    desk("plan", "--to", "marl-2.0", code=2)
    from asflown.app import kept
    from asflown.faces.wiring import workplace

    refit = kept.open_refit(workplace(desk.store).store, "plover").refit
    assert refit.gates["second reading"].answer == "passed"


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "empty"),
        (b"\x00\x01\x02" * 400, "nul"),
    ],
)
def test_what_is_no_listing_is_refused(desk, text, says):
    desk.plover()
    refused = desk("found", desk.write("x.bin", text), code=1)
    assert "x.bin" in refused.err
    assert says in refused.err.lower() or "binary" in refused.err.lower()
    assert desk("records", "--json").json["records"] == []


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--device", "esc"), "has no device 'esc'"),
        (("--at", "yesterday"), "'yesterday' is no time"),
        (("--set-aside", "x"), "no line number"),
        (("--aircraft", "gull"), "there is no aircraft 'gull'"),
        (("--extent", "half"), "half"),
    ],
)
def test_found_refuses_what_makes_no_sense(desk, words, says):
    desk.plover()
    assert says in desk.found(LISTING, *words, code=1).err


def test_a_file_that_is_not_there(desk):
    desk.plover()
    assert "no such file" in desk("found", str(desk.folder / "nope.txt"), code=1).err
    assert "directory" in desk("found", str(desk.folder), code=1).err


def test_extent_unknown_needs_a_word(desk):
    desk.plover()
    taken = desk.found(code=2)
    assert "not stated whether the listing shows every setting" in taken.err + taken.out
    assert desk("records", "say-extent", "plover-001", "full", "--json").json["extent"] == "full"


def test_lines_not_understood_block_until_a_person_says_what_they_are(desk):
    desk.releases()
    desk.plover()
    text = LISTING + "\nhave a nice day everybody\n"
    taken = desk.found(text, "--json", code=2)
    lines = [u["line"] for u in taken.json["not_understood"]]
    assert lines == [10]
    plan = desk("plan", "--to", "marl-2.0", "--json", code=2).json
    assert any(finding["blocks"] for finding in plan["findings"])
    assert "is not one of the lines" in desk("records", "set-aside", "plover-001", "--lines", "3", code=1).err
    desk("records", "set-aside", "plover-001", "--lines", "10", "--as", "a greeting")
    plan = desk("plan", "--json", code=2).json
    assert not any(finding["blocks"] for finding in plan["findings"])
    desk.found(text, "--set-aside", "all")


def test_a_device_has_records_of_its_own(desk):
    desk.plover()
    desk("aircraft", "edit", "--set", "device.esc.kind=speed controller")
    body = desk.found(
        "timing = 12\nbeep = 3\nramp = 40\n", "--device", "esc", "--extent", "full", "--json"
    ).json
    assert (body["device"], body["release"]) == ("esc", None)
    assert "no record of plover (board)" in desk("plan", "--to", "marl-2.0", code=1).err


# ------------------------------------------------------------------------------------ plan


def test_plan_accounts_for_everything(desk):
    desk.ready()
    plan = desk("plan", "--to", "marl-2.0", "--json", code=2).json
    account = plan["account"]
    assert account["found"] == 8
    assert account["adds_up"] is True
    assert account["found"] == sum(account[k] for k in ("kept", "converted", "gone", "redo", "to_decide"))
    lines = by_name(plan)
    assert lines["lost.wait"]["disposition"] == "convert"
    assert float(lines["lost.wait"]["to_be_left"][0]) == 1500
    assert (lines["lamp.on"]["disposition"], lines["lamp.on"]["new"]) == ("rename", ["lights.on"])
    assert lines["old.toy"]["disposition"] == "retire"
    for risky in ("lost.do", "idle.speed", "tilt.max", "brake.hold"):
        assert lines[risky]["disposition"] == "decide", risky
        assert lines[risky]["to_be_left"] in ([], [None]), risky
    assert plan["decisions_asked"] == len(plan["groups"]) > 0
    assert plan["groups"][0]["consequence"] == "safety"
    assert plan["refit"] == "plover-r1"
    names = [item["name"] for item in plan["inputs"]]
    assert names == [
        "record plover-001",
        "release marl-1.0",
        "release marl-2.0",
        "aircraft plover",
        "decisions",
    ]
    assert len(plan["digest"]) == 64


def test_the_sheet_says_what_the_json_says(desk):
    desk.ready()
    sheet = desk("plan", "--to", "marl-2.0", code=2).out
    body = desk("plan", "--json", code=2).json
    assert body["account"]["text"].split("   + ")[0] in sheet
    assert sheet.rstrip().endswith("end of sheet")
    assert f"{body['decisions_asked']} decisions" in sheet
    for group in body["groups"]:
        assert f"? {group['id'][:15]}" in sheet
    plain = desk("plan", "--plain", "--show", "all", code=2).out
    assert plain.isascii()
    for line in body["lines"]:
        assert (line["old"] or line["new"])[0] in plain


def test_planning_twice_keeps_one_plan(desk):
    desk.ready()
    first = desk("plan", "--to", "marl-2.0", "--json", code=2).json
    again = desk("plan", "--json", code=2).json
    assert again["digest"] == first["digest"]
    assert again["sheet"] == first["sheet"]
    kinds = [e["kind"] for e in desk("logbook", "--json").json["entries"]]
    assert kinds.count("plan") == 1


def test_another_release_needs_the_open_refit_closed(desk):
    desk.ready()
    desk("plan", "--to", "marl-2.0", code=2)
    assert "refit plover-r1 is open" in desk("plan", "--to", "marl-9.0", code=2).err
    assert desk("not-now", "--why", " ", code=1).err.startswith("asflown: say why")
    body = desk("not-now", "--why", "survey week", "--json").json
    assert (body["state"], body["stays_on"], body["why"]) == ("not now", "marl-1.0", "survey week")
    assert desk("not-now", "--why", "again", code=2).err.startswith("asflown: no refit is open")
    plan = desk("plan", "--to", "marl-2.0", "--json", code=2).json
    assert plan["refit"] == "plover-r2"


def test_to_which_release_is_asked(desk):
    desk.ready()
    assert "to which release?" in desk("plan", code=1).err


def test_without_a_catalog_the_plan_is_provisional_then_final(desk):
    desk.release("marl-1.0", catalog_csv=desk_old())
    desk.plover()
    desk.found()
    notes = desk.write("reed.toml", 'from = "marl-1.0"\nto = "reed-7"\n')
    first = desk("plan", "--to", "reed-7", "--notes", notes, "--json", code=2)
    assert first.json["is_provisional"] is True
    assert any("--factory" in act for act in first.json["next"])
    fresh = "".join(f"{line}\n" for line in LISTING.splitlines() if "old.toy" not in line) + "log.rate = 50\n"
    taken = desk("found", desk.write("fresh.txt", fresh), "--factory", "--json").json
    assert (taken["release"], taken["moment"]) == ("reed-7", "factory")
    final = desk("plan", "--json", code=2).json
    assert final["is_provisional"] is False
    assert final["moved"]
    assert "factory record plover-003" in [item["name"] for item in final["inputs"]]
    entries = [e for e in desk("logbook", "--json").json["entries"] if e["kind"] == "plan"]
    assert [e["body"]["plan"] for e in entries] == ["provisional", "final"]
    assert entries[1]["body"]["replaced"] == "provisional"
    assert len(entries[1]["body"]["moved"]) == len(final["moved"])


def desk_old():
    from desk_files import OLD

    return OLD


def test_notes_given_by_hand_are_kept_and_sealed(desk):
    from desk_files import NEW, NOTES, OLD

    desk.release("marl-1.0", catalog_csv=OLD)
    desk.release("marl-2.0", catalog_csv=NEW)
    desk.plover()
    desk.found()
    without = desk("plan", "--to", "marl-2.0", "--json", code=2).json
    assert by_name(without)["lamp.on"]["basis"] != "change note"
    assert any("no change notes lead" in finding["statement"] for finding in without["findings"])
    bad = desk.write("bad.toml", "from = 3\n")
    assert "bad.toml" in desk("plan", "--notes", bad, code=1).err
    with_notes = desk("plan", "--notes", desk.write("by-hand.toml", NOTES), "--json", code=2).json
    assert by_name(with_notes)["lamp.on"]["basis"] == "change note"
    assert "notes by-hand.toml" in [item["name"] for item in with_notes["inputs"]]
    assert desk("plan", "--json", code=2).json["digest"] == with_notes["digest"]


def test_a_new_board_keeps_the_release(desk):
    desk.ready()
    plan = desk("plan", "--new-board", "heron-f4", "--json", code=None).json
    assert (plan["purpose"], plan["from"], plan["to"]) == ("new board", "marl-1.0", "marl-1.0")
    assert plan["account"]["adds_up"]


def test_a_sister_gets_a_proven_set_up(desk):
    desk.ready()
    desk("aircraft", "new", "dunlin", "--set", "title=Dunlin", "board=brant-h7", "release=marl-1.0")
    desk.found(LISTING.replace("50", "33"))
    assert desk("records", "dunlin", "--json").json["records"][0]["id"] == "dunlin-001"
    plan = desk("plan", "dunlin", "--like", "plover", "--json", code=None).json
    assert plan["purpose"] == "sister aircraft"
    assert plan["record"] == "plover-001"
    assert by_name(plan)["tilt.max"]["as_found"] == ["50"]
    names = [item["name"] for item in plan["inputs"]]
    assert names[:2] == ["record plover-001", "record dunlin-001"]
    assert "cannot be copied onto itself" in desk("plan", "plover", "--like", "plover", code=1).err


# ------------------------------------------------------------------------------------ the seal


def test_a_moved_input_is_named(desk):
    from desk_files import NEW

    desk.ready()
    desk("plan", "--to", "marl-2.0", code=2)
    desk("release", "add", str(desk.folder / "marl-2.0"))
    assert desk("decide", code=2).err == ""  # the same bytes again move nothing
    desk.release("marl-2.0", catalog_csv=NEW.replace("0.07", "0.08"))
    refused = desk("decide", code=2).err
    assert "release marl-2.0: was " in refused
    assert ", is " in refused
    assert "record plover-001" not in refused
    desk("aircraft", "edit", "--set", "mass_kg=0.4")
    refused = desk("decide", "idle", "--choose", "keep", "--why", "x", code=2).err
    assert "aircraft plover: was " in refused
    desk("plan", code=2)
    assert desk("decide", code=2).err == ""


# ------------------------------------------------------------------------------------ compare, logbook


def test_compare(desk):
    desk.ready()
    assert "has 1 record" in desk("compare", code=1).err
    desk.found()
    assert desk("compare").out.count("The same: all 8 settings")
    desk.found(LISTING.replace("tilt.max = 50", "tilt.max = 44.0").replace("1.5", "1.50"))
    body = desk("compare", "--json", code=4).json
    assert [(d["name"], d["first"], d["second"]) for d in body["differs"]] == [("tilt.max", "50", "44.0")]
    assert desk("compare", "plover-001", "plover-002").code == 0
    assert "neither a record nor an aircraft" in desk("compare", "plover-001", "x", code=1).err
    assert "1 setting differs" in desk("compare", "plover-001", code=4).out


def test_the_logbook_tells_the_job(desk):
    desk.ready()
    desk("plan", "--to", "marl-2.0", code=2)
    desk("decide", "--adopt-factory", "--why", "read the notes", code=2)
    desk("not-now", "--why", "survey week")
    body = desk("logbook", "--json").json
    kinds = [e["kind"] for e in body["entries"]]
    assert kinds[:3] == ["aircraft", "record", "plan"]
    assert kinds[-1] == "not now"
    assert "decision" in kinds
    assert all(e["who"] == "ines" for e in body["entries"])
    for before, after in zip(body["entries"], body["entries"][1:], strict=False):
        assert after["previous"] == before["hash"]
    text = desk("logbook").out
    assert "stays on marl-1.0: survey week" in text
    assert [e["kind"] for e in desk("logbook", "releases", "--json").json["entries"]] == [
        "release",
        "release",
    ]
    assert "there is no aircraft 'gull'" in desk("logbook", "gull", code=1).err


def test_listing_show(desk):
    path = desk.write("x.txt", LISTING)
    body = desk("listing", "show", path, "--json").json
    assert [s["name"] for s in body["settings"]][:2] == ["lost.wait", "lost.do"]
    assert {"settings", "not_understood", "shapes", "encoding", "lossless"} <= set(body)
    assert "end of sheet" in desk("listing", "show", path).out
    assert "fits no line" in desk("listing", "show", path, "--shape", "put {name} {value}", code=1).err


def test_schema(desk):
    assert desk("schema", "notes").json["$schema"].startswith("https://json-schema.org")
    assert "aircraft" in desk("schema").out
    assert "no schema 'x'" in desk("schema", "x", code=1).err
