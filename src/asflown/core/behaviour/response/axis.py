"""Measure one axis: plant by the pilot's command, controller known or from the log, every figure by draws.

Sources: Ljung, *System Identification* (joint input-output identification), Tischler & Remple, *Aircraft and
Rotorcraft System Identification* (both from memory); the intervals are those of many loops drawn from the
estimates' covariances, see :mod:`calibration`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from asflown.core.behaviour.identify import plant
from asflown.core.behaviour.identify.bands import Banded, banded, edges
from asflown.core.behaviour.identify.controller import ControllerFit, fit_controller
from asflown.core.behaviour.identify.fit import PlantFit, fit_plant
from asflown.core.behaviour.response.calibration import Activity
from asflown.core.behaviour.response.direct import measured_response
from asflown.core.behaviour.response.drives import (
    Driven,
    driven,
    records,
    shortened,
    stretches,
    thrust_drives,
)
from asflown.core.behaviour.response.figures import FROM_REST, GRID, all_figures, curve, measured
from asflown.core.behaviour.response.flown import flown_bandwidth
from asflown.core.behaviour.response.result import FREE, KNOWN, UNITS, AxisResponse, RouteFigures
from asflown.core.behaviour.response.steps import step_answers, step_band, step_measured, step_numbers
from asflown.core.flight import EvenPart
from asflown.core.identified import Fitted, Identified
from asflown.core.measured import Measured, unmeasured
from asflown.core.signals import AXES

Float = npt.NDArray[np.float64]
Complex = npt.NDArray[np.complex128]
Bool = npt.NDArray[np.bool_]
Known = Callable[[Float], tuple[Complex, Complex]]

#: Axes measured side by side.
AT_ONCE = 2
#: Drawn loops behind an interval.
DRAWS = 300
#: Power of the command in the drive over the disturbance, from which on a band counts as excited.
EXCITED = 0.5
#: Longest stretch from which the thrust curve is told, s.
ENOUGH = 240.0
#: Spread of the collective's further power once the thrust curve is in the drive.
LEFT_OVER = 0.15
#: Misfit, of plant and controller, from which on it is said; 95 in 100 simulated flights lie below.
ODD_PLANT, ODD_CONTROLLER = 6.0, 20.0
#: Shortest stretch, s, named in a refusal.
TOO_SHORT = 1.0
_SEED = 20261125


@dataclass(frozen=True, slots=True)
class Instrument:
    """What an axis may be identified with.

    Attributes
    ----------
    signal
        Canonical name where it is not the command (the stick), else ``None``.
    lines, width
        Hz: only these frequencies may be used (a planned excitation), to either side by ``width``.
    refusal
        Why nothing may be identified, ``None`` where it may.
    statement
        What a reader should know.
    """

    signal: str | None = None
    lines: tuple[float, ...] = ()
    width: float = 0.0
    refusal: str | None = None
    statement: str | None = None

    def keeps(self) -> Callable[[Float], Bool] | None:
        """Where frequencies may be used, ``None`` for everywhere."""
        if not self.lines:
            return None
        lines, width = np.asarray(self.lines), self.width
        return lambda f: np.asarray(np.min(np.abs(f[:, None] - lines[None]), axis=1) <= width)


@dataclass(frozen=True, eq=False)
class _Plant:
    fit: PlantFit
    banded: Banded
    excited: Bool


def measure_axes(
    parts: Sequence[EvenPart],
    pattern: Float | None,
    *,
    instruments: dict[str, Instrument] | None = None,
    known: Mapping[str, Known] | None = None,
) -> dict[str, AxisResponse]:
    """Measure every axis that has a command and a measured rate.

    Parameters
    ----------
    parts
        Even stretches with ``rate_command.*``, ``rate.*`` and, where logged, ``motor.*``, ``control.*``,
        ``pack_voltage`` and sticks, at the rate logged: saturation is read before anything is filtered.
    pattern
        (3, motors): rows roll, pitch, yaw, ``pattern @ motors`` is the differential command; ``None`` without
        motors.
    instruments
        By axis, what may be used; the command where nothing is said.
    known
        By axis, the controller's responses for the command and for the rate, at the drive's scale.

    Returns
    -------
    dict
        By axis; an axis that cannot be measured has reasons in place of its figures.
    """
    axes = [a for a in AXES if f"rate_command.{a}" in parts[0].values and f"rate.{a}" in parts[0].values]
    used = {axis: (instruments or {}).get(axis, Instrument()) for axis in axes}
    made = driven(parts, pattern, [one.signal for one in used.values() if one.signal is not None])
    if not made:
        reason = f"no even stretch is longer than {TOO_SHORT:.0f} s; fly longer, or log without gaps"
        return {axis: refused(axis, reason) for axis in axes}
    going = [axis for axis in axes if used[axis].refusal is None]
    exponent = _exponent(made, pattern, going, used)
    thrusts = None if made[0].commanded is None or pattern is None else thrust_drives(made, pattern, exponent)

    def one(axis: str) -> AxisResponse:
        if used[axis].refusal is not None:
            return refused(axis, str(used[axis].refusal))
        return _axis(made, axis, thrusts, used[axis], exponent, (known or {}).get(axis))

    with ThreadPoolExecutor(AT_ONCE) as pool:  # most of it leaves Python's lock
        return dict(zip(axes, pool.map(one, axes), strict=True))


def refused(axis: str, reason: str) -> AxisResponse:
    """An axis without figures, for a reason."""
    return AxisResponse(axis, {name: unmeasured(reason, unit) for name, unit in UNITS.items()})


def _drives(made: Sequence[Driven], axis: str, thrusts: Sequence[Float] | None) -> list[Float] | None:
    if thrusts is not None:
        return [rows[AXES.index(axis)] for rows in thrusts]
    if all(axis in one.control for one in made):
        return [one.control[axis] for one in made]
    return None


def _plant(
    made: Sequence[Driven],
    axis: str,
    drives: list[Float],
    used: Instrument,
    exponent: float,
    prior: plant.Prior,
) -> _Plant | None:
    limits = edges(made[0].rate, min(one.samples for one in made) / made[0].rate)
    sums = banded(stretches(made, axis, drives, used.signal), limits, keep=used.keeps())
    power = sums.command_command[:, 0, 0].real
    if not np.any(power > 0):
        return None
    taken = np.zeros(made[0].slopes.shape[0])
    if taken.size:
        taken[0] = exponent - 1.0
    fit = fit_plant(sums, prior, taken)
    answer = fit.response(sums.frequencies) * fit.drive_for_command
    over = np.abs(answer) ** 2 * power / np.maximum(sums.bins, 1e-9) / fit.disturbance
    smooth = np.convolve(over, np.ones(5) / 5, mode="same")
    return _Plant(fit, sums, (smooth > EXCITED) & (power > 0))


def _exponent(
    made: Sequence[Driven], pattern: Float | None, axes: Sequence[str], used: dict[str, Instrument]
) -> float:
    """Exponent of thrust over command, from how the drive's effect moves with the collective; 1 to 2.2."""
    if pattern is None or not made[0].slopes.shape[0]:
        return 1.0
    weight, total = 1e-9, 1e-9
    made = shortened(made, ENOUGH)
    commanded = thrust_drives(made, pattern, 1.0)
    for axis in [a for a in axes if a != "yaw"] or list(axes):
        drives = _drives(made, axis, commanded)
        first = None if drives is None else _plant(made, axis, drives, used[axis], 1.0, plant.Prior())
        if first is None:
            continue
        place = first.fit.numbers.size - made[0].slopes.shape[0]
        precision = 1.0 / float(first.fit.covariance[place, place])
        weight += precision
        total += precision * float(first.fit.numbers[place])
    found = total / weight
    return 1.0 if abs(found) < 0.12 else float(np.clip(1.0 + found, 1.0, 2.2))


