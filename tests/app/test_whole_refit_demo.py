"""A whole refit of the demo's aircraft, in process: from as found to signed, half-written, and back."""

from __future__ import annotations

from copy import deepcopy
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import pytest
from golden_text import check_golden
from memory_store import MemoryStore, TickingClock

from asflown.app import aircraft, carry_over, decide, kept, releases
from asflown.app.back import prepare_back, prove_back
from asflown.app.cards import cards_of
from asflown.app.logbook import verify
from asflown.app.read_back import Reading, read_back
from asflown.app.replies import RepliesRead, read_transcript
from asflown.app.sign import Signature, sign
from asflown.app.take_record import Request, take_record
from asflown.app.views.read_back_shown import read_back_sheet
from asflown.app.views.replies_shown import replies_sheet
from asflown.app.views.written_out import written_sheet
from asflown.app.workplace import Workplace
from asflown.app.write_out import WrittenOut, rest_of, write_out
from asflown.core.record import Extent
from asflown.core.refit import State
from asflown.demo import releases as folders
from asflown.demo import scenario
from asflown.demo.device import SimulatedBoard
from asflown.errors import NeedsPerson
from asflown.faces.cli.console import sheet_text


@dataclass
class Bench:
    """One aircraft on the bench: its store, its board, what was written out."""

    work: Workplace
    craft: str
    board: SimulatedBoard
    out: WrittenOut
    files: dict[str, bytes]

    def file(self, begins: str) -> str:
        return next(data for name, data in self.files.items() if name.startswith(begins)).decode()

    def stored(self, extent: str = "full") -> bytes:
        self.board.save()
        self.board.restart()
        return self.board.listing(extent)


def bench(
    craft: str = "plover",
    *,
    changes_only: bool = False,
    everything: bool | None = None,
    work: Workplace | None = None,
) -> Bench:
    """As found, planned, decided, written out; the board has the new image, erased."""
    item = scenario.craft(craft)
    if work is None:
        work = deepcopy(planned(craft, changes_only))
    else:
        prepare(work, craft, changes_only)
    got: dict[str, bytes] = {}
    out = write_out(work, craft, lambda given: got.update(given) or "out", everything=everything)
    board = SimulatedBoard(scenario.OLD_RELEASE, item.differing())
    board.load_image(scenario.NEW_RELEASE)
    return Bench(work, craft, board, out, got)


@cache
def planned(craft: str, changes_only: bool) -> Workplace:
    """A workplace in which a refit is decided; copied for each test."""
    clock = TickingClock()
    work = Workplace(MemoryStore(clock, scenario.KEEPER), clock, scenario.KEEPER)
    prepare(work, craft, changes_only)
    return work


def prepare(work: Workplace, craft: str, changes_only: bool) -> None:
    text = scenario.craft(craft).text.encode()
    aircraft.new_aircraft(work, aircraft.from_file(text, f"{craft}.toml"))
    for name, files in folders.folders().items():
        releases.add_release(work, files, name)
    take_record(work, Request(scenario.found_listing(craft, changes_only=changes_only), "before.txt", craft))
    decided(work, craft)


def decided(work: Workplace, craft: str) -> int:
    """Decide what is open, what is recommended first; how many decisions it took."""
    made = carry_over.make_plan(work, carry_over.Ask(craft, scenario.NEW_RELEASE))
    asked = 0
    while made.plan.open_groups:
        group = min(made.plan.open_groups, key=lambda g: not g.id.startswith("successor"))
        options = {option.id: option for option in group.lines[0].options}
        usable = [word for word in group.option_ids if word != "value"]
        word = next((word for word in usable if options[word].is_recommended), usable[0])
        made = decide.decide(work, craft, decide.Choice(group.id, word, "as flown so far"))
        asked += 1
    return asked


def replies(at: Bench, transcript: str) -> RepliesRead:
    return read_transcript(at.work, at.craft, transcript.encode(), "transcript.txt")


def gone_back(at: Bench) -> bytes:
    """What the go-back sheet says, on the board: the original bytes are not looked at."""
    ready = prepare_back(at.work, at.craft)
    at.board.load_image(scenario.OLD_RELEASE)
    transcript = at.board.paste(ready.listing.decode())
    assert "\n!" not in transcript
    return at.stored()


def as_found(craft: str) -> dict[object, str]:
    """The found values but those a board makes or counts itself."""
    firmware = SimulatedBoard(scenario.OLD_RELEASE).firmware
    values = scenario.craft(craft).values()
    return {key: value for key, value in values.items() if not firmware.by_name[key.name].read_only}


