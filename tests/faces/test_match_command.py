"""``asflown match``: what became of every name; stateless, for people and for programs.

The confidences and reasons are the matcher's own; here it is structure and laws that hold whatever they are.
"""

from __future__ import annotations

import io
import json
import os
import subprocess
import sys

import pytest
from desk_files import NEW, OLD
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from asflown.faces.cli.main import main

PAIR_FIELDS = {
    "old",
    "new",
    "kind",
    "confidence",
    "zone",
    "group",
    "changed",
    "reasons",
    "runner_up",
    "consequence",
    "meaning",
    "factor",
    "default_shift",
    "others",
}
MAVLINK = '{"version": 1, "parameters": [{"name": "idle.speed", "type": "Float", "default": 0.05, "min": 0, "max": 1}]}'
OVERLAY = '[parameter."idle.speed"]\nconsequence = "handling"\n'


@pytest.fixture
def files(desk):
    return desk.write("old.csv", OLD), desk.write("new.csv", NEW)


def test_every_old_name_stands_once(desk, files):
    body = desk("match", *files, "--json").json
    claimed = [pair["old"] for pair in body["pairs"] if pair["zone"] != "unknown"]
    names = [line.partition(",")[0] for line in OLD.splitlines()[1:]]
    assert sorted([*claimed, *body["retired"]]) == sorted(names)
    led_to = {pair["new"] for pair in body["pairs"] if pair["zone"] != "unknown"}
    assert led_to | set(body["new"]) == {line.partition(",")[0] for line in NEW.splitlines()[1:]}
    assert not led_to & set(body["new"])
    assert all(set(pair) == PAIR_FIELDS for pair in body["pairs"])
    assert all(0 <= pair["confidence"] <= 1 for pair in body["pairs"])


def test_the_counts_add_up(desk, files):
    body = desk("match", *files, "--json").json
    counts = body["counts"]
    parts = ("unchanged", "unstated", "renamed", "other_meaning", "default_shift", "unknown", "gone")
    assert counts["adds_up"]
    assert sum(counts[part] for part in parts) == counts["old"] == body["old_catalog"]["parameters"]
    assert counts["unknown"] + counts["gone"] == len(body["retired"])
    assert counts["new"] == len(body["new"])


def test_what_differs_is_said(desk, files):
    pairs = {pair["old"]: pair for pair in desk("match", *files, "--json").json["pairs"]}
    assert pairs["lost.wait"]["factor"] == "1000"
    assert pairs["lost.wait"]["meaning"]["kinship"] == "other unit"
    assert pairs["lost.do"]["meaning"]["values"] == {"1": "1", "2": "3", "3": "2"}
    assert pairs["idle.speed"]["default_shift"] == {"before": "0.05", "after": "0.07"}
    assert pairs["tilt.max"]["group"] == "other_meaning"
    assert pairs["lamp.hue"]["factor"] is None


def test_the_sheet_is_grouped_and_unchanged_names_are_only_counted(desk, files):
    text = desk("match", *files).out
    counts = desk("match", *files, "--json").json["counts"]
    titles = {
        "→ Other name": "renamed",
        "! Same name, other meaning": "other_meaning",
        "! Same name, other factory value": "default_shift",
        "? Not sure": "unknown",
        "× Retired": "gone",
        "+ New": "new",
    }
    assert {title: title in text for title in titles} == {title: counts[f] > 0 for title, f in titles.items()}
    places = [text.index(title) for title in titles if title in text]
    assert places == sorted(places)
    assert "\nbeep.low" not in text
    assert "\nbeep.low" in desk("match", *files, "--show", "all").out
    assert "new = old × 1000" in text
    assert "nothing is kept, nothing is applied" in text


@pytest.mark.parametrize(
    ("show", "there", "away"),
    [
        ("changed", ("! Same name, other meaning",), ("+ New", "× Retired")),
        ("retired", ("old.toy",), ("→ Other name", "+ New")),
        ("new", ("+ New", "brake.hold"), ("→ Other name",)),
    ],
)
def test_a_part_alone_counts_the_rest(desk, files, show, there, away):
    text = desk("match", *files, "--show", show).out
    assert all(word in text for word in there)
    assert not any(word in text for word in away)
    assert "… not shown: " in text


@pytest.mark.parametrize("columns", ["80", "100", "40"])
def test_it_holds_its_width(desk, files, monkeypatch, columns):
    monkeypatch.setenv("COLUMNS", columns)
    text = desk("match", *files, "--show", "all").out
    assert max(map(len, text.split("\n"))) <= int(columns)