def _axis(
    made: Sequence[Driven],
    axis: str,
    thrusts: Sequence[Float] | None,
    used: Instrument,
    exponent: float,
    known: Known | None,
) -> AxisResponse:
    drives = _drives(made, axis, thrusts)
    statements = [] if used.statement is None else [used.statement]
    saturated = float(np.mean(np.concatenate([one.saturated for one in made])))
    activity = Activity(saturated)
    as_flown = flown_bandwidth(made, axis, used)
    rest = AxisResponse(
        axis,
        {},
        as_flown=as_flown,
        saturated_share=saturated if made[0].motors is not None else None,
        thrust_exponent=exponent if made[0].motors is not None else None,
        spans=tuple(one.span for one in made),
        measured_response=measured_response(made, axis, used),
    )
    if drives is None:
        return _response_only(rest, as_flown)
    prior = plant.Prior(slopes=((0.0, LEFT_OVER), (exponent, 0.5)))
    found = _plant(made, axis, drives, used, exponent, prior)
    if found is None or not found.excited.any():
        reason = (
            f"the {axis} command moved the aircraft too little to be told from the air's disturbance;"
            f" fly {axis} steps and doublets for 20 s or more"
        )
        return replace(rest, figures=refused(axis, reason).figures, as_flown=None, thrust_exponent=None)
    if made[0].motors is None:
        statements.append(
            "motors were not logged: saturation is not seen, and margins may read too low or high"
        )
    fitted = fit_controller(records(made, axis))
    routes = _routes(found, fitted, known, activity)
    statements += _misfits(found.fit, fitted)
    low, high = _range(found)
    return replace(
        rest,
        figures=_best(routes),
        routes=routes,
        excited_low=low,
        excited_high=high,
        statements=tuple(statements),
        identified=_identified(axis, found, fitted, activity),
    )


