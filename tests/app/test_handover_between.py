"""One aircraft between two stores: handed over, continued, given back; diverged, reduced and broken bags."""

from __future__ import annotations

import hashlib
import json

import pytest
from handed_world import SECRETS, Desk, desk, listing, plan_and_write, record, with_aircraft, with_secrets
from hypothesis import given
from hypothesis import strategies as st
from small_world import FOUND, NEW, OLD, SmallBoard, put

from asflown.app.flights.keep import flights_of
from asflown.app.handover import hand_over
from asflown.app.logbook import verify
from asflown.app.take_record import Request, take_record
from asflown.core.aircraft import Aircraft
from asflown.core.evidence import Evidence
from asflown.core.flight import Conditions
from asflown.core.logbook import check_chain
from asflown.core.record import Extent, Moment
from asflown.core.study.kept import FlightEvidence, LogNamed
from asflown.errors import AsflownError, Damaged, InputError, UsageError
from asflown.formats import bag, documents


@pytest.fixture
def here(tmp_path) -> Desk:
    return with_aircraft(tmp_path / "here")


@pytest.fixture
def there(tmp_path) -> Desk:
    return desk(tmp_path / "there", "Bo Lund")


def whole(at: Desk) -> dict[str, bytes]:
    return dict(hand_over(at.work, "wren", with_private=True).files)


def kept_of(at: Desk) -> dict[tuple[str, str], list[str]]:
    """Every document with its revisions' hashes."""
    return {
        (kind, d.id): [r.sha256 for r in at.store.revisions(kind, d.id)]
        for kind in ("aircraft", "record", "refit", "plan", "release", "evidence")
        for d in at.store.documents(kind)
    }


def test_there_it_is_as_it_was_here_and_the_way_back_is_rehearsed(here, there):
    plan_and_write(here)
    received = there.takes(whole(here))
    assert kept_of(there) == kept_of(here)
    assert {o.sha256 for o in here.store.originals()} == {o.sha256 for o in there.store.originals()}
    book = here.store.book("wren")
    assert book[-1].kind == "hand-over"
    assert there.store.book("wren")[: len(book)] == book
    assert (received.entries, received.last_hash, received.continued_from) == (len(book), book[-1].hash, 0)
    found = verify(there.store)
    assert found.faults == ()
    assert [r.holds for r in found.rehearsals] == [True]


def with_flight(at: Desk) -> FlightEvidence:
    """A flight of the wren whose log names its place and pilot."""
    log = b"# pilot: Ida Vale\ntime,rate\n0,1\n"
    made = FlightEvidence(
        "wren-f1",
        "wren",
        at.work.clock.now(),
        LogNamed(hashlib.sha256(log).hexdigest(), len(log), "morning.csv", is_kept=True),
        "layout",
        layout_confirmed=True,
        span=(0.0, 1.0),
        conditions=Conditions(place="behind the barn", pilot="Ida Vale", pack="blue 2"),
        evidence=(Evidence("axes.roll.crossover", "Hz", reason="too short"),),
    )
    with at.store.transaction() as tx:
        tx.keep(log, name="morning.csv", kind="flight log")
        document = tx.put("evidence", made.id, documents.dump(made), expect=0)
        tx.log("wren", "evidence", {"id": made.id, "sha256": document.sha256})
    return made


def test_flights_go_along_with_their_logs(here, there):
    made = with_flight(here)
    there.takes(whole(here))
    assert flights_of(there.store, "wren") == (made,)
    assert there.store.original(made.log.sha256).startswith(b"# pilot")


def test_without_what_is_private_a_flight_keeps_its_figures_alone(here, there):
    made = with_flight(here)
    handed = hand_over(here.work, "wren")
    assert made.log.sha256 not in b"".join(p.encode() for p in handed.files if "originals/" in p).decode()
    assert b"barn" not in b"".join(handed.files.values())
    assert any("morning.csv" in told for told in handed.left_out)
    assert any(told.startswith("flight wren-f1: its place") for told in handed.left_out)
    there.takes(dict(handed.files))
    (came,) = flights_of(there.store, "wren")
    assert came.evidence == made.evidence
    assert (came.conditions.place, came.conditions.pilot, came.conditions.pack) == (None, None, "blue 2")
    assert not came.log.is_kept


def test_it_is_continued_there_given_back_and_continued_here(here, there):
    there.takes(whole(here))
    record(there, tilt_gain="6.5")
    put(there.work, "release", NEW.id, with_secrets(NEW))
    plan_and_write(there)
    given = here.store.book("wren")
    back = here.takes(whole(there))
    assert back.continued_from == len(given)
    assert here.store.book("wren")[: len(there.store.book("wren"))] == there.store.book("wren")
    assert kept_of(here) == kept_of(there)
    record(here, tilt_gain="7.5")
    assert [d.id for d in here.store.documents("record")] == sorted(
        {d.id for d in here.store.documents("record")}
    )
    again = there.takes(whole(here))
    assert again.continued_from > back.continued_from
    for at in (here, there):
        assert check_chain(at.store.book("wren")) == ()
        assert verify(at.store).holds, verify(at.store)


