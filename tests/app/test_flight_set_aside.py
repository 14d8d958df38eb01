"""A flight that is set aside stays, says why, and counts for nothing until it is let count again."""

import pytest
from handed_world import with_aircraft

from asflown.app import kept
from asflown.app import logbook as book
from asflown.app.flights.keep import counted_flights, flights_of
from asflown.app.flights.set_aside import count_again, set_aside
from asflown.app.judging.sides import sides_of
from asflown.app.predict import baseline_flight
from asflown.app.views.entry_said import said
from asflown.core.flight import Conditions
from asflown.core.study.kept import FlightEvidence, LogNamed
from asflown.errors import UsageError
from asflown.formats import documents


@pytest.fixture
def flown(tmp_path):
    """The wren with two flights."""
    desk = with_aircraft(tmp_path / "here")
    for number in (1, 2):
        log = LogNamed(str(number) * 64, 10, "morning.csv")
        flight = FlightEvidence(
            f"wren-f{number}", "wren", "2026-01-01", log, "layout", True, (0.0, 1.0), Conditions(), ()
        )
        with desk.store.transaction() as tx:
            put = tx.put("evidence", flight.id, documents.dump(flight), expect=0)
            tx.log("wren", "evidence", {"id": flight.id, "sha256": put.sha256})
    return desk


def test_what_is_set_aside_stays_and_counts_for_nothing(flown):
    changed = set_aside(flown.work, "wren-f1", " a propeller came loose ")
    assert changed.aside == "a propeller came loose"
    assert [one.id for one in flights_of(flown.store, "wren")] == ["wren-f1", "wren-f2"]
    assert [one.id for one in counted_flights(flown.store, "wren")] == ["wren-f2"]
    entry = flown.store.book("wren")[-1]
    assert (entry.kind, entry.body["said"]) == ("flight", "a propeller came loose")
    assert said(entry) == "wren-f1 set aside: a propeller came loose"
    assert book.verify(flown.store).holds


def test_it_counts_again(flown):
    before = flights_of(flown.store, "wren")
    set_aside(flown.work, "wren-f1", "rain")
    count_again(flown.work, "wren-f1", "it was another day's rain")
    assert flights_of(flown.store, "wren") == before
    assert len(flown.store.revisions("evidence", "wren-f1")) == 3


@pytest.mark.parametrize("why", ["", "  "])
def test_a_reason_is_needed(flown, why):
    with pytest.raises(UsageError, match="no reason"):
        set_aside(flown.work, "wren-f1", why)
    assert len(flown.store.revisions("evidence", "wren-f1")) == 1


def test_it_is_not_set_aside_twice_nor_let_count_twice(flown):
    with pytest.raises(UsageError, match="it counts"):
        count_again(flown.work, "wren-f1", "why not")
    set_aside(flown.work, "wren-f1", "rain")
    with pytest.raises(UsageError, match="set aside already: rain"):
        set_aside(flown.work, "wren-f1", "wind")


def test_the_verdict_and_the_prediction_pass_it_over(flown):
    set_aside(flown.work, "wren-f2", "rain")
    refits = kept.refits(flown.store, "wren")
    if refits:
        sides = sides_of(flown.store, refits[-1].refit)
        assert [one.id for one in sides.aside] == ["wren-f2"]
        assert "wren-f2" not in {one.id for one in (*sides.before, *sides.after, *sides.unknown)}
    with pytest.raises(UsageError, match="wren-f1"):  # the newest that counts, whose plant was not kept
        baseline_flight(flown.store, "wren")