def test_no_store_is_made(desk, files):
    desk("match", *files)
    desk("match", "nothing-1.0", files[1], code=1)
    assert not desk.store.exists()


def test_a_kept_release_by_its_id(desk, files):
    desk.releases()
    body = desk("match", "marl-1.0", files[1], "--json").json
    assert body["old_catalog"]["release"] == "marl-1.0"
    assert not body["old_catalog"]["release_is_guessed"]
    by_file = desk("match", *files, "--json").json
    assert body["pairs"] == by_file["pairs"]
    refused = desk("match", "marl-9.0", files[1], code=1)
    assert "kept are: marl-1.0, marl-2.0" in refused.err


def test_a_file_wins_over_a_kept_release(desk, files, monkeypatch):
    desk.releases()
    desk.write("elsewhere/marl-1.0", "name,type\nonly.one,int\n")
    monkeypatch.chdir(desk.folder / "elsewhere")
    assert desk("match", "marl-1.0", files[1], "--json").json["old_catalog"]["parameters"] == 1


@pytest.mark.parametrize(
    ("name", "text", "number", "source"),
    [
        ("a.csv", OLD, 8, "stated catalog"),
        ("a.txt", OLD, 8, "stated catalog"),
        ("a.json", '[{"name": "idle.speed", "type": "float"}]', 1, "stated catalog"),
        ("a.json", MAVLINK, 1, "stated catalog"),
        ("a", MAVLINK, 1, "stated catalog"),
        ("a.txt", "idle.speed = 0.05\nlamp.on = 1\n", 2, "factory listing"),
        ("a.csv", "name,value\nidle.speed,0.05\nlamp.on,1\nlamp.hue,3\n", 3, "factory listing"),
        ("a.json", '{"idle.speed": 0.05, "lamp.on": 1}', 2, "factory listing"),
    ],
)
def test_every_kind_of_catalog_is_told_by_what_is_in_it(desk, files, name, text, number, source):
    body = desk("match", desk.write(f"other/{name}", text), files[1], "--json").json
    assert (body["old_catalog"]["parameters"], body["old_catalog"]["source"]) == (number, source)


def test_a_release_folder_and_the_overlay_beside_a_catalog(desk, files):
    desk.write("idle-1/catalog.json", MAVLINK)
    desk.write("idle-1/overlay.toml", OVERLAY)
    desk.write("idle-1/notes.toml", "this is = not notes =")  # no matter here: it says nothing of the catalog
    for given_as in ("idle-1", "idle-1/catalog.json"):
        body = desk("match", str(desk.folder / given_as), files[1], "--json").json
        assert body["pairs"][0]["consequence"] == "handling"
        assert (body["old_catalog"]["release"], body["old_catalog"]["release_is_guessed"]) == ("idle-1", True)
    desk.write("idle-1/other.json", MAVLINK.replace("idle.speed", "idle.quick"))
    desk("match", str(desk.folder / "idle-1/other.json"), files[1])  # the overlay is not this file's


def test_a_factory_listing_wins_over_stated_defaults(desk):
    old = desk.write("f-1/catalog.csv", "name,type,default,description\ngain,float,5,how firm\n")
    desk.write("f-1/factory.txt", "gain = 6\n")
    new = desk.write("f-2.csv", "name,type,default,description\ngain,float,6,how firm\n")
    assert desk("match", old, new, "--json").json["pairs"][0]["default_shift"] is not None
    assert desk("match", str(desk.folder / "f-1"), new, "--json").json["pairs"][0]["default_shift"] is None


def test_standard_input(desk, files, monkeypatch):
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(OLD.encode())))
    assert desk("match", "-", files[1], "--json").json["old_catalog"]["name"] == "standard input"
    assert "only once" in desk("match", "-", "-", code=1).err