def test_nothing_new_is_said_and_not_taken_twice(here, there):
    files = whole(here)
    there.takes(files)
    before = there.store.book("wren")
    with pytest.raises(UsageError, match="nothing new came"):
        there.takes(files)
    assert there.store.book("wren") == before


def test_logbooks_that_went_different_ways_are_refused_by_the_entry(here, there):
    there.takes(whole(here))
    common = len(here.store.book("wren"))
    record(here, tilt_gain="6.5")
    record(there, tilt_gain="7.5")
    before = (there.store.book("wren"), there.store.originals(), kept_of(there))
    with pytest.raises(UsageError, match=f"differ from entry {common + 1} on") as caught:
        there.takes(whole(here))
    assert "Ida Vale" in str(caught.value)
    assert "Bo Lund" in str(caught.value)
    assert "--store FOLDER" in str(caught.value.next_step)
    assert (there.store.book("wren"), there.store.originals(), kept_of(there)) == before


def test_another_aircraft_of_the_same_name_is_refused_at_its_first_entry(here, tmp_path):
    other = with_aircraft(tmp_path / "other", who="Bo Lund")
    with pytest.raises(UsageError, match="differ from entry 1 on"):
        other.takes(whole(here))


def test_a_release_that_differs_stays_the_latest_here_and_theirs_is_kept_beside_it(here, there):
    put(there.work, "release", NEW.id, NEW)
    mine = there.store.document("release", NEW.id)
    plan_and_write(here)
    there.takes(whole(here))
    assert there.store.document("release", NEW.id).body == mine.body
    hashes = [r.sha256 for r in there.store.revisions("release", NEW.id)]
    assert here.store.document("release", NEW.id).sha256 in hashes
    assert verify(there.store).holds  # the way back is rebuilt from the revision it was sealed to


def test_a_factory_listing_of_another_aircraft_goes_with_the_way_back_that_rests_on_it(tmp_path, there):
    """Nobody stated the old release's catalog: its factory values were learned from a sister aircraft."""
    from dataclasses import replace

    here = desk(tmp_path / "here", "Ida Vale")
    put(here.work, "release", OLD.id, replace(OLD, catalog=None))
    put(here.work, "release", NEW.id, replace(NEW, notes=()))
    for name in ("dunnock", "wren"):
        put(here.work, "aircraft", name, Aircraft(name, name, board="b1", release=OLD.id))
    sister = SmallBoard(OLD)
    sister.live["radio_bind"] = "5571234"  # private by its name, and on the sister alone
    factory = Request(
        sister.listing(), "f.txt", "dunnock", moment=Moment.FACTORY, release=OLD.id, extent=Extent.FULL
    )
    take_record(here.work, factory)
    some = b"thrush> tell\r\n" + b"".join(
        f"let {name} be {value}\r\n".encode() for name, value in FOUND.items() if name != "lamp_level"
    )
    take_record(here.work, Request(some, "w.txt", "wren", extent=Extent.CHANGES_ONLY))
    plan_and_write(here)
    assert verify(here.store).holds
    there.takes(whole(here))
    found = verify(there.store)
    assert there.store.document("record", "dunnock-001") is not None
    assert [(r.holds, r.says) for r in found.rehearsals] == [
        (r.holds, r.says) for r in verify(here.store).rehearsals
    ]
    assert found.holds, found
    reduced = hand_over(here.work, "wren").files
    assert "data/documents/record/dunnock-001/1.json" in reduced
    assert b"5571234" in b"".join(whole(here).values())
    assert b"5571234" not in b"".join(reduced.values())


def test_what_cannot_be_written_is_not_said_to_be_handed_over(here):
    before = here.store.book("wren")

    def full(files):
        raise InputError("no space left on device")

    with pytest.raises(InputError):
        hand_over(here.work, "wren", with_private=True, deliver=full)
    assert here.store.book("wren") == before


# ------------------------------------------------------------------------------- without what is private


def test_no_private_value_and_no_name_is_anywhere_in_a_reduced_bag(here):
    here.store.who = "Bo Lund"
    record(here, nest_north="903.226")
    plan_and_write(here)
    handed = hand_over(here.work, "wren")
    everything = b"\n".join([*handed.files.values(), *map(str.encode, handed.files)])
    for secret in (*SECRETS.values(), "903.226", "Ida Vale", "Max Ohm", "Bo Lund"):
        assert secret.encode() in b"\n".join(whole(here).values())
        assert secret.encode() not in everything, secret
    for public in (b"tilt_gain", b"5.5", b"person 1"):
        assert public in everything


