"""A declared controller's response against the known truth, which is written down apart (tools/flights/truth.py)."""

from __future__ import annotations

from collections.abc import Iterator
from types import ModuleType

import numpy as np
import pytest

from asflown.core.behaviour.declared import controller_of
from asflown.core.behaviour.simulate import Controller, FilterKind, LoopFilter
from asflown.core.control import Block, BlockKind, ControlStructure

FREQUENCIES = np.geomspace(0.05, 900.0, 200)
AXES = ("roll", "pitch", "yaw")


def _filters(parts: tuple[LoopFilter, ...], source: str, made: str) -> Iterator[Block]:
    for number, part in enumerate(parts):
        name = made if number == len(parts) - 1 else f"{made} {number}"
        role = f"{made}.{number}.frequency"
        constants: dict[str, float | str] = {"quality": part.quality}
        if part.kind is FilterKind.ONE_POLE:
            yield Block(name, BlockKind.ONE_POLE, (source,), {"cutoff": role}, {"rule": "impulse"})
        elif part.kind is FilterKind.LOW_PASS:
            yield Block(name, BlockKind.BIQUAD, (source,), {"cutoff": role}, constants)
        else:
            yield Block(name, BlockKind.NOTCH, (source,), {"centre": role}, constants)
        source = name


def _declared(controller: Controller, axis: str) -> tuple[ControlStructure, dict[str, float]]:
    """The structure a release would declare for the simulated controller, and what its settings would say."""
    gains = {"p": controller.kp, "i": controller.ki, "d": controller.kd, "f": controller.kf}
    values = {f"{axis}.{word}": gain[AXES.index(axis)] for word, gain in gains.items()}
    for word, parts in (("gyro", controller.gyro_filters), ("slope", controller.d_filters)):
        values |= {f"{word}.{n}.frequency": part.frequency for n, part in enumerate(parts)}
    blocks = (
        # given backwards here and there: the order of the file is not the order of computing
        Block("drive", BlockKind.LIMIT, ("firm", "stay", "-calm", "lead")),
        *_filters(controller.gyro_filters, "rate", "gyro"),
        Block("error", BlockKind.SUM, ("command", "-gyro")),
        Block("firm", BlockKind.GAIN, ("error",), {"gain": f"{axis}.p"}),
        Block("stay", BlockKind.GAIN, ("sum of errors",), {"gain": f"{axis}.i"}),
        Block("sum of errors", BlockKind.INTEGRATOR, ("error",)),
        *_filters(controller.d_filters, "gyro", "slope"),
        Block("change", BlockKind.DERIVATIVE, ("slope",)),
        Block("calm", BlockKind.GAIN, ("change",), {"gain": f"{axis}.d"}),
        Block("stick change", BlockKind.DERIVATIVE, ("command",)),
        Block("lead", BlockKind.GAIN, ("stick change",), {"gain": f"{axis}.f"}),
    )
    return ControlStructure(axis, blocks, rate_hz=controller.loop_rate), values


@pytest.mark.parametrize("seed", range(12))
def test_random_controllers_have_the_response_their_parameters_promise(
    seed: int, known: ModuleType, population: ModuleType
) -> None:
    random = np.random.default_rng(seed)
    airframe = population._airframe(random, frozenset())
    controller = population._controller(random, airframe, frozenset(), None)
    truth = known.responses(airframe, controller, known.at_hover(airframe, controller), FREQUENCIES)
    for number, axis in enumerate(AXES):
        structure, values = _declared(controller, axis)
        made = controller_of(structure, values, scale=2.0)
        command, rate = made.response(FREQUENCIES)
        np.testing.assert_allclose(command, 2.0 * truth.command[number], rtol=1e-9)
        np.testing.assert_allclose(rate, 2.0 * truth.feedback[number], rtol=1e-9)
        assert made.remarks == ("limit 'drive': taken as if it were never reached",)


def test_an_aircraft_of_the_population_has_its_loop(known: ModuleType, population: ModuleType) -> None:
    airframe, controller = population.draw(5)
    truth = known.responses(airframe, controller, known.at_hover(airframe, controller), FREQUENCIES)
    structure, values = _declared(controller, "pitch")
    _, rate = controller_of(structure, values).response(FREQUENCIES)
    np.testing.assert_allclose(truth.plant[1] * rate, truth.loop[1], rtol=1e-9)
