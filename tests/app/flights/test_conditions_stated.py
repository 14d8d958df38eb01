"""Conditions of a flight: said, stated in the log, measured in it; what cannot be read is refused."""

from __future__ import annotations

import pytest
from made_flight import opened, table

from asflown.app.flights.conditions import WORDS, from_words, stated, with_measured
from asflown.core.flight import Conditions
from asflown.errors import InputError


@pytest.mark.parametrize(
    ("word", "text", "value"),
    [
        ("wind", "3", 3.0),
        ("wind", "18 km/h", 5.0),
        ("wind", "3,5", 3.5),
        ("temperature", "14", 287.15),
        ("temperature", "68 degF", 293.15),  # exact: 20 degC
        ("temperature", "290 K", 290.0),
        ("pressure", "1013.25", 101325.0),
        ("altitude", "1000 ft", 304.8),
        ("pack", " blue 2 ", "blue 2"),
    ],
)
def test_numbers_are_read_with_their_unit(word, text, value):
    assert getattr(from_words({word: text}), WORDS[word][0]) == pytest.approx(value)


def test_everything_wrong_is_told_at_once():
    with pytest.raises(InputError) as caught:
        from_words({"wind": "strong", "temperature": "900", "pressure": "nan", "pack": "blue"})
    assert [fault.where for fault in caught.value.faults] == ["--wind", "--temperature", "--pressure"]


def test_the_preamble_of_a_log_states_conditions_and_a_person_wins():
    log = opened()
    known = stated(from_words({"pack": "red 1"}), log.table)
    assert known.conditions.pack == "red 1"
    assert known.conditions.pilot == "Tobias Wendt"
    assert known.conditions.wind_mps == 3.0
    assert known.conditions.air_temperature_k == pytest.approx(287.15)
    assert known.origins["pack"] == "said"
    assert known.origins["wind_mps"] == "stated in the log"
    assert set(known.conditions.not_stated) == {"propellers", "altitude_m", "day"}


def test_what_the_preamble_says_badly_is_not_stated():
    log = opened(
        b"# wind: stiff\n# temperature: 14\n" + table("time (s),rate.roll (rad/s)", 400, "i/1000", "i%3")
    )
    known = stated(Conditions(), log.table)
    assert known.conditions.wind_mps is None
    assert known.conditions.air_temperature_k == pytest.approx(287.15)


def test_air_that_was_logged_is_taken_where_nobody_stated_it():
    log = opened(
        table(
            "time (s),rate.roll (rad/s),air_temperature (degC),air_pressure (hPa)",
            400,
            "i/1000",
            "i%3",
            "21",
            "990",
        )
    )
    known = with_measured(stated(Conditions(), log.table), log.flight())
    assert known.conditions.air_temperature_k == pytest.approx(294.15, abs=0.01)
    assert known.conditions.air_pressure_pa == pytest.approx(99000, rel=1e-5)
    assert known.origins == {
        "air_temperature_k": "measured in the log",
        "air_pressure_pa": "measured in the log",
    }
    said = with_measured(stated(Conditions(air_temperature_k=280.0), log.table), log.flight())
    assert said.conditions.air_temperature_k == 280.0