def test_what_is_left_out_is_named_with_its_hash(here):
    plan_and_write(here)
    handed = hand_over(here.work, "wren")
    said = "\n".join(handed.left_out)
    for name in SECRETS:
        assert f"setting {name}" in said
    listing_ = next(o for o in here.store.originals() if o.kind == "listing")
    assert f"original before.txt (SHA-256 {listing_.sha256}): left out" in said
    assert f"refit wren-r1 revision 1 (SHA-256 {here.store.revisions('refit', 'wren-r1')[0].sha256})" in said
    assert f"data/originals/{listing_.sha256}" not in handed.files
    assert json.loads(handed.files["data/about.json"])["left_out"] == list(handed.left_out)


def test_a_reduced_bag_starts_a_logbook_and_never_continues_one(here, there):
    plan_and_write(here)
    files = dict(hand_over(here.work, "wren").files)
    there.takes(files)
    found = verify(there.store)
    assert found.holds, found
    (kept,) = there.store.documents("record")
    assert not any(value.encode() in kept.body for value in SECRETS.values())
    assert [entry.kind for entry in there.store.book("wren")] == ["received", "record"]
    with pytest.raises(UsageError, match="without what is private"):
        here.takes(files)


def test_a_reduced_bag_without_any_name_is_no_whole_one(tmp_path, there):
    nameless = with_aircraft(tmp_path / "n", who="not stated")
    plan_and_write(nameless)
    there.takes(dict(hand_over(nameless.work, "wren").files))
    assert verify(there.store).holds


# ------------------------------------------------------------------------------- bags made to trick


def remade(files: dict[str, bytes], **payload: bytes) -> dict[str, bytes]:
    """A bag whose manifests fit what was changed in it."""
    inside = {path[5:]: data for path, data in files.items() if path.startswith("data/")}
    return bag.make({**inside, **{path.replace("__", "."): data for path, data in payload.items()}}, {})


def test_a_document_that_is_not_what_its_hash_says_is_refused(here, there):
    files = whole(here)
    path = "documents/record/wren-001/1.json"
    body = files[f"data/{path}"].replace(b'"5.5"', b'"5.6"')
    forged = bag.make({**{p[5:]: d for p, d in files.items() if p.startswith("data/")}, path: body}, {})
    with pytest.raises(Damaged, match="hash it was kept under"):
        there.takes(forged)
    assert there.store.books() == ()


def test_a_sheet_number_out_of_reach_is_refused_at_once(here, there):
    files = whole(here)
    lines = files["data/logbook.jsonl"].decode().splitlines()
    first = json.loads(lines[0])
    first["body"]["sheet"] = 10**12
    first["is_reduced"] = True
    forged = "\n".join([json.dumps(first), *lines[1:], ""]).encode()
    with pytest.raises(InputError, match="names sheet"):
        there.takes(remade(files, logbook__jsonl=forged))
    assert there.store.books() == ()


@pytest.mark.parametrize(
    "field, value, says",
    [
        ("number", "1", "lacks number"),
        ("body", [], "lacks body"),
        ("kind", "spell", "does not know: spell"),
        ("version", 9, "newer asflown"),
    ],
)
def test_an_entry_that_is_none_is_refused(here, there, field, value, says):
    files = whole(here)
    lines = files["data/logbook.jsonl"].decode().splitlines()
    first = {**json.loads(lines[0]), field: value}
    with pytest.raises(InputError, match=says):
        there.takes(remade(files, logbook__jsonl="\n".join([json.dumps(first), *lines[1:]]).encode()))


@pytest.mark.parametrize("data", [b"", b"{", b"[]", b"[" * 100_000, b"\xff", b'{"layout":2}', b"null"])
@pytest.mark.parametrize("name", ["about__json", "logbook__jsonl", "documents__jsonl", "originals__jsonl"])
def test_parts_that_are_something_else_give_an_error_and_nothing_is_kept(here, there, name, data):
    files = remade(whole(here), **{name: data})
    if not data and name.endswith("__jsonl"):
        there.takes(files)  # a bag of nothing: no document, no original, or no entry
        return
    with pytest.raises(AsflownError):
        there.takes(files)
    assert there.store.books() == ()
    assert there.store.documents("aircraft") == ()


MADE: list[dict[str, bytes]] = []


def a_bag(folder) -> dict[str, bytes]:
    """Made once."""
    if not MADE:
        MADE.append(whole(with_aircraft(folder / "here")))
    return MADE[0]


@given(st.data())
def test_any_change_of_a_bag_is_found_or_refused(tmp_path_factory, data):
    folder = tmp_path_factory.mktemp("fuzz")
    files = a_bag(folder)
    path = data.draw(st.sampled_from(sorted(files)))
    body = bytearray(files[path])
    place = data.draw(st.integers(0, len(body) - 1))
    body[place] ^= data.draw(st.integers(1, 255))
    at = desk(folder / "there", "Bo Lund")
    try:
        at.takes({**files, path: bytes(body)})
    except AsflownError:
        assert at.store.books() == ()
    else:
        assert path == "tagmanifest-sha256.txt"  # upper and lower case of a hash say the same
    at.store.close()


def test_the_listing_of_the_test_holds_the_secrets():
    assert all(value.encode() in listing() for value in SECRETS.values())
