"""The simulated board: what it takes, holds, refuses, forgets."""

import pytest

from asflown.core.record import Key
from asflown.demo.device import SimulatedBoard
from asflown.demo.firmware.changes import NEW, OLD


@pytest.fixture
def board() -> SimulatedBoard:
    return SimulatedBoard(OLD)


def value(board: SimulatedBoard, name: str, bank: str | None = None, index: str | None = None) -> str:
    return board.values()[Key(name, bank, index)]


def test_takes_a_row_of_its_own_listing(board) -> None:
    assert board.type("motor.idle        60           permille") == ""
    assert board.type("motor.top 900") == ""
    assert (value(board, "motor.idle"), value(board, "motor.top")) == ("60", "900")


def test_takes_every_line_of_its_own_listing_without_a_word(board) -> None:
    rows = board.listing("full").decode().split("\r\n")[1:-1]
    replies = [board.type(row) for row in rows]
    assert {reply for reply in replies if reply} == {
        "! craft.hours is only shown", "! craft.flights is only shown",
    }  # fmt: skip


def test_does_not_look_at_the_unit(board) -> None:
    assert board.type("silent.wait 15 ms") == ""
    assert value(board, "silent.wait") == "15"


@pytest.mark.parametrize("line", ["", "   ", "# remark", "~~~~  ~~~~", "name  value  unit"])
def test_passes_over(board, line) -> None:
    before = dict(board.values())
    assert board.type(line) == ""
    assert dict(board.values()) == before


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("no.such 5", "no.such is no setting of this release"),
        ("motor.idle 900", "takes 20 to 200"),
        ("motor.idle -1", "takes 20 to 200"),
        ("motor.idle ten", "takes a number"),
        ("motor.idle 60.5", "takes whole numbers"),
        ("motor.idle 1e2", "takes a number"),
        ("roll.firm 0.25", "needs a bank chosen first"),
        ("stick.order[9] 1", "has no such place"),
        ("stick.order 1", "has no such place"),
        ("craft.hours 5", "is only shown"),
        ("<< set 7 >>", "no set 7"),
        ("hum.a.hz 200", "waits for hum.use"),
        ("hum.high 80", "takes 100"),
        ("dance", "what is 'dance'?"),
    ],
)
def test_refuses_and_changes_nothing(board, line, says) -> None:
    before = dict(board.values())
    if line == "<< set 7 >>":
        assert says in board.type(line)
    elif line == "hum.high 80":
        board.type("hum.low 300")
        before = dict(board.values())
        assert "must be more than hum.low" in board.type("hum.high 250")
    else:
        assert says in board.type(line)
    assert dict(board.values()) == before


def test_holds_at_the_nearest_where_it_clips(board) -> None:
    assert "held at 500" in board.type("shake.cut.hz 900")
    assert value(board, "shake.cut.hz") == "500"


def test_a_value_waits_for_another(board) -> None:
    board.type("hum.use 1")
    assert board.type("hum.a.hz 200") == ""
    assert value(board, "hum.a.hz") == "200"
    board.type("hum.use 0")
    assert board.type("hum.b.hz 0") == ""


def test_banks(board) -> None:
    board.type("<< set 2 >>")
    board.type("roll.firm 0.5")
    board.type("motor.idle 70")
    assert value(board, "roll.firm", "set 2") == "0.500000"
    assert value(board, "roll.firm", "set 1") == "0.187500"
    assert value(board, "motor.idle") == "70"


def test_indexes(board) -> None:
    assert board.type("stick.order[3] 4") == ""
    assert value(board, "stick.order", index="3") == "4"


def test_stores_32_bit_floats(board) -> None:
    board.type("<< set 1 >>")
    board.type("roll.calm 0.1")  # nearest 32-bit float 0.100000001490116119384765625 (IEEE 754 binary32)
    assert value(board, "roll.calm", "set 1") == "0.10000000"
    board.type("roll.calm 0.12345678")  # between two 32-bit floats: 0.12345678 is held as 0.1234567761…
    assert value(board, "roll.calm", "set 1") == "0.12345678"
    board.type("roll.firm 0.2000000001")
    assert value(board, "roll.firm", "set 1") == "0.200000"


def test_what_is_not_stored_is_lost_on_restart(board) -> None:
    board.type("motor.idle 60")
    assert board.unsaved == (Key("motor.idle"),)
    board.restart()
    assert value(board, "motor.idle") == "55"
    board.type("motor.idle 60")
    assert board.type("store") == "done"
    board.restart()
    assert value(board, "motor.idle") == "60"


def test_erase_and_load_image_forget_settings_but_not_counters(board) -> None:
    board.make_on_aircraft({Key("craft.hours"): "77", Key("level.roll"): "5"})
    board.type("motor.idle 60")
    board.save()
    board.erase()
    assert (value(board, "motor.idle"), value(board, "level.roll"), value(board, "craft.hours")) == (
        "55",
        "0",
        "77",
    )
    board.load_image(NEW)
    assert board.release == NEW
    assert (value(board, "motor.idle"), value(board, "craft.hours")) == ("35", "77")


def test_a_made_calibration_does_not_store_what_was_typed(board) -> None:
    board.type("motor.idle 60")
    board.make_on_aircraft({Key("level.roll"): "5"})
    board.restart()
    assert (value(board, "motor.idle"), value(board, "level.roll")) == ("55", "5")


def test_pastes_with_echo_and_replies(board) -> None:
    shown = board.paste("motor.idle 60\r\nno.such 1\nmotor.top 900\n")
    assert shown.split("\r\n") == [
        "wrackline> motor.idle 60",
        "wrackline> no.such 1",
        "! no.such is no setting of this release",
        "wrackline> motor.top 900",
        "wrackline> ",
    ]


def test_stops_half_way_on_request(board) -> None:
    board.stop_after(1)
    shown = board.paste("motor.idle 60\nmotor.top 900\njam.stop 20\n")
    assert shown == "wrackline> motor.idle 60\r\nwrackline> motor."
    assert board.is_cut
    assert board.type("motor.top 900") == ""
    assert (value(board, "motor.idle"), value(board, "motor.top")) == ("60", "1000")
    board.restart()
    assert (value(board, "motor.idle"), board.is_cut) == ("55", False)
    assert board.paste("motor.top 900\n").endswith("wrackline> ")


def test_a_seeded_board_stops_by_its_seed() -> None:
    text = "".join(f"motor.idle {50 + n}\n" for n in range(20))

    def run(seed: int) -> list[str]:
        board = SimulatedBoard(OLD, seed=seed)
        made = []
        for _ in range(6):
            made.append(board.paste(text))
            board.restart()
        return made

    assert run(4) == run(4)
    stops = [sum(not shown.endswith("> ") for shown in run(seed)) for seed in range(10)]
    assert 0 < sum(stops) < 60


def test_listings(board) -> None:
    assert board.listing("changes").decode().count("\r\n") == board.listing("changes").count(b"\n")
    board.type("set.in.use 3")
    assert b"# in use: set 3" in board.listing("full")
    assert b"set.in.use        3" in board.listing("changes")
    assert b"motor.idle" not in board.listing("changes")
    with pytest.raises(ValueError, match="'full' or 'changes'"):
        board.listing("some")


def test_an_unknown_found_value_is_an_error() -> None:
    with pytest.raises(KeyError, match=r"no\.such"):
        SimulatedBoard(OLD, {Key("no.such"): "1"})