def _identified(axis: str, found: _Plant, fitted: ControllerFit | None, activity: Activity) -> Identified:
    """The fits in plain numbers."""
    low, high = _range(found)
    fit = found.fit
    return Identified(
        axis,
        _plain(fit.numbers, fit.covariance),
        tuple(fit.taken.tolist()),
        tuple(tuple(row) for row in fit.spread_of_slopes.tolist()),
        low,
        high,
        activity.saturated,
        None if fitted is None else _plain(fitted.numbers, fitted.covariance),
    )


def _plain(numbers: Float, covariance: Float) -> Fitted:
    return Fitted(tuple(numbers.tolist()), tuple(tuple(row) for row in covariance.tolist()))


def _misfits(found: PlantFit, fitted: ControllerFit | None) -> list[str]:
    """What to say where the log does not go well with the models."""
    told = []
    if found.misfit > ODD_PLANT:
        told.append(
            f"the rate departs from the plant's model by {found.misfit**0.5:.1f} times what noise explains:"
            " the intervals may be too narrow; compare with the curve as flown, and look for loose parts or a"
            " flexing frame"
        )
    if fitted is not None and fitted.misfit > ODD_CONTROLLER:
        told.append(
            f"the drive departs from a PID kind of controller by {fitted.misfit**0.5:.1f} times what noise"
            " explains (gains that change in flight?): model-free figures may be off; declare the controller"
            " (control.toml)"
        )
    return told


def _response_only(rest: AxisResponse, as_flown: Measured) -> AxisResponse:
    reason = "neither motor commands nor the controller's output are in this log; log every motor's command"
    figures = {name: unmeasured(reason, unit) for name, unit in UNITS.items()}
    return replace(rest, figures=figures | {"bandwidth": as_flown})


def _range(found: _Plant) -> tuple[float, float]:
    inside = found.banded.frequencies[found.excited]
    return float(inside[0]), float(inside[-1])


def _best(routes: dict[str, RouteFigures]) -> dict[str, Measured]:
    for route in (KNOWN, FREE):
        if route in routes:
            return dict(routes[route].figures)
    reason = (
        "the controller could not be measured: fewer than 3 s without a motor at its end; fly more gently"
    )
    return {name: unmeasured(reason, unit) for name, unit in UNITS.items()}


def _routes(
    found: _Plant,
    fitted: ControllerFit | None,
    known: Known | None,
    activity: Activity,
) -> dict[str, RouteFigures]:
    rng = np.random.default_rng(_SEED)
    numbers = draws_of(found.fit.numbers, found.fit.covariance, rng)
    plants = found.fit.response(FROM_REST, numbers)
    routes = {}
    if known is not None:
        command, rate = known(FROM_REST)
        routes[KNOWN] = _route(KNOWN, plants, command, rate, found, activity)
    if fitted is not None:
        away = draws_of(np.zeros(fitted.numbers.size), fitted.covariance, rng)
        command, rate = fitted.drawn(FROM_REST, away)
        routes[FREE] = _route(FREE, plants, command, rate, found, activity)
    return routes


def draws_of(centre: Float, covariance: Float, rng: np.random.Generator) -> Float:
    """(1 + DRAWS, p): the estimate, then normal draws in opposite pairs."""
    values, vectors = np.linalg.eigh(covariance)
    # the symmetric root: the one that does not hang on which vectors stand for nearly equal values
    root = (vectors * np.sqrt(np.maximum(values, 0.0))) @ vectors.T
    half = rng.standard_normal((DRAWS // 2, centre.size)) @ root
    return np.vstack([centre, centre + half, centre - half])


def _route(
    route: str,
    plants: Complex,
    command: Complex,
    rate: Complex,
    found: _Plant,
    activity: Activity,
) -> RouteFigures:
    whole = plants * command / (1 + plants * rate)
    loop, response = (plants * rate)[:, -GRID.size :], whole[:, -GRID.size :]
    top = float(found.banded.frequencies[found.excited][-1])
    drawn = all_figures(response, loop, top)
    beyond = (
        f"model-conditional: the pilot put no power above {top:.0f} Hz; the plant's model carries it there",
    )
    caveats = {name: beyond for name in ("gain_margin", "phase_delay", "peak_sensitivity")}
    excited = np.interp(np.log(GRID), np.log(found.banded.frequencies), found.excited.astype(float)) > 0.5
    excited &= (found.banded.frequencies[0] <= GRID) & (found.banded.frequencies[-1] >= GRID)
    answers = step_answers(whole)
    steps = {
        name: step_measured(name, values, route, activity) for name, values in step_numbers(answers).items()
    }
    return RouteFigures(
        route,
        measured(drawn, route, activity, caveats),
        curve(response, excited),
        curve(loop, excited),
        step_band(answers),
        steps["overshoot"],
        steps["rise_time"],
    )
