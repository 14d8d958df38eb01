"""The controllers of an aircraft from its record and its release, or the reason why they are not known."""

from __future__ import annotations

import numpy as np
import pytest

from asflown.app.aircraft import new_aircraft
from asflown.app.flights.known import declared_controllers
from asflown.app.releases import add_release
from asflown.app.take_record import Request, take_record
from asflown.core.aircraft import Aircraft
from asflown.core.record import Extent
from asflown.core.signals import AXES
from asflown.demo import releases, scenario
from asflown.errors import UsageError

OLD, NEW = "marram-4.1", "marram-5.0"


def bring(work, release: str, *without: str) -> None:
    files = {path: data for path, data in releases.folders()[release].items() if path not in without}
    add_release(work, files, release)


def found(work, data: bytes, release: str | None = OLD, extent: Extent | None = None) -> None:
    new_aircraft(work, Aircraft("plover", "Plover", release=release))
    take_record(work, Request(data, "before.txt", "plover", extent=extent))


def test_the_worked_examples_aircraft_has_known_controllers(work):
    bring(work, OLD)
    found(work, scenario.found_listing())
    made = declared_controllers(work.store, "plover")
    assert (made.reasons, made.record, made.release) == ({}, "plover-001", OLD)
    assert list(made.controllers) == list(AXES)
    command, rate = made.controllers["roll"].response([0.5, 5.0, 40.0])
    # the second set is in use: firm 0.234375, lead 0.125 / 32 of the change, stay 0.28125 summed, 2000 times a
    # second
    difference = 2000 * (1 - np.exp(-2j * np.pi * np.array([0.5, 5.0, 40.0]) / 2000))
    by_hand = 0.234375 + 0.28125 / difference + 0.125 / 32 * difference
    np.testing.assert_allclose(command, by_hand, rtol=1e-12)
    assert abs(rate[0]) < abs(rate[2])
    doubled = declared_controllers(work.store, "plover", record="plover-001", scale=2.0)
    np.testing.assert_allclose(doubled.controllers["roll"].response(5.0)[0], 2 * command[1:2])


def test_a_listing_of_changes_and_the_next_release_say_the_same(work):
    """Settings carried to the new release number for number by its notes keep the controller as it is."""
    bring(work, OLD)
    found(work, scenario.found_listing(changes_only=True), extent=Extent.CHANGES_ONLY)
    made = declared_controllers(work.store, "plover")
    assert made.reasons == {}
    bring(work, NEW)
    new_aircraft(work, Aircraft("bench", "Bench board", release=NEW))
    take_record(work, Request(scenario.bench_listing(), "bench.txt", "bench"))
    take_record(work, Request(scenario.old_factory_listing(), "old.txt", "bench", release=OLD))
    before = declared_controllers(work.store, "bench", record="bench-002")
    after = declared_controllers(work.store, "bench", record="bench-001")
    assert (before.release, after.release) == (OLD, NEW)
    for axis in AXES:
        old, new = before.controllers[axis], after.controllers[axis]
        np.testing.assert_allclose(new.response([1.0, 30.0]), old.response([1.0, 30.0]), rtol=1e-12)


def test_a_filter_that_is_not_declared_is_a_reason(work):
    bring(work, OLD)
    listing = scenario.found_listing().replace(b"hum.use", b"hum.use", 1)
    new_aircraft(work, Aircraft("plover", "Plover", release=OLD))
    lines = listing.split(b"\r\n")
    changed = [line.replace(b"1", b"2") if line.startswith(b"hum.use") else line for line in lines]
    assert changed != lines
    take_record(work, Request(b"\r\n".join(changed), "before.txt", "plover"))
    made = declared_controllers(work.store, "plover")
    assert made.controllers == {}
    assert set(made.reasons) == set(AXES)
    assert "notch_filter.use is 2; the structure is declared for 0 or 1 alone" in made.reasons["yaw"]


@pytest.mark.parametrize(
    ("without", "says"),
    [
        (("control.toml",), "marram-4.1 declares no control structure"),
        (("overlay.toml",), "no setting has the role"),
    ],
)
def test_a_release_that_states_less_is_a_reason(work, without, says):
    bring(work, OLD, *without)
    found(work, scenario.found_listing())
    made = declared_controllers(work.store, "plover")
    assert made.controllers == {}
    assert all(says in made.reasons[axis] for axis in AXES)


def test_what_is_not_there_is_a_reason(work):
    assert "no aircraft is named" in declared_controllers(work.store, None).reasons["roll"]
    new_aircraft(work, Aircraft("plover", "Plover"))
    assert "plover has no record" in declared_controllers(work.store, "plover").reasons["roll"]
    take_record(work, Request(scenario.found_listing(), "before.txt", "plover"))
    assert "nothing says which release" in declared_controllers(work.store, "plover").reasons["roll"]
    take_record(work, Request(scenario.found_listing(), "again.txt", "plover", release="reed-9"))
    assert "reed-9 was not brought in" in declared_controllers(work.store, "plover").reasons["roll"]
    with pytest.raises(UsageError):
        declared_controllers(work.store, "heron")
