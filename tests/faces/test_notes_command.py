"""``asflown notes draft`` and ``asflown notes check``."""

from __future__ import annotations

import io
import json
import sys
import tomllib

import pytest
from desk_files import NEW, OLD
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from asflown.faces.cli.main import main
from asflown.formats import notes

HEAD = 'from = "marl-1.0"\nto = "marl-2.0"\n'


@pytest.fixture
def files(desk):
    return desk.write("marl-1.0.csv", OLD), desk.write("marl-2.0.csv", NEW)


@pytest.fixture
def checked(desk, files):
    """Looks through notes beside both catalogs."""

    def run(text, code=None):
        path = desk.write("notes.toml", HEAD + text)
        return desk("notes", "check", path, "--old", files[0], "--new", files[1], "--json", code=code).json

    return run


def change(kind, old, new="", more=""):
    new = f"new = {json.dumps(new)}\n" if new else ""
    return f'[[change]]\nkind = "{kind}"\nold = {json.dumps(old)}\n{new}{more}\n'


# ------------------------------------------------------------------------------------------ draft


def test_a_draft_goes_to_standard_output_and_reads(desk, files):
    text = desk("notes", "draft", *files).out
    read = notes.read(text.encode(), "draft.toml")
    assert (read.from_release, read.to_release, read.complete) == ("marl-1.0", "marl-2.0", False)
    by_name = {c.old[0]: c for c in read.changes}
    assert by_name["lost.wait"].conversion.unit_to == "ms"
    assert by_name["lost.do"].conversion.choices == {"1": "1", "2": "3", "3": "2"}
    assert by_name["idle.speed"].kind.value == "default"
    assert by_name["tilt.max"].kind.value == "meaning"
    assert "beep.low" not in by_name
    assert not desk.store.exists()


def test_a_draft_into_a_file(desk, files):
    place = desk.folder / "made" / "notes.toml"
    text = desk("notes", "draft", *files, "--out", str(place)).out
    assert "nobody has confirmed them" in text
    before = place.read_bytes()
    assert before.decode() == desk("notes", "draft", *files).out
    refused = desk("notes", "draft", *files, "--out", str(place), code=1).err
    assert "is there already" in refused
    assert "--replace" in refused
    place.write_text("mine")
    desk("notes", "draft", *files, "--out", str(place), "--replace")
    assert place.read_bytes() == before
    assert [path.name for path in place.parent.iterdir()] == ["notes.toml"]


def test_a_draft_as_json(desk, files):
    body = desk("notes", "draft", *files, "--from", "x-1", "--to", "x-2", "--json").json
    assert (body["from"], body["to"], body["complete"], body["place"]) == ("x-1", "x-2", False, None)
    read = tomllib.loads(body["text"])
    assert sum(body["changes"].values()) == len(read["change"])
    retired = desk("match", *files, "--json").json["retired"]
    assert set(body["retired"]) <= set(retired)


def test_a_draft_says_which_release_is_missing(desk, files, monkeypatch):
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(OLD.encode())))
    refused = desk("notes", "draft", "-", files[1], code=1).err
    assert "which release is standard input?" in refused
    assert "--from ID" in refused
    assert "both would be notes" in desk("notes", "draft", files[0], files[0], code=1).err
    assert "no such file" in desk("notes", "draft", "nope.csv", files[0], code=1).err
    assert "only once" in desk("notes", "draft", "-", "-", code=1).err
    desk("notes", "draft", *files, "--out", str(desk.folder), code=1)


def test_a_draft_is_fine_beside_its_own_catalogs(desk, files):
    place = str(desk.folder / "notes.toml")
    desk("notes", "draft", *files, "--out", place)
    body = desk("notes", "check", place, "--old", files[0], "--new", files[1], "--json").json
    assert body["is_fine"]
    assert body["faults"] == []


def test_a_draft_taken_as_notes_is_followed(desk):
    """What was drafted can be brought in with the release; what was marked is asked about there."""
    desk.releases()
    text = desk("notes", "draft", "marl-1.0", "marl-2.0").out
    desk.write("marl-2.0/notes.toml", text)
    desk("release", "add", str(desk.folder / "marl-2.0"))
    desk.plover()
    desk.found()
    body = desk("plan", "plover", "--to", "marl-2.0", "--json", code=2).json
    lines = {line["old"][0]: line for line in body["lines"] if line["old"]}
    assert lines["lost.wait"]["to_be_left"] == ["1500"]
    assert lines["tilt.max"]["disposition"] == "decide"


