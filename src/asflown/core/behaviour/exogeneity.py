"""Does the command answer the disturbance? In self-levelled or position-holding flight it does.

Identification from command and response takes the command for independent of wind and noise. Where a loop
outside the rate loop makes the command from the measured attitude, that is false, and what looks like a
response is partly the outer loop. Three kinds of evidence are weighed, the strongest first: what the command
is made of (the stick alone, or stick and attitude), what the signals show, and what the log declares.

The test on the signals (:mod:`asflown.core.behaviour.causality`) is C. A. Sims' of 1972 in C. W. J. Granger's
form: an independent command has news that the past of the response cannot foretell.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Literal

import numpy as np

from asflown.core.behaviour.causality import LONGEST, Causality, granger
from asflown.core.behaviour.excitation import Lines, find_lines
from asflown.core.flight import Span
from asflown.core.signal.timebase import even_parts

if TYPE_CHECKING:
    from asflown.core.flight import EvenPart, Flight, FloatArray

Verdict = Literal["independent", "answers", "unknown"]
Instrument = Literal["command", "stick"]

#: Share of the command's variance that the stick explains where the command follows it alone.
STICK_ALONE = 0.98
#: Trade words for modes in which a loop makes the rate command from the attitude or position, and for those
#: in which the stick does.
_LEVEL_WORDS = (
    "level",
    "angle",
    "attitude",
    "hold",
    "position",
    "loiter",
    "auto",
    "return",
    "hover",
    "land",
    "follow",
)
_RATE_WORDS = ("rate", "acro", "manual")


@dataclass(frozen=True, slots=True)
class Exogeneity:
    """What was found for one axis.

    Attributes
    ----------
    verdict
        ``independent``: command and response may be used as input and output. ``answers``: the command
        answers the disturbance. ``unknown``: neither could be shown.
    strength
        Share of the unpredictable part of the command that the response's past explains, 0 to 1; ``None``
        where the test did not run.
    statistic, p
        Of the test (6 degrees of freedom), and the chance of as large a one for an independent command.
    statement
        One or two sentences for people.
    instrument
        What to identify with: the command, the stick, or ``None``: refuse.
    only_lines
        The command may be used at the lines of a planned excitation only; between them it is feedback.
    lines
        These lines, Hz.
    """

    verdict: Verdict
    statement: str
    instrument: Instrument | None = "command"
    strength: float | None = None
    statistic: float | None = None
    p: float | None = None
    only_lines: bool = False
    lines: Lines = field(default_factory=Lines)


def exogeneity_of(flight: Flight, axis: str, *, spans: Sequence[Span] | None = None) -> Exogeneity:
    """Judge one axis of a flight: makes its own stretches, at the rate of the log, and reads the mode words.

    Parameters
    ----------
    spans
        The stretches that will be used, best the airborne ones.
    """
    wanted = [f"rate_command.{axis}", f"rate.{axis}"]
    for more in (f"stick.{axis}", f"attitude.{axis}"):
        trace = flight.traces.get(more)
        if trace is not None and np.isfinite(trace.values).any():
            wanted.append(more)
    parts = even_parts(flight, wanted, spans=_first_of(flight, spans, wanted[1]))
    modes = flight.labels.get("mode")
    words = () if modes is None else tuple(dict.fromkeys(modes.words))
    return exogeneity(parts, axis, modes=words, is_thinned=flight.thinned > 1)


def _first_of(flight: Flight, spans: Sequence[Span] | None, name: str) -> Sequence[Span] | None:
    """The first spans, up to a little more than the test looks at."""
    trace = flight.traces.get(name)
    if spans is None:
        if trace is None or trace.time.size < 2:
            return None
        spans = [Span(float(trace.time[0]), float(trace.time[-1]))]
    kept, left = [], 1.2 * LONGEST + 4.0
    for span in spans:
        if left <= 0:
            break
        kept.append(Span(span.start, min(span.end, span.start + left)))
        left -= span.length
    return kept


def exogeneity(
    parts: Sequence[EvenPart], axis: str, *, modes: Sequence[str] = (), is_thinned: bool = False
) -> Exogeneity:
    """Judge one axis.

    The parts must be as logged, **not decimated**: a filter without delay lets each sample know a little of
    the next ones, and the test on the signals would take that for an answer.

    Parameters
    ----------
    parts
        Even stretches with ``rate_command.axis`` and ``rate.axis``, and ``stick.axis`` and ``attitude.axis``
        where they were logged; at 500 Hz or more where possible.
    is_thinned
        The log was decimated with such a filter while reading: the signals are not tested.
    axis
        ``roll``, ``pitch`` or ``yaw``.
    modes
        The mode words that held during the parts.
    """
    named = f"rate_command.{axis}"
    usable = [part for part in parts if named in part.values and f"rate.{axis}" in part.values]
    if not usable:
        return Exogeneity("unknown", f"no commanded and measured {axis} rate in one stretch", None)
    pairs = [(part.values[named], part.values[f"rate.{axis}"], part.rate) for part in usable]
    if max(float(np.std(command)) for command, _, _ in pairs) < 1e-6:
        return Exogeneity("unknown", f"the {axis} command was constant", None)
    lines = find_lines(usable, named)
    made = _made_of(usable, axis)
    tested = None if is_thinned else granger(pairs)
    declared = _declared(modes)
    judged = _weighed(made, tested, declared, axis)
    if tested is not None:
        judged = replace(judged, strength=tested.strength, statistic=tested.statistic, p=tested.p)
    proved = made is not None and made.stick_share > STICK_ALONE
    return _with_instrument(judged, usable, axis, lines, proved=proved)


@dataclass(frozen=True, slots=True)
class _Made:
    """What the command is made of, where stick (and attitude) were logged."""

    stick_share: float
    with_attitude: float | None
    gain: float | None


def _made_of(parts: Sequence[EvenPart], axis: str) -> _Made | None:
    stick, attitude = f"stick.{axis}", f"attitude.{axis}"
    if not all(stick in part.values for part in parts):
        return None
    step = max(1, int(parts[0].rate / 100.0))
    s = np.concatenate([part.values[stick][::step] for part in parts])
    r = np.concatenate([part.values[f"rate_command.{axis}"][::step] for part in parts])
    if float(np.std(s)) < 0.01:
        return None
    basis = [s, s**3, s**5, np.ones(s.size)]
    # The stick may lead by a few samples of the receiver and a smoothing filter.
    basis += [np.concatenate((np.full(lag, s[0]), s[:-lag])) for lag in (1, 2, 4)]
    alone = _explained(r, basis)
    if not all(attitude in part.values for part in parts):
        return _Made(alone, None, None)
    angle = np.concatenate([np.unwrap(part.values[attitude])[::step] for part in parts])
    both = [*basis, angle]
    return _Made(alone, _explained(r, both), float(-_solved(r, both)[-1]))


def _solved(target: FloatArray, basis: list[FloatArray]) -> FloatArray:
    return np.asarray(np.linalg.lstsq(np.column_stack(basis), target, rcond=None)[0])


def _explained(target: FloatArray, basis: list[FloatArray]) -> float:
    rest = target - np.column_stack(basis) @ _solved(target, basis)
    return 1.0 - float(np.var(rest) / max(float(np.var(target)), 1e-300))


def _declared(modes: Sequence[str]) -> Verdict:
    words = [word.lower() for word in modes if word.strip()]
    if any(mark in word for word in words for mark in _LEVEL_WORDS):
        return "answers"
    if words and all(any(mark in word for mark in _RATE_WORDS) for word in words):
        return "independent"
    return "unknown"


def _weighed(made: _Made | None, tested: Causality | None, declared: Verdict, axis: str) -> Exogeneity:
    if made is not None:
        if made.stick_share > STICK_ALONE:
            return Exogeneity(
                "independent",
                f"the {axis} command follows the stick alone ({made.stick_share:.1%} of its variance)",
            )
        if _is_levelled(made):
            return Exogeneity(
                "answers",
                f"the {axis} command is made of stick and attitude ({made.with_attitude:.1%} of its "
                f"variance, the stick alone {made.stick_share:.0%}; {made.gain:.3g} 1/s): it levels itself",
            )
    found = "unknown" if tested is None else tested.verdict
    numbers = (
        "" if tested is None else f" (test statistic {tested.statistic:.0f}, strength {tested.strength:.2%})"
    )
    if found == "answers":
        return Exogeneity("answers", f"the {axis} command answers the disturbance{numbers}")
    if declared == "answers":
        return Exogeneity(
            "answers", f"the log declares a mode in which the {axis} command answers the attitude{numbers}"
        )
    if found == "independent" or declared == "independent":
        return Exogeneity(
            "independent", f"nothing shows that the {axis} command answers the disturbance{numbers}"
        )
    why = "too little signal, or logged below 200 Hz" if tested is None else "the signs are there but weak"
    return Exogeneity(
        "unknown", f"whether the {axis} command answers the disturbance cannot be told: {why}{numbers}"
    )


def _is_levelled(made: _Made) -> bool:
    if made.with_attitude is None or made.gain is None:
        return False
    rest_before, rest_after = 1.0 - made.stick_share, 1.0 - made.with_attitude
    return made.gain > 0.5 and rest_after < 0.5 * rest_before


def _with_instrument(
    judged: Exogeneity, parts: Sequence[EvenPart], axis: str, lines: Lines, *, proved: bool
) -> Exogeneity:
    if judged.verdict != "answers" and lines and not proved:
        # What rides between the lines of a planned excitation is nobody's stick: most likely a loop.
        return replace(
            judged,
            verdict="unknown",
            only_lines=True,
            lines=lines,
            statement=f"the {axis} command carries a planned excitation at {len(lines.frequencies)} lines; "
            f"it is used only there: what it is made of between them was not shown ({judged.statement})",
        )
    if judged.verdict != "answers":
        return replace(judged, lines=lines)
    stick = f"stick.{axis}"
    if all(stick in part.values and float(np.std(part.values[stick])) > 0.01 for part in parts):
        return replace(
            judged,
            instrument="stick",
            lines=lines,
            statement=f"{judged.statement}; the stick is used as the instrument",
        )
    if lines:
        return replace(
            judged,
            instrument="command",
            only_lines=True,
            lines=lines,
            statement=f"{judged.statement}; it is used only at the {len(lines.frequencies)} lines of its "
            "planned excitation, between them nothing is claimed",
        )
    return replace(
        judged,
        instrument=None,
        statement=f"{judged.statement}; log the pilot's stick, or fly with rate commands",
    )