@pytest.mark.parametrize(
    ("name", "data", "says"),
    [
        ("empty.csv", b"", "is empty"),
        ("blank.txt", b"\xef\xbb\xbf \r\n\n", "is empty"),
        ("zero", b"\0" * 100, "is empty"),
        ("binary.bin", bytes(range(256)) * 20, "binary"),
        ("cut.json", b'[{"name": "a"', "cut.json"),
        ("twice.csv", b"name,type\na,int\na,int\n", "stands twice"),
        ("deep.json", b"[" * 100_000, "nested too deep"),
        ("nan.json", b'[{"name": "a", "min": NaN}]', "no number"),
        ("cut.json.xz", b"\xfd7zXZ\x00\x00", "xz"),
        ("latin.csv", b"name,type\n\xff\xfe,int\n", "UTF-8"),
        ("prose.txt", b"nothing-here\n", "prose.txt"),
    ],
)
def test_bad_input_is_refused_in_words(desk, files, name, data, says):
    path = desk.write(f"bad/{name}", data)
    for words in ((path, files[1]), (files[0], path)):
        refused = desk("match", *words, code=1)
        assert says in refused.err
        assert refused.out == ""
    assert desk("match", path, files[1], "--json", code=1).error["exit_code"] == 1


def test_places_that_hold_no_catalog(desk, files):
    (desk.folder / "hollow").mkdir()
    assert "holds no file" in desk("match", str(desk.folder / "hollow"), files[1], code=1).err
    desk.write("half-1/notes.toml", 'from = "a"\nto = "b"\n')
    assert "states no catalog" in desk("match", str(desk.folder / "half-1"), files[1], code=1).err
    assert "no such file or folder" in desk("match", "a\0b", files[1], code=1).err
    assert "no such file or folder" in desk("match", "x" * 5000, files[1], code=1).err
    desk.write("wrong-1/catalog.csv", "name,max\na,NaN\n")
    refused = desk("match", str(desk.folder / "wrong-1"), files[1], code=1).err
    assert "catalog.csv:2" in refused


def test_the_reader_of_a_pipe_may_go_away(desk, files):
    program = f"{sys.executable} -m asflown.faces.cli.main"
    done = subprocess.run(
        ["bash", "-c", f"set -o pipefail; {program} match '{files[0]}' '{files[1]}' --json | head -1"],
        capture_output=True,
        timeout=60,
        env={**os.environ, "PYTHONUNBUFFERED": "1"},
        check=False,
    )
    assert (done.stdout, done.stderr, done.returncode) == (b"{\n", b"", 0)


def test_progress_is_told_at_a_terminal_alone(monkeypatch):
    import time

    from asflown.faces.cli.progress import waiting

    class Screen(io.StringIO):
        def isatty(self):
            return self.is_terminal

    for is_terminal, pause, told in ((True, 0.3, True), (True, 0.0, False), (False, 0.3, False)):
        screen = Screen()
        screen.is_terminal = is_terminal
        monkeypatch.setattr(sys, "stderr", screen)
        with waiting("matching 3 names with 4", patience=0.1):
            time.sleep(pause)
        assert ("matching 3 names" in screen.getvalue()) is told
        assert screen.getvalue().endswith("\r\x1b[K") is told


NAMES = st.text(st.characters(exclude_categories=("C", "Z")), min_size=1, max_size=12)
ENTRIES = st.fixed_dictionaries(
    {"name": st.sampled_from(("a.b", "a.c", "b.b", "x1", "x2", "x_y")) | NAMES},
    optional={
        "units": st.sampled_from(("s", "ms", "deg", "V", "", "nonsense")),
        "default": st.sampled_from((0, 1, "0.5", "on", None)),
        "choices": st.sampled_from(({"0": "off", "1": "on"}, {"0": "on", "1": "off"}, None)),
        "description": st.sampled_from(("how firm", "how long to wait", None)),
        "consequence": st.sampled_from(("safety", "none", None)),
    },
)
CATALOGS = st.lists(ENTRIES, min_size=1, max_size=8, unique_by=lambda entry: entry["name"])


@settings(max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(CATALOGS, CATALOGS)
def test_law_every_name_of_any_two_catalogs_is_accounted_for_once(tmp_path, capsys, old, new):
    for name, entries in (("old.json", old), ("new.json", new)):
        (tmp_path / name).write_text(json.dumps(entries), "utf-8")
    words = [str(tmp_path / "old.json"), str(tmp_path / "new.json")]
    assert main(["match", *words, "--json"]) == 0
    body = json.loads(capsys.readouterr().out)
    claimed = [pair["old"] for pair in body["pairs"] if pair["zone"] != "unknown"]
    assert sorted([*claimed, *body["retired"]]) == sorted(entry["name"] for entry in old)
    assert body["counts"]["adds_up"]
    assert not [
        p for p in body["pairs"] if p["group"] == "unchanged" and (p["zone"] != "apply" or p["changed"])
    ]
    assert main(["match", *words, "--show", "all"]) == 0
    assert all(c.isprintable() or c == "\n" for c in capsys.readouterr().out)