@pytest.mark.parametrize("everything", [None, True])
@pytest.mark.parametrize("changes_only", [False, True])
@pytest.mark.parametrize("craft", ["plover", "dunlin", "knot"])
def test_written_read_back_signed_and_gone_back(
    craft: str, changes_only: bool, everything: bool | None
) -> None:
    at = bench(craft, changes_only=changes_only, everything=everything)
    read = replies(at, at.board.paste(at.file("to-write")))
    assert read.is_clean, [(e.reply.text, e.says) for e in read.explained]
    full = read_back(at.work, craft, Reading(at.stored(), "after.txt"))
    assert full.compared.is_as_planned, full.compared.differing
    changes = read_back(at.work, craft, Reading(at.board.listing("changes"), "changes.txt"))
    assert changes.compared.extent is Extent.CHANGES_ONLY
    assert changes.compared.is_as_planned, changes.compared.differing
    signed = sign(at.work, craft, Signature("Ines Halloran", "keeper"))
    assert signed.proven == "settings proven; not bench-checked, not flown"
    checked = verify(at.work.store)
    assert checked.holds, checked
    assert len(checked.rehearsals) == 1
    back = prove_back(at.work, craft, Reading(gone_back(at), "back.txt"))
    assert back.is_back, back.compared.differing
    now = at.board.values()
    assert {key: now[key] for key in as_found(craft)} == as_found(craft)


def test_the_real_store_keeps_it_all(tmp_path: Path) -> None:
    from asflown.adapters.store import open_store

    clock = TickingClock()
    work = Workplace(open_store(tmp_path / "store", clock=clock, who="Ines"), clock, "Ines")
    at = bench(work=work)
    assert replies(at, at.board.paste(at.file("to-write"))).is_clean
    assert read_back(work, "plover", Reading(at.stored(), "after.txt")).compared.is_as_planned
    sign(work, "plover", Signature("Ines Halloran", "keeper"))
    again = open_store(tmp_path / "store", clock=clock, who="Ines")
    checked = verify(again)
    assert checked.holds, checked
    assert kept.refits(again, "plover")[-1].refit.state is State.SIGNED


def test_what_a_person_reads() -> None:
    at = bench()
    check_golden("demo-writing-sheet.txt", sheet_text(written_sheet(at.out)))
    check_golden("demo-readme.txt", at.file("README"))
    check_golden("demo-to-write.txt", at.file("to-write").replace("\r\n", "\n"))
    check_golden("demo-go-back.txt", at.file("go-back").replace("\r\n", "\n"))
    at.board.stop_after(40)
    check_golden(
        "demo-replies-stopped.txt",
        sheet_text(replies_sheet(replies(at, at.board.paste(at.file("to-write"))))),
    )
    read = read_back(at.work, "plover", Reading(at.stored(), "after.txt"))
    check_golden("demo-partly-written.txt", sheet_text(read_back_sheet(read)))
    cards = {state.card.id: state.card for state in cards_of(at.work, "plover").states}
    assert {"calibrations", "safety-changes", "retired", "decisions"} <= set(cards)
    assert any(
        "silent.wait = 15" in item.text and "1500" in item.text for item in cards["safety-changes"].items
    )


@pytest.mark.parametrize("stop", [1, 2, 3, 17, 40, 77])
def test_half_written_then_the_rest_or_all_again(stop: int) -> None:
    at = bench()
    text = at.file("to-write")
    at.board.stop_after(stop)
    read = replies(at, at.board.paste(text))
    assert read.job.refit.state is State.PARTLY_WRITTEN
    assert sorted(read.replies.found) == [
        number for number, line in enumerate(text.splitlines()[:stop], 1) if line.strip()
    ]
    with pytest.raises(NeedsPerson, match="partly written: do not fly"):
        sign(at.work, "plover", Signature("Ines Halloran", "keeper"))
    half = read_back(at.work, "plover", Reading(at.stored(), "half.txt"))
    assert not half.compared.is_as_planned
    rest = rest_of(at.work, "plover").data.decode()
    assert len(rest.splitlines()) <= len(text.splitlines()) - max(0, stop - 6)
    assert replies(at, at.board.paste(rest)).is_clean
    assert read_back(at.work, "plover", Reading(at.stored(), "after.txt")).compared.is_as_planned
    at.board.erase()
    at.board.paste(text)
    assert read_back(at.work, "plover", Reading(at.stored(), "again.txt")).compared.is_as_planned


def test_a_half_written_aircraft_goes_back() -> None:
    at = bench()
    at.board.stop_after(20)
    replies(at, at.board.paste(at.file("to-write")))
    assert prove_back(at.work, "plover", Reading(gone_back(at), "back.txt")).is_back


def test_the_as_found_listing_typed_into_the_new_release_is_no_success() -> None:
    """The classic mistake: the old numbers under the new names."""
    at = bench()
    transcript = at.board.paste(at.file("as-found-original"))
    read = replies(at, transcript)
    assert read.sent.what in ("the as-found listing", "the go-back listing")
    assert read.explained
    gone = [
        e
        for e in read.explained
        if e.reply.after and e.reply.after.key and e.reply.after.key.name == "radio.port"
    ]
    assert all(e.says for e in gone)
    after = read_back(at.work, "plover", Reading(at.stored(), "after.txt"))
    assert not after.compared.is_as_planned
    named = {item.key.name: (item.planned, item.read) for item in after.compared.differing}
    assert named["silent.wait"] == ("1500", "100") or named["silent.wait"][1] != "1500"
    assert after.job.refit.state is State.PARTLY_WRITTEN
