"""Loading with faults: the board ends with the new image proven, the old one, or a state that is told and mended.

Each load with a fault is followed by one without, on the same flash and the same store, as a person would run it:
that one has to end well. The same is counted for going back. ``ASFLOWN_LOADS`` says how many random loads are
tried (default 400); ``ASFLOWN_LOADS_SEED`` the seed. What they came to is printed (``pytest -s``).
"""

from __future__ import annotations

import os
import random
from collections import Counter

import pytest
from load_world import (
    FLASH_KINDS,
    IMAGE_AT,
    NEW,
    OLD,
    SERIAL_KINDS,
    START,
    USB_KINDS,
    Bench,
    Killed,
    bench,
    fresh_store,
    load,
    refit_of,
)

from asflown.app import kept
from asflown.core.refit import State
from asflown.demo.flash import SimulatedFlash
from asflown.errors import AsflownError, DeviceError

COUNT = int(os.environ.get("ASFLOWN_LOADS", "400"))
SEED = int(os.environ.get("ASFLOWN_LOADS_SEED", "20261127"))
#: What spoils the flash itself: no order of writing can keep a half-written board from starting then.
SPOILS = {"lie", "tear"}
BLANK = b"\xff" * 8


def steps_of(way: str) -> tuple[int, int]:
    """Steps on the link and acts of the flash in a load without a fault."""
    at = bench(way)
    load(fresh_store(), at)
    return at.link.steps, at.flash.acts


def one(at: Bench, *, spoilt: bool, then_back: bool) -> str:
    """Load with the faults the bench has, look at what is true, then load again without; the first outcome."""
    store = fresh_store()
    refit_before = refit_of(store)
    said = ""
    try:
        load(store, at)
        outcome = "done"
    except Killed:
        outcome = "killed"
    except AsflownError as error:
        outcome, said = "told", error.next_step or ""
    assert (outcome == "told") == bool(said), "every error says what to do next"
    check_truth(at, store, outcome, spoilt=spoilt, before=refit_before.state)
    at.faults.clear()
    at.flash.faults.clear()
    if outcome == "done" and not then_back:
        return outcome
    if then_back and refit_of(store).on_board is not None:
        load(store, at, back=True)
        assert bytes(at.flash.memory) == OLD
    elif outcome != "done":
        load(store, at)
        assert bytes(at.flash.memory) == NEW
        assert refit_of(store).state is refit_before.state
    assert not refit_of(store).is_half_loaded
    assert at.forbidden == []
    return outcome


def check_truth(at: Bench, store, outcome: str, *, spoilt: bool, before: State) -> None:
    refit, flash = refit_of(store), bytes(at.flash.memory)
    for kept_load, _ in kept.loads(store, refit.id):
        assert store.original(kept_load.before.sha256) == OLD
    if outcome == "done":
        assert flash == NEW
        assert refit.state is before
    elif not refit.is_half_loaded:
        # nothing was erased, or all was proven and only the end was cut off
        assert flash in (OLD, NEW)
    else:
        assert refit.state is State.PARTLY_WRITTEN
        vectors = flash[IMAGE_AT - START : IMAGE_AT - START + 8]
        assert spoilt or flash in (OLD, NEW) or vectors == BLANK


def every_fault() -> list[tuple[str, str]]:
    return [
        *(("serial", kind) for kind in (*SERIAL_KINDS, *FLASH_KINDS)),
        *(("usb", kind) for kind in (*USB_KINDS, *FLASH_KINDS)),
    ]


@pytest.mark.parametrize(("way", "kind"), every_fault())
def test_a_fault_at_every_step(way, kind):
    links, acts = steps_of(way)
    outcomes: Counter[str] = Counter()
    for step in range(1, (acts if kind in FLASH_KINDS else links) + 1):
        at = bench(way, seed=step)
        (at.flash.faults if kind in FLASH_KINDS else at.faults)[step] = kind
        outcomes[one(at, spoilt=kind in SPOILS, then_back=step % 2 == 0)] += 1
    print(f"{way} {kind}: {dict(outcomes)}")
    if kind in ("drop", "double", "corrupt", "stall", "mute", "refuse", "deaf", "lie", "flip"):
        assert set(outcomes) == {"done"}, "one fault is overcome in the same run"
    elif kind in ("unplug", "kill"):
        assert outcomes["done"] <= 8  # after the proof, in starting the firmware
    else:
        assert outcomes["told"]


