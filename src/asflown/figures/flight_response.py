"""The answer to the rate command: gain, phase and step of one axis, what was not excited greyed."""

from __future__ import annotations

from asflown.core.behaviour.response.result import AxisResponse, Curve, RouteFigures
from asflown.core.measured import Measured
from asflown.figures.figure import Axis, Figure, Mark, Series
from asflown.figures.flight_numbers import floats, said

_FREQUENCY = Axis("frequency", "Hz", is_log=True)
#: Parts of a response with their units; and the level of interest of each.
_PARTS = (("gain", "dB"), ("phase", "deg"))
_LEVELS = {"gain": Mark("gain of one", y=0.0), "phase": Mark("-180 deg", y=-180.0)}
_WORDS = {
    "bandwidth": "bandwidth, phase rule",
    "bandwidth_gain": "bandwidth, gain rule",
    "crossover": "crossover",
}
_GREYED = "too little command to show it: the model goes on here"
_UNSURE = "too little command to show it"
_RATE = "rate over command"


def response_figures(of: AxisResponse, route: str, evidence: tuple[str, ...] = ()) -> tuple[Figure, ...]:
    """Gain and phase of rate over command and of the loop, and the step, by one route.

    Beside rate over command stands what the spectra show without a model.

    Returns
    -------
    tuple
        Those of the figures that can be drawn: ``rate over command`` gain and phase, ``loop`` gain and phase,
        ``step``.
    """
    found = of.routes.get(route)
    if found is None:
        return ()
    made: list[Figure] = []
    if found.response is not None:
        marks = _marks(found, "bandwidth", "bandwidth_gain")
        made += _bode(of, found.response, _RATE, route, marks, _handling(found), evidence)
    if found.loop is not None:
        marks = _marks(found, "crossover")
        made += _bode(of, found.loop, "loop", route, marks, _margins(found), evidence)
    if found.step is not None:
        made.append(_step(of, found, evidence))
    return tuple(made)


def as_flown_figures(of: AxisResponse, evidence: tuple[str, ...] = ()) -> tuple[Figure, ...]:
    """Gain and phase of rate over command straight from the spectra, for an axis that no route leads to."""
    if of.measured_response is None:
        return ()
    return tuple(
        Figure(
            title=f"{of.axis.capitalize()}, {_RATE} as flown: {name}",
            x=_FREQUENCY,
            y=Axis(name, unit),
            series=(_as_flown(of.measured_response, name),),
            marks=(_LEVELS[name],),
            caption=(
                f"{name.capitalize()} of the {of.axis} {_RATE} straight from the spectra, with its 95 % band;"
                f" bandwidth as flown {_known(of.as_flown)}; greyed where the command had too little power."
            ),
            evidence=evidence,
        )
        for name, unit in _PARTS
    )


def _bode(
    of: AxisResponse,
    curve: Curve,
    what: str,
    route: str,
    marks: tuple[Mark, ...],
    says: str,
    evidence: tuple[str, ...],
) -> list[Figure]:
    excited = _excited(of)
    direct = of.measured_response if what == _RATE else None
    beside = "" if direct is None else ", beside it as flown, straight from the spectra"
    return [
        Figure(
            title=f"{of.axis.capitalize()}, {what}: {name}",
            x=_FREQUENCY,
            y=Axis(name, unit),
            series=(
                _series(route, curve, name, _GREYED),
                *(() if direct is None else (_as_flown(direct, name),)),
            ),
            marks=(*marks, _LEVELS[name]),
            caption=(
                f"{name.capitalize()} of the {of.axis} {what}, {route}, with its 95 % band{beside}; {says};"
                f" {excited}."
            ),
            evidence=evidence,
        )
        for name, unit in _PARTS
    ]


def _as_flown(curve: Curve, part: str) -> Series:
    return _series("as flown", curve, part, _UNSURE)


def _series(name: str, curve: Curve, part: str, greyed_why: str) -> Series:
    return Series(
        name,
        floats(curve.frequencies),
        floats(getattr(curve, part)),
        low=floats(getattr(curve, f"{part}_low")),
        high=floats(getattr(curve, f"{part}_high")),
        is_greyed=tuple(not bool(one) for one in curve.excited),
        greyed_why=greyed_why,
    )


def _excited(of: AxisResponse) -> str:
    if of.excited_low is None or of.excited_high is None:
        return "no frequency was excited enough"
    return f"excited enough from {of.excited_low:.2g} to {of.excited_high:.2g} Hz, greyed elsewhere"


def _marks(found: RouteFigures, *names: str) -> tuple[Mark, ...]:
    known = ((name, found.figures.get(name)) for name in names)
    return tuple(
        Mark(_WORDS[name], x=number.value)
        for name, number in known
        if number is not None and number.value is not None
    )


def _handling(found: RouteFigures) -> str:
    return f"bandwidth {_said(found, 'bandwidth')}, phase delay {_said(found, 'phase_delay')}"


def _margins(found: RouteFigures) -> str:
    return (
        f"crossover {_said(found, 'crossover')}, phase margin {_said(found, 'phase_margin')}, gain margin"
        f" {_said(found, 'gain_margin')}"
    )


def _said(found: RouteFigures, name: str) -> str:
    return _known(found.figures.get(name))


def _step(of: AxisResponse, found: RouteFigures, evidence: tuple[str, ...]) -> Figure:
    step = found.step
    assert step is not None
    line = Series(
        found.route, floats(step.time), floats(step.answer), low=floats(step.low), high=floats(step.high)
    )
    overshoot, rise = (_known(one) for one in (found.overshoot, found.rise_time))
    return Figure(
        title=f"{of.axis.capitalize()}, step of the command",
        x=Axis("time", "s"),
        y=Axis("rate over command", "1"),
        series=(line,),
        marks=(Mark("command", y=1.0),),
        caption=(
            f"{of.axis.capitalize()} rate after a step of the command, {found.route}, with its 95 % band;"
            f" overshoot {overshoot}, rise time {rise}."
        ),
        evidence=evidence,
    )


def _known(number: Measured | None) -> str:
    return "not known" if number is None else said(number)
