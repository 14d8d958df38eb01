"""A release nobody knows gives no plan; a provisional plan says what it rests on, and becomes final."""

from __future__ import annotations

from desk_files import LISTING, OLD

from asflown.demo import releases, scenario

NOTES = """\
from = "marl-1.0"
to = "reed-7"

[[change]]
kind = "rename"
old = "lamp.on"
new = "lights.on"
"""


def test_a_release_nobody_knows_gives_no_plan(desk):
    desk.ready()
    refused = desk("plan", "--to", "marl-2.O", code=2).err
    assert "nothing is known of release marl-2.O" in refused
    assert "spelt nearly so: marl-2.0" in refused
    for way in ("release add FOLDER", "--notes FILE", "--factory --release marl-2.O"):
        assert way in refused
    body = desk("plan", "--to", "heath-9", "--json", code=2).error
    assert "spelt nearly" not in body["what"]
    assert [e["kind"] for e in desk("logbook", "--json").json["entries"]] == ["aircraft", "record"]
    assert desk("aircraft", "show", "--json").json["id"] == "plover"


def test_with_notes_alone_the_sentence_says_what_is_taken_as_unchanged(desk):
    desk.release("marl-1.0", catalog_csv=OLD)
    desk.plover()
    desk.found()
    notes = desk.write("by-hand.toml", NOTES)
    plan = desk("plan", "--to", "reed-7", "--notes", notes, code=2).out
    words = " ".join(plan.split())
    assert "Provisional, needs you: 7 settings that no note names taken as unchanged (lost.wait," in words
    assert "fresh factory listing of reed-7 is to be captured" in words
    assert desk("write-out", "--out", str(desk.folder / "x"), code=2).err.count("provisional") == 1
    assert not (desk.folder / "x").exists()


def test_the_same_release_on_another_board_is_known_by_the_record(desk):
    desk.release("marl-1.0")
    desk.plover()
    desk.found(LISTING, "--extent", "full")
    plan = desk("plan", "--new-board", "heron-f4", "--json", code=2).json
    assert plan["account"]["found"] == 8


# --------------------------------------------------------------- two bare listings, provisional then final


def bare(desk) -> None:
    """Plover on a bare release; another aircraft's board showed the factory listing of the new one."""
    for id, files in releases.bare_folders().items():
        if "4.1" in id:
            for path, data in files.items():
                desk.write(f"{id}/{path}", data)
            desk("release", "add", str(desk.folder / id))
    facts = ("board=wrackline-2", "release=marram-4.1-bare")
    desk("aircraft", "new", "bench", "--set", "title=Bench", *facts)
    desk("aircraft", "new", "plover", "--set", "title=Plover", *facts)
    bench = desk.write("bench.txt", scenario.bench_listing())
    desk("found", bench, "--aircraft", "bench", "--factory", "--release", "marram-5.0-bare")
    desk("found", desk.write("found.txt", scenario.found_listing()), "--aircraft", "plover")


def test_provisional_from_another_board_then_final_from_its_own(desk):
    bare(desk)
    first = desk("plan", "plover", "--to", "marram-5.0-bare", "--json", code=2).json
    assert first["is_provisional"]
    assert "another board" in first["provisional_why"]
    assert any("--factory --release marram-5.0-bare" in act for act in first["next"])
    assert 0 < first["decisions_asked"] <= 15
    cards = desk("cards", "plover", "--json", code=None).json["cards"]
    said = [card for card in cards if "factory listing" in str(card)]
    assert said, "a card says to capture the fresh factory listing"

    groups = first["groups"]
    kept, lapses = groups[0], groups[-1]
    for group in (kept, lapses):
        desk("decide", "plover", group["id"], "--choose", choice(group), "--why", "looked up", code=2)
    before = desk("plan", "plover", "--json", code=2).json
    decided = {line["id"] for line in before["lines"] if line["settled"]}
    assert len(decided) == len(kept["lines"]) + len(lapses["lines"])
    refused = desk("write-out", "plover", "--out", str(desk.folder / "out"), code=2).err
    assert "the plan is provisional" in refused
    assert not (desk.folder / "out").exists()

    # the board's own listing differs from the other board's in the factory value of one decided setting
    moved = next(line for line in before["lines"] if line["id"] in decided and line["factory"] != [None])
    own = without(scenario.bench_listing(), moved["new"][0])
    fresh = desk.write("fresh.txt", own)
    desk("found", fresh, "--aircraft", "plover", "--factory", "--release", "marram-5.0-bare")
    ran = desk("plan", "plover", "--json", code=2)
    final = ran.json
    assert not final["is_provisional"]
    still = {line["id"] for line in final["lines"] if line["settled"]}
    assert still < decided
    assert len(final["lapsed"]) == len(decided) - len(still) > 0
    assert final["moved"]
    plans = [e for e in desk("logbook", "plover", "--json").json["entries"] if e["kind"] == "plan"]
    assert plans[0]["body"]["plan"] == "provisional"
    assert plans[-1]["body"]["plan"] == "final"
    assert plans[-1]["body"]["replaced"] == "provisional"
    assert len(plans[-1]["body"]["moved"]) == len(final["moved"])
    assert plans[-1]["body"]["lapsed"] == final["lapsed"]
    assert "since the provisional plan" in plans[-1]["says"]
    assert "lapsed" in plans[-1]["says"]


def choice(group):
    return next(option for option in group["options"] if option not in ("value", "second"))


def without(listing: bytes, name: str) -> bytes:
    """A listing without the lines of one setting."""
    lines = listing.splitlines(keepends=True)
    short = [
        line for line in lines if not line.strip().startswith(name.rpartition("/")[2].split("[")[0].encode())
    ]
    assert len(short) < len(lines)
    return b"".join(short)


def test_a_factory_listing_is_never_filed_under_a_release_nobody_named(desk):
    """Outside a refit the aircraft's own release would be a guess: its factory values would be wrong."""
    desk.release("marl-1.0", catalog_csv=OLD)
    desk.plover()
    refused = desk("found", desk.write("fresh.txt", "gain = 3\nspan = 4\nlimit = 5\n"), "--factory", code=1)
    assert "--release" in refused.err


def test_a_refit_to_the_release_it_already_has_says_so(desk):
    desk.release("marl-1.0", catalog_csv=OLD)
    desk.plover()
    desk.found()
    plan = desk("plan", "--to", "marl-1.0", "--json", code=None).json
    assert any("already read under marl-1.0" in finding["statement"] for finding in plan["findings"])
