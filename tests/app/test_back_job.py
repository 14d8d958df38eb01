"""Going back, from every state, proven by a read-back; and the cards and gates."""

from __future__ import annotations

import pytest
from golden_text import check_golden
from small_world import FOUND, NEW, OLD, World, planned, world

from asflown.app import carry_over, kept
from asflown.app.back import prepare_back, prove_back
from asflown.app.cards import answer_gate, cards_of, find_gate, mark
from asflown.app.logbook import verify
from asflown.app.read_back import Reading, read_back
from asflown.app.sign import Signature, sign
from asflown.app.views.cards_shown import cards_json, cards_sheet, gates_sheet
from asflown.app.views.wayback_shown import back_done_json, back_done_sheet, back_json, back_sheet
from asflown.app.write_out import write_out
from asflown.core.cards import Phase
from asflown.core.refit import GateName, State
from asflown.errors import NeedsPerson, UsageError
from asflown.faces.cli.card_text import WIDTH, card_text
from asflown.faces.cli.console import sheet_text


def loaded(stop_after: int | None = None) -> World:
    """Written out, new image loaded, listing sent (perhaps cut), stored."""
    made = world()
    planned(made)
    got: dict[str, bytes] = {}
    write_out(made.work, "wren", lambda files: got.update(files) or "out")
    made.board.load_image(NEW)
    made.board.paste(got["to-write-thrush-2.0.txt"].decode(), stop_after=stop_after)
    made.board.save()
    read_back(made.work, "wren", Reading(made.board.listing(), "after.txt"))
    return made


def gone_back(made: World) -> bytes:
    """Do on the board what the go-back sheet says; the original bytes are not looked at."""
    ready = prepare_back(made.work, "wren")
    made.board.load_image(OLD)  # erases, as the sheet's order asks
    made.board.paste(ready.listing.decode())
    made.board.save()
    made.board.restart()
    return made.board.listing()


@pytest.mark.parametrize("from_state", ["read back", "partly written", "signed"])
def test_every_as_found_setting_is_there_again(from_state: str) -> None:
    made = loaded(stop_after=2 if from_state == "partly written" else None)
    if from_state == "signed":
        sign(made.work, "wren", Signature("Ida Holm", "maintainer"))
        assert kept.aircraft(made.store, "wren").release == NEW.id
    done = prove_back(made.work, "wren", Reading(gone_back(made), "back.txt"))
    assert done.is_back
    assert made.board.live == FOUND
    assert done.job.refit.state is State.WENT_BACK
    assert kept.aircraft(made.store, "wren").release == OLD.id
    entry = made.store.book("wren")[-1 if from_state != "signed" else -2]
    assert entry.kind == "went back"
    if from_state == "read back":
        check_golden("went-back.txt", sheet_text(back_done_sheet(done)))
    assert back_done_json(done)["is_back"] is True
    assert verify(made.store).holds


def test_a_setting_that_did_not_come_back_is_named() -> None:
    made = loaded()
    listing = gone_back(made).replace(b"low_pack be 11.2", b"low_pack be 10.5")
    done = prove_back(made.work, "wren", Reading(listing, "back.txt"))
    assert not done.is_back
    assert [(i.key.name, i.planned, i.read) for i in done.compared.differing] == [
        ("low_pack", "11.2", "10.5")
    ]
    assert done.job.refit.state is State.PARTLY_WRITTEN
    assert done.rest is not None
    assert done.rest.data == b"let low_pack be 11.2\r\n"
    check_golden("back-differs.txt", sheet_text(back_done_sheet(done)))


def test_a_signed_refit_that_is_not_back_yet_stays_signed_and_says_do_not_fly() -> None:
    made = loaded()
    sign(made.work, "wren", Signature("Ida Holm", "maintainer"))
    listing = gone_back(made).replace(b"low_pack be 11.2", b"low_pack be 10.5")
    done = prove_back(made.work, "wren", Reading(listing, "back.txt"))
    assert done.job.refit.state is State.SIGNED
    assert "do not fly" in back_done_sheet(done).warnings[0]