# ------------------------------------------------------------------------------------------ check


def test_faults_of_the_file_with_their_lines(desk):
    path = desk.write("bad.toml", HEAD + change("rename", "a") + change("retire", "b", more="whom = 1"))
    ran = desk("notes", "check", path, "--json", code=1)
    assert [fault["where"].rpartition(":")[2] for fault in ran.json["faults"]] == [
        "3 change[1]",
        "10 change[2].whom",
    ]
    assert ran.json["is_fine"] is False
    text = desk("notes", "check", path, code=1).out
    assert "2 things to correct" in text
    assert "is no key of this file" in text


@pytest.mark.parametrize("data", [b"", b"\xff\xfe", b"a = ", b"[" * 9999, b"from = 'x'\nfrom = 'y'\n"])
def test_what_is_no_toml(desk, data):
    body = desk("notes", "check", desk.write("bad.toml", data), "--json", code=1).json
    assert body["faults"]
    assert body["changes"] is None


def test_places_that_cannot_be_read(desk, files):
    assert "no such file" in desk("notes", "check", "nope.toml", code=1).err
    desk("notes", "check", str(desk.folder), code=1)
    good = desk.write("good.toml", HEAD)
    assert "no such file" in desk("notes", "check", good, "--old", "nope.csv", code=1).err
    assert "only once" in desk("notes", "check", "-", "--old", "-", code=1).err
    assert not desk.store.exists()


def test_notes_alone_are_looked_through_too(desk):
    text = HEAD + change("rename", "a", "c") + change("rename", "b", "c") + change("default", ["d", "e"])
    path = desk.write("n.toml", text + change("default", "d"))
    body = desk("notes", "check", path, "--json", code=1).json
    said = [fault["what"] for fault in body["faults"]]
    assert said == [
        "more than one setting would become c",
        "more than one setting would become c",
        "'d' has a default already in line 13",
    ]
    assert desk("notes", "check", desk.write("n.toml", HEAD)).code == 0


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (change("rename", "lamp.off", "lights.on"), "the old release has no 'lamp.off'; nearest: lamp.on"),
        (change("rename", "lamp.on", "light.on"), "the new release has no 'light.on'; nearest: lights.on"),
        (change("default", "old.toy"), "the new release has no 'old.toy'"),
        (change("retire", "lamp.on") + change("rename", "lamp.on", "lights.on"), "two notes move lamp.on"),
        (change("rename", "lamp.on", "lamp.hue"), "more than one setting would become lamp.hue"),
        (
            change("convert", "lost.wait", more='unit = { from = "ms", to = "s" }'),
            "unit ms, and the old catalog says s of 'lost.wait'",
        ),
        (
            change("convert", "lost.wait", more='unit = { from = "V", to = "ms" }'),
            "unit V does not convert to ms",
        ),
        (
            change("convert", "lost.wait", more="factor = 100"),
            "factor 100, but by the catalogs new = old * 1000 (unit s before, ms now)",
        ),
        (change("rename", "lost.wait", "brake.hold"), ""),
        (
            change("convert", "lost.do", more='choices = { "9" = "1" }'),
            "'9' is no choice of 'lost.do' in the old release (it has 1, 2, 3)",
        ),
        ("complete = true\n" + change("retire", "old.toy"), "`complete = true` promises"),
    ],
)
def test_what_the_catalogs_say_against_it(checked, text, says):
    body = checked(text)
    assert body["is_fine"] is not bool(says)
    assert any(says in fault["what"] for fault in body["faults"]) or not says


def test_a_copied_number_under_another_unit(desk, files, checked):
    body = checked(change("rename", "lost.wait", "lost.wait"), code=1)
    assert "copies the number, but by the catalogs new = old * 1000" in body["faults"][0]["what"]


@pytest.mark.parametrize("columns", ["40", "80"])
def test_the_sheets_hold_their_width(desk, files, monkeypatch, columns):
    monkeypatch.setenv("COLUMNS", columns)
    text = HEAD + "complete = true\n" + change("rename", "lamp.on\x1b[2J" + "x" * 90, "lamp.hue")
    path = desk.write("n.toml", text)
    beside = ("--old", files[0], "--new", files[1])
    for out in (
        desk("notes", "check", path, *beside, code=1).out,
        desk("notes", "draft", *files, "--out", str(desk.folder / "made.toml")).out,
    ):
        assert max(map(len, out.split("\n"))) <= int(columns)
        assert "\x1b" not in out


