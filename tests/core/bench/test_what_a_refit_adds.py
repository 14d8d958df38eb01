"""Wires and ports that moved, calibrations that no longer hold, and that nothing of a plan is left out."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from asflown.core.aircraft import Aircraft, FittedDevice
from asflown.core.bench.moves import Move, retasked, rewired
from asflown.core.bench.refit_cards import BenchFacts, cards_for
from asflown.core.bench.stale import ON_BOARD, stale, turned
from asflown.core.cards import Phase, Propellers
from asflown.core.carry.dispositions import Basis, Disposition, Found, Left, Line, Settled
from asflown.core.catalog import Catalog, CatalogSource, Choice, Consequence, ParameterDef
from asflown.core.finding import Finding
from asflown.core.plan import Plan, Purpose
from asflown.core.record import Key


def aircraft(*devices: FittedDevice) -> Aircraft:
    return Aircraft("wren", "Wren", devices=devices)


def catalog(*parameters: ParameterDef) -> Catalog:
    return Catalog(parameters, CatalogSource.STATED)


def plan(*lines: Line, purpose: Purpose = Purpose.REFIT) -> Plan:
    return Plan("wren", purpose, "thrush-1.0", "thrush-2.0", len(lines), lines)


def line(kind: Disposition, name: str, consequence: Consequence = Consequence.SAFETY, **more) -> Line:
    new = () if kind is Disposition.RETIRE else (Left(Key(name), None if kind is Disposition.REDO else "2"),)
    return Line(name, kind, (Found(Key(name), "1"),), new, "why", Basis.NOTE, consequence, **more)


def test_a_device_on_another_port_one_that_came_and_one_that_went_are_moves() -> None:
    before = aircraft(
        FittedDevice("ear", "receiver", port="a"), FittedDevice("eye", "camera link", port="b"),
        FittedDevice("nose", "barometer", port="c"),
    )  # fmt: skip
    after = aircraft(
        FittedDevice("ear", "receiver", port="d"),
        FittedDevice("nose", "barometer", port="c"),
        FittedDevice("lamp", "lights"),
    )
    assert rewired(before, after) == (
        Move("ear", "a", "d", is_wire=True),
        Move("eye", "b", "not fitted", is_wire=True),
        Move("lamp", "not fitted", "not stated", is_wire=True),
    )
    assert rewired(before, before) == ()


OLD_PORT = ParameterDef(
    "line_a", role="serial.a.does", choices=(Choice("0", "nothing"), Choice("4", "receiver"), Choice("7", "log"))
)  # fmt: skip
NEW_PORT = ParameterDef(
    "port_a", role="serial.a.does", choices=(Choice("0", "nothing"), Choice("1", "Receiver"), Choice("4", "log"))
)  # fmt: skip


@pytest.mark.parametrize(
    ("found", "planned", "moves"),
    [
        ("4", "1", ()),  # renumbered: the same work
        ("4", "4", (Move("port a", "4 (receiver)", "4 (log)", ("port_a",)),)),  # the same number: other work
        ("7", "4", ()),
    ],
)
def test_a_port_is_compared_by_what_its_number_means(found, planned, moves) -> None:
    made = retasked({Key("line_a"): found}, catalog(OLD_PORT), {Key("port_a"): planned}, catalog(NEW_PORT))
    assert made == moves


def test_outputs_without_words_are_compared_as_numbers() -> None:
    pin = catalog(ParameterDef("pin", role="motor.1.output"))
    assert retasked({Key("pin"): "3"}, pin, {Key("pin"): "3.0"}, pin) == ()
    (move,) = retasked({Key("pin"): "3"}, pin, {Key("pin"): "4"}, pin)
    assert (move.subject, move.was, move.now) == ("motor 1", "3", "4")


def mount(unit: str, name: str = "mount") -> Catalog:
    return catalog(ParameterDef(name, unit=unit, role="board.orientation.yaw"))


@pytest.mark.parametrize(
    ("before", "after", "said"),
    [
        ("90", "90", ()),
        ("-90", "270", ()),  # a whole turn is none
        ("180", "-180", ()),
        ("0", "0.4", ()),
        ("0", "90", ("board orientation, yaw 0° → 90°",)),
    ],
)
def test_a_board_was_turned_when_the_angle_differs_by_no_whole_turn(before, after, said) -> None:
    made = turned({Key("mount"): before}, mount("deg"), {Key("mount"): after}, mount("deg"))
    assert made == (dict.fromkeys(ON_BOARD, said) if said else {})


def test_the_angle_is_compared_whatever_its_unit() -> None:
    old, new = mount("deg"), mount("rad", "seat")
    assert turned({Key("mount"): "90"}, old, {Key("seat"): "1.5707963"}, new) == {}
    assert turned({Key("mount"): "90"}, old, {Key("seat"): "90"}, new) != ()


def test_a_turned_board_makes_every_sensor_on_it_a_bench_item_by_itself() -> None:
    kept = plan(line(Disposition.KEEP, "needle"))
    facts = BenchFacts(stale=stale(kept, dict.fromkeys(ON_BOARD, ("yaw 0° → 90°",)), None))
    cards = {card.id: card for card in cards_for(kept, None, None, facts=facts)}
    texts = [item.text for item in cards["calibrations"].items]
    assert len(texts) == len(ON_BOARD)
    assert all("yaw 0° → 90°" in text for text in texts)
    assert "calibrations" not in {card.id for card in cards_for(kept)}


def test_another_board_has_other_sensors_and_what_the_plan_redoes_is_not_told_twice() -> None:
    new = catalog(
        ParameterDef("needle", role="calibration.magnetometer.offset.x"),
        ParameterDef("level", role="calibration.level.roll"),
    )
    made = stale(plan(line(Disposition.REDO, "needle"), purpose=Purpose.NEW_BOARD), {}, new)
    assert [one.sensor for one in made] == ["level", "accelerometer", "gyro"]
    assert made[0].settings == ("level",)
    assert stale(plan(line(Disposition.KEEP, "needle")), {}, new) == ()


SETTLED = Settled("keep", "flown so for years", "Ida", "2026")
KINDS = st.sampled_from([
    Disposition.KEEP, Disposition.RENAME, Disposition.CONVERT, Disposition.SPLIT, Disposition.MERGE,
    Disposition.RETIRE, Disposition.REDO, Disposition.ADOPT,
])  # fmt: skip


@given(
    st.lists(st.tuples(KINDS, st.sampled_from(list(Consequence)), st.booleans()), max_size=12),
    st.integers(0, 3),
)
def test_nothing_that_must_be_looked_at_is_left_out(drawn, moves) -> None:
    """The law of the bench: every decision, serious conversion, retired function, redo and move has its check."""
    lines = [
        line(kind, f"s{n}", consequence, settled=SETTLED if settled else None)
        for n, (kind, consequence, settled) in enumerate(drawn)
    ]
    facts = BenchFacts(
        moves=tuple(Move(f"device {n}", "a", "b", is_wire=True) for n in range(moves)),
        ports=(Finding("ports", "two", Consequence.SAFETY, "both need one stream"),),
    )
    cards = cards_for(plan(*lines), None, None, facts=facts)
    on_cards = {card.id: {id for item in card.items for id in item.lines} for card in cards}

    def ids(*kinds: Disposition, serious: frozenset[Consequence] = frozenset(Consequence)) -> set[str]:
        return {one.id for one in lines if one.disposition in kinds and one.consequence in serious}

    hurts = frozenset({Consequence.SAFETY, Consequence.UNKNOWN})
    assert on_cards.get("calibrations", set()) == ids(Disposition.REDO)
    assert on_cards.get("safety-changes", set()) == ids(
        Disposition.CONVERT, Disposition.SPLIT, Disposition.MERGE, serious=hurts
    )
    assert on_cards.get("retired", set()) == ids(
        Disposition.RETIRE, serious=hurts | frozenset({Consequence.HANDLING})
    )
    assert on_cards.get("decisions", set()) == {one.id for one in lines if one.settled is not None}
    wires = next(card for card in cards if card.id == "port-moves")
    assert len(wires.items) == moves + 1
    assert [card.number for card in cards] == list(range(1, len(cards) + 1))
    for card in cards:
        if card.phase is Phase.BENCH:
            assert card.propellers is Propellers.OFF
        if card.phase is Phase.BENCH and card.is_powered:
            boxed = " ".join(card.safety)
            assert "PROPELLERS OFF" in boxed
            assert "Frame strapped down" in boxed
            assert "Lithium pack" in boxed
            assert "Local rules and qualified people come first" in boxed