def test_the_way_back_is_there_before_anything_was_written_out() -> None:
    """The new image is on the board already when its factory listing must be captured first."""
    made = world()
    carry_over.make_plan(made.work, carry_over.Ask("wren", NEW.id))
    files: dict[str, bytes] = {}
    ready = prepare_back(made.work, "wren", lambda given: files.update(given) or "wren-back")
    assert sorted(files) == ["README.txt", "as-found-original.txt", "go-back-thrush-1.0.txt"]
    check_golden("go-back-readme.txt", files["README.txt"].decode())
    check_golden("go-back-sheet.txt", sheet_text(back_sheet(ready)))
    assert back_json(ready)["steps"][1].startswith("erase")
    refit = kept.needed_refit(made.store, "wren").refit
    assert refit.gates[GateName.WAY_BACK].answer == "passed"
    made.board.load_image(NEW)
    done = prove_back(made.work, "wren", Reading(gone_back(made), "back.txt"))
    assert done.is_back
    assert done.job.refit.state is State.WENT_BACK


def test_nothing_to_go_back_from() -> None:
    made = loaded()
    prove_back(made.work, "wren", Reading(gone_back(made), "back.txt"))
    with pytest.raises(NeedsPerson, match="has ended"):
        prepare_back(made.work, "wren")


def test_cards_are_noted_close_and_open_again() -> None:
    made = loaded()
    with pytest.raises(NeedsPerson, match="'propellers-off' comes first"):
        mark(made.work, "wren", "motors", "pass")
    mark(made.work, "wren", "propellers-off", "pass")
    with pytest.raises(UsageError, match="say what was seen"):
        mark(made.work, "wren", "orientation", "fail")
    found = mark(made.work, "wren", "orientation", "fail", "pitch reads the other way")
    check_golden("cards-failed.txt", sheet_text(cards_sheet(found)))
    with pytest.raises(NeedsPerson, match="is closed: 'orientation' failed"):
        mark(made.work, "wren", "sticks", "pass")
    with pytest.raises(NeedsPerson, match="nothing is signed while something failed"):
        sign(made.work, "wren", Signature("Ida Holm", "maintainer"))
    mark(made.work, "wren", "orientation", "pass", "board turned")
    for found_state in cards_of(made.work, "wren").states:
        if found_state.card.phase is Phase.BENCH and found_state.word == "not stated":
            found = mark(made.work, "wren", found_state.card.id, "pass")
    assert found.proven == "settings proven; bench-checked, not flown"
    assert kept.needed_refit(made.store, "wren").refit.gates[GateName.BENCH_CARDS].answer == "passed"
    found = mark(made.work, "wren", "first-hover", "pass", "steady")
    assert found.proven.endswith("hovered half a minute, no trial flown")
    assert cards_json(found)["cards"][-1]["result"] == "pass"
    marks = [e.body["card"] for e in made.store.book("wren") if e.kind == "card"]
    assert marks.count("orientation") == 2


def test_the_baseline_card_answers_its_gate() -> None:
    made = world()
    planned(made)
    mark(made.work, "wren", "1", "pass", "log 41, 3 min")
    gate = kept.needed_refit(made.store, "wren").refit.gates[GateName.BASELINE_FLIGHT]
    assert (gate.answer, gate.statement) == ("passed", "log 41, 3 min")


def test_gates_are_answered_by_name_or_beginning_and_not_against_the_tool() -> None:
    made = loaded()
    job = answer_gate(made.work, "wren", "baseline", "impossible", "the logger is broken")
    assert job.refit.gates["baseline flight"].answer == "impossible"
    assert find_gate("read-back") is GateName.READ_BACK
    with pytest.raises(UsageError, match="not answered by hand"):
        answer_gate(made.work, "wren", "read-back", "passed", "looks fine")
    with pytest.raises(UsageError, match="several gates"):
        find_gate("b")
    with pytest.raises(UsageError, match=r"say the fact or the reason"):
        answer_gate(made.work, "wren", "image", "passed", " ")
    check_golden("gates.txt", sheet_text(gates_sheet(job, "2026-03-07T10:00:00+01:00")))


def test_every_card_prints_on_a_narrow_page_with_its_safety_box_on_top() -> None:
    made = loaded()
    pages = [
        card_text(state.card, "wren", "thrush-1.0 -> thrush-2.0")
        for state in cards_of(made.work, "wren").states
    ]
    for page in pages:
        lines = page.splitlines()
        assert max(map(len, lines)) <= WIDTH
        top = next(n for n, line in enumerate(lines) if line.startswith("+--"))
        assert top <= 5
        assert "[    ] pass   [    ] fail   [    ] not tested" in page
    check_golden("cards-print.txt", "\n".join(pages))