def test_what_is_fine_is_fine(checked):
    body = checked(
        "complete = true\n"
        + change("convert", "lost.wait", more="factor = 1000")
        + change("convert", "lost.do", more='choices = { "1" = "1", "2" = "3", "3" = "2" }')
        + change("rename", "lamp.on", "lights.on")
        + change("retire", "old.toy"),
        code=0,
    )
    assert body["is_fine"]
    assert body["unnamed"] == []


def test_names_no_note_speaks_of(checked):
    body = checked(change("rename", "lamp.on", "lights.on"), code=0)
    named = {item["old"]: item["what"] for item in body["unnamed"]}
    assert set(named) == {"lost.wait", "lost.do", "old.toy"}
    assert named["old.toy"] == "gone in the new release"
    assert named["lost.wait"] == "unit s before, ms now"


def test_remarks_do_not_refuse(checked):
    body = checked(
        change("retire", "lamp.hue") + change("merge", ["old.toy", "lamp.on"], "lights.on"), code=0
    )
    said = " / ".join(remark["what"] for remark in body["remarks"])
    assert "'lamp.hue' is retired, and the new release has it" in said
    assert "the value of 'old.toy' alone is copied" in said


def test_the_matcher_speaks_where_it_is_sure(checked):
    body = checked(change("rename", "beep.low", "brake.hold"), code=0)
    assert any("the catalogs speak for 'beep.low'" in remark["what"] for remark in body["remarks"])


def test_notes_of_another_release_are_remarked(desk):
    desk.releases()
    path = desk.write("n.toml", 'from = "marl-0.9"\nto = "marl-2.0"\n')
    body = desk("notes", "check", path, "--old", "marl-1.0", "--json").json
    assert [remark["what"] for remark in body["remarks"]] == [
        "`from` is marl-0.9, and marl-1.0 is of marl-1.0"
    ]


# ------------------------------------------------------------------------------------------ laws

ODD = st.sampled_from(
    ('a"b', "a'b", "ü.ß", "a\\b", "x\x07y", "a\nb", " pad ", "[[change]]", "# no", "z" * 201, "\u202e")
)
NAMES = (
    st.sampled_from(("gain", "gain.a", "gain.b", "wait", "wait.ms")) | ODD | st.text(min_size=1, max_size=9)
)
ENTRIES = st.fixed_dictionaries(
    {"name": NAMES.filter(str.strip)},
    optional={
        "units": st.sampled_from(("s", "ms", "rad", "deg", "degC", "K")),
        "min": st.sampled_from((0, 5)),
        "max": st.sampled_from((9, 10)),
        "default": st.sampled_from((0, 1, 'o"n', None)),
        "choices": st.sampled_from(
            ({"0": "off", "1": "on"}, {"0": "on", "1": "off"}, {'"': "on", "2": "off"})
        ),
        "description": st.sampled_from(("how firm", "how long to wait\nfor \x1b it")),
        "consequence": st.sampled_from(("safety", "none")),
        "role": st.sampled_from(("r.one", "r.two")),
        "factor": st.sampled_from((1, 3, 0.001)),
    },
)
CATALOGS = st.lists(ENTRIES, min_size=1, max_size=7, unique_by=lambda entry: entry["name"])


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(CATALOGS, CATALOGS)
def test_law_a_draft_of_any_two_catalogs_reads_and_is_fine_beside_them(tmp_path, capsys, old, new):
    paths = []
    for name, entries in (("old.json", old), ("new.json", new)):
        text = json.dumps(entries)
        text.encode()
        (tmp_path / name).write_text(text, "utf-8")
        paths.append(str(tmp_path / name))
    words = [*paths, "--from", 'x"1', "--to", "x 2", "--json"]
    code = main(["notes", "draft", *words])
    out = capsys.readouterr()
    assert code == 0, out.err
    body = json.loads(out.out)
    read = notes.read(body["text"].encode(), "draft.toml")
    assert not read.complete
    told = [name for change in read.changes for name in change.old]
    assert len(told) == len(set(told))
    assert set(told) <= {entry["name"] for entry in old}
    assert not set(told) & set(body["retired"])
    (tmp_path / "draft.toml").write_text(body["text"], "utf-8")
    beside = ["--old", paths[0], "--new", paths[1]]
    assert main(["notes", "check", str(tmp_path / "draft.toml"), *beside, "--json"]) in (0, 1)
    faults = json.loads(capsys.readouterr().out)["faults"]
    assert all("would become" in fault["what"] for fault in faults), faults