@pytest.mark.parametrize("way", ["serial", "usb"])
def test_random_faults(way):
    links, acts = steps_of(way)
    kinds = SERIAL_KINDS if way == "serial" else USB_KINDS
    numbers = random.Random(f"{SEED} {way}")
    outcomes: Counter[str] = Counter()
    for number in range(COUNT // 2):
        at = bench(way, seed=number)
        for _ in range(numbers.choice((1, 1, 2, 3, 5, 12))):
            at.faults[numbers.randint(1, links * 3 // 2)] = numbers.choice(kinds)
        for _ in range(numbers.choice((0, 0, 1, 2, 4))):
            at.flash.faults[numbers.randint(1, acts * 3 // 2)] = numbers.choice(FLASH_KINDS)
        spoilt = bool(SPOILS & set(at.flash.faults.values()))
        outcomes[one(at, spoilt=spoilt, then_back=bool(number % 2))] += 1
    print(f"{way}: {COUNT // 2} random faulted loads, seed {SEED}: {dict(outcomes)}")
    assert outcomes["done"]
    assert outcomes["told"]


@pytest.mark.parametrize("way", ["serial", "usb"])
def test_a_sector_that_never_erases_is_never_called_done(way):
    at = bench(way)
    at.flash.stuck = frozenset({3})
    store = fresh_store()
    with pytest.raises(DeviceError, match=r"sector 3|worn out") as told:
        load(store, at)
    assert "half written: do not fly" in str(told.value)
    assert refit_of(store).state is State.PARTLY_WRITTEN
    at.flash.stuck = frozenset()
    load(store, at)
    assert bytes(at.flash.memory) == NEW


@pytest.mark.parametrize("way", ["serial", "usb"])
def test_a_sector_that_changes_beside_is_never_called_done(way):
    at = bench(way)
    erase = at.flash.erase
    at.flash.erase = lambda numbers: erase([*numbers, 5])
    at.flash.put(START + 1800, b"kept")
    store = fresh_store()
    with pytest.raises(DeviceError, match="sectors 5 were not to be touched") as told:
        load(store, at)
    assert "half written: do not fly" in str(told.value)
    assert refit_of(store).is_half_loaded


def test_a_device_that_always_lies_is_never_called_done():
    at = bench("usb")
    at.flash.faults = dict.fromkeys(range(1, 10_000), "lie")
    at.flash.read = lambda start, count: SimulatedFlash.read(at.flash, start, count)
    with pytest.raises(DeviceError, match="holds something else at 0x"):
        load(fresh_store(), at)


@pytest.mark.parametrize("way", ["serial", "usb"])
def test_a_protected_flash_stops_before_anything_is_written(way):
    at = bench(way)
    at.flash.protected = True
    store = fresh_store()
    with pytest.raises(AsflownError, match="read protected") as told:
        load(store, at)
    assert told.value.exit_code == 2
    assert (at.flash.erased, at.flash.written, at.forbidden) == (0, 0, [])
    assert refit_of(store).on_board is None


@pytest.mark.parametrize("way", ["serial", "usb"])
def test_a_write_protected_sector_is_told(way):
    at = bench(way)
    at.flash.write_protected = frozenset({4})
    with pytest.raises(DeviceError, match="erasing sector 4") as told:
        load(fresh_store(), at)
    assert "half written: do not fly" in str(told.value)
    assert at.forbidden == []


@pytest.mark.parametrize("step", [5, 60])
def test_stopped_by_a_person_it_says_how_the_board_stands(step):
    at = bench("usb")
    told_state = "half written: do not fly" if step == 60 else "nothing was erased"
    plain = at.open

    def opened(name):
        made = plain(name)
        steps, act = [0], at.link._do

        def counted(do):
            steps[0] += 1
            if steps[0] == step:
                raise KeyboardInterrupt
            return act(do)

        at.link._do = counted
        return made

    at.open = opened
    store = fresh_store()
    with pytest.raises(DeviceError, match="stopped by you") as told:
        load(store, at)
    assert told_state in str(told.value)
    assert str(told.value).count("bring the board into its boot loader") == 1
    at.open = plain
    load(store, at)
    assert bytes(at.flash.memory) == NEW


def test_another_board_in_the_middle_of_a_load_is_refused():
    at = bench("usb")
    at.faults[60] = "unplug"
    store = fresh_store()
    with pytest.raises(DeviceError):
        load(store, at)
    assert refit_of(store).is_half_loaded
    other = bench("usb")
    other.flash.memory[10] ^= 1  # its loader is another one
    with pytest.raises(AsflownError, match="another board than wren's"):
        load(store, other)
    assert other.flash.erased == 0
    load(store, at)
    assert bytes(at.flash.memory) == NEW
