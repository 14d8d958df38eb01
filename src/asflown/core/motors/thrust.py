"""The thrust curve of the rotors, estimated from a flight.

Model: every rotor follows its command times a power of the pack voltage with a first-order lag and a short
delay, and thrust goes with a power of its speed:
``specific force = sum_i k_i lag(m_i (V / mean V)^c)^exponent``.
Near hover only the ratio of the slope to the level is seen, which is the exponent; no calibrated scale and no
mass is needed. Every rotor has a level k_i of its own, since unequal motors bend the curve of their mean.

The commands are known exactly, the accelerometer carries the noise, so the fit is of the accelerometer on the
commands and not the other way round. Where the collective answers the accelerometer (height hold) the
pilot's own throttle stick is used as instrument: the residual is only asked to be uncorrelated with what the
stick explains.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from asflown.core.measured import Measured, unmeasured
from asflown.core.signal.mean_error import averaged, block_length, student

Float = npt.NDArray[np.float64]

#: Samples a second used: means of whole numbers of rows, which takes the vibration out.
WORKING_RATE = 40.0
#: Hz, the slowest log of use.
SLOWEST = 15.0
#: s: shortest stretch used, what is left out at its ends, shortest and longest block for the errors.
SHORTEST, ENDS, BLOCKS = 4.0, 0.5, (0.4, 2.0)
#: Prior spread of the power of the voltage in a rotor's speed about 1, of the lag (log) about 30 ms.
VOLTAGE_SPREAD = 0.8
#: What the voltage exponent's error is at least, as a share of the exponent (chosen on simulated flights).
VOLTAGE_FLOOR = 0.03
LAG_START, LAG_SPREAD = 0.03, 0.7
#: Pure delay, centre and spread, s; how far the motors' strengths may differ, as a share.
DELAY = (0.002, 0.0015)
LEVEL_SPREAD = 0.15
#: Numbers before the levels of the motors.
SHARED = 4
#: A standard error above this says too little to be called a measurement.
WORST_ERROR = 0.25
ROUNDS = 12
#: s: more of a flight than this is not looked at; pieces it is then picked from.
LONGEST, PIECE = 240.0, 20.0
#: Largest change of exponent, log lag, delay (s) and power of the voltage in a round.
LARGEST_STEP = np.array([0.7, 0.5, 0.002, 0.5])
#: m/s2, standard error of an accelerometer's zero along z after calibration (common practice, no source).
OFFSET_ERROR = 0.03


@dataclass(frozen=True, slots=True)
class ThrustCurve:
    """Thrust goes with ``command^exponent * voltage^voltage_exponent``.

    Attributes
    ----------
    exponent
        1 linear, 2 quadratic.
    error
        Standard error of the exponent, ``None`` where there is none.
    voltage_exponent
        About the same as ``exponent`` where the motors see the pack's voltage; about 0 where the firmware
        makes up for it after the logged commands.
    lag
        s, of the rotors' thrust, delay included.
    compensation
        One sentence on voltage compensation in the firmware.
    """

    exponent: Measured
    error: float | None
    voltage_exponent: Measured
    lag: Measured
    compensation: str


def thrust_exponent(
    stretches: Sequence[Stretch], rate_hz: float, offset_error: float = OFFSET_ERROR
) -> Measured:
    """Only the exponent of :func:`thrust_curve`."""
    return thrust_curve(stretches, rate_hz, offset_error).exponent


@dataclass(frozen=True, eq=False)
class Stretch:
    """One airborne, evenly sampled stretch.

    Attributes
    ----------
    motors
        (motors, n) commands, 1.
    accel_z
        (n,) specific force along z (down), m/s2: about -9.8 in hover.
    voltage
        (n,) V, ``None`` where not logged.
    throttle
        (n,) collective command, as instrument; ``None``: the motors themselves.
    """

    motors: Float
    accel_z: Float
    voltage: Float | None = None
    throttle: Float | None = None


def thrust_curve(
    stretches: Sequence[Stretch], rate_hz: float, offset_error: float = OFFSET_ERROR
) -> ThrustCurve:
    """Exponents and lag of the thrust curve.

    Parameters
    ----------
    stretches
        Airborne, not at rest on the ground; those under 4 s are left out.
    rate_hz
        Samples a second.
    offset_error
        m/s2, standard error of the accelerometer's zero along z; 1 % of g shifts the exponent by 1 %.
    """
    if rate_hz < SLOWEST:
        return _nothing(
            f"accelerometer and motors at {rate_hz:.0f} Hz are too slow; log {SLOWEST:.0f} Hz or more"
        )
    has_voltage = all(_has_voltage(s) for s in stretches)
    parts = [
        _prepared(s, rate_hz, has_voltage)
        for s in _busiest(stretches, rate_hz)
        if s.accel_z.size >= SHORTEST * rate_hz
    ]
    if not parts:
        return _nothing(f"no airborne stretch of {SHORTEST:.0f} s; log a longer flight")
    level = float(np.mean(np.concatenate([part.force for part in parts])))
    if level < 1.0:
        return _nothing(
            f"the specific force along z is {-level:.1f} m/s2 on average, about -9.8 is expected;"
            " check the column"
        )
    fit = _Fit(parts, has_voltage)
    return fit.result(offset_error / level)


def _nothing(reason: str) -> ThrustCurve:
    told = unmeasured(reason)
    return ThrustCurve(told, None, told, unmeasured(reason, "s"), "voltage compensation: not seen")


@dataclass(frozen=True, eq=False)
class _Part:
    """A stretch at the working rate: spectra of motors, and what they are to explain."""

    motors: Float  # (motors, length), bridged back to the start behind the stretch
    force: Float  # (n,) specific force upwards, m/s2
    logs: Float  # (length,) log of the voltage, zeros where it is not logged
    throttle: Float | None  # (length,)
    omega: Float
    length: int
    rate: float
    inside: slice


def _busiest(stretches: Sequence[Stretch], rate_hz: float) -> Sequence[Stretch]:
    """All of a short flight; of a long one the pieces with the busiest motors, the first and the last."""
    if sum(s.accel_z.size for s in stretches) <= LONGEST * rate_hz:
        return stretches
    length = int(PIECE * rate_hz)
    starts = [(s, at) for s in stretches for at in range(0, s.accel_z.size - length // 2, length)]
    pieces = [_cut(s, at, length) for s, at in starts]
    step = max(1, int(rate_hz / 10.0))
    moved = [float(np.var(p.motors[:, ::step].mean(axis=0))) for p in pieces]
    moved[0] = moved[-1] = np.inf
    kept = np.sort(np.argsort(moved)[::-1][: int(LONGEST / PIECE)])
    return [pieces[i] for i in kept]


def _cut(whole: Stretch, at: int, length: int) -> Stretch:
    part = slice(at, at + length)
    return Stretch(
        whole.motors[:, part],
        whole.accel_z[part],
        None if whole.voltage is None else whole.voltage[part],
        None if whole.throttle is None else whole.throttle[part],
    )


def _has_voltage(stretch: Stretch) -> bool:
    voltage = stretch.voltage
    return voltage is not None and bool(np.isfinite(voltage).all() and voltage.min() > 0)


def _prepared(stretch: Stretch, rate_hz: float, has_voltage: bool) -> _Part:
    step = max(1, int(rate_hz / WORKING_RATE))
    n = stretch.accel_z.size // step
    rate = rate_hz / step

    def slowed(rows: Float) -> Float:
        return averaged(rows, step)

    length = _fast(n + int(rate))
    omega = np.asarray(2 * np.pi * np.arange(length // 2 + 1) * (rate / length), dtype=np.float64)

    def longer(rows: Float) -> Float:
        return np.concatenate([rows, _bridge(rows, length - n)], axis=-1)

    logs = np.zeros(length)
    if has_voltage and stretch.voltage is not None:
        logs = longer(np.log(slowed(stretch.voltage)))
    throttle = None if stretch.throttle is None else longer(slowed(stretch.throttle))
    ends = int(ENDS * rate)
    inside = slice(ends, n - ends)
    motors = longer(slowed(stretch.motors))
    return _Part(motors, -slowed(stretch.accel_z), logs, throttle, omega, length, rate, inside)


def _fast(n: int) -> int:
    from scipy.fft import next_fast_len

    return 2 * int(next_fast_len((n + 1) // 2, real=True))


def _bridge(rows: Float, count: int) -> Float:
    """Straight lines from the last samples back to the first: nothing jumps where the transform wraps."""
    way = (np.arange(count) + 1) / (count + 1)
    return np.asarray(rows[..., -1:] + (rows[..., :1] - rows[..., -1:]) * way)


class _Fit:
    """Gauss-Newton on exponent, log lag, delay, voltage exponent and the level of each motor."""

    def __init__(self, parts: Sequence[_Part], has_voltage: bool) -> None:
        self.parts = parts
        self.has_voltage = has_voltage
        self.instrumented = all(part.throttle is not None for part in parts)
        self.force = np.concatenate([part.force[part.inside] for part in parts])
        self.logs = np.concatenate([part.logs[: part.force.size] for part in parts])
        self.mean_log = float(self.logs.mean())
        self.motors = parts[0].motors.shape[0]
        start = [1.5, np.log(LAG_START), DELAY[0], 1.0 if has_voltage else 0.0]
        self.numbers = np.array(start + [1.0] * self.motors)
        self.covariance, self.dof = np.eye(self.numbers.size), 2.0
        self.converged = False
        self._run()

    def _model(self, motors: list[Float]) -> tuple[Float, Float]:
        """What the numbers say (n,), and its derivatives (p, n) by the numbers."""
        made = [self._part_model(part, rows) for part, rows in zip(self.parts, motors, strict=True)]
        return np.concatenate([m for m, _ in made]), np.concatenate([d for _, d in made], axis=1)

    def _part_model(self, part: _Part, motors: Float) -> tuple[Float, Float]:
        exponent, log_lag, delay, by_voltage = self.numbers[:SHARED]
        s = 1j * part.omega
        pole = 1 / (1 + s * np.exp(log_lag))
        follow = np.exp(-s * delay) * pole
        logs = part.logs - self.mean_log
        driven = motors * np.exp(by_voltage * logs)
        turned = np.empty((4, self.motors, part.omega.size), dtype=np.complex128)
        turned[0] = np.fft.rfft(driven) * follow
        turned[1] = turned[0] * (-s * np.exp(log_lag) * pole)
        turned[2] = turned[0] * -s
        turned[3] = np.fft.rfft(driven * logs) * follow if self.has_voltage else 0.0
        speed, *by = np.fft.irfft(turned, part.length)[:, :, part.inside]
        speed = np.maximum(speed, 1e-3)
        log_speed = np.log(speed)
        thrust = np.exp(exponent * log_speed)
        levelled = thrust * (self.numbers[SHARED:, None] / self.motors)
        slope = exponent * levelled / speed
        slopes = [(levelled * log_speed).sum(axis=0), *((slope * each).sum(axis=0) for each in by)]
        return levelled.sum(axis=0), np.concatenate([np.asarray(slopes), thrust / self.motors])

    def _run(self) -> None:
        own = [part.motors for part in self.parts]
        model, _ = self._model(own)
        self.numbers[SHARED:] = self.force.mean() / model.mean()
        for number in range(ROUNDS):
            step = self._step(own)
            self.numbers[:SHARED] += np.clip(step[:SHARED], -LARGEST_STEP, LARGEST_STEP)
            self.numbers[SHARED:] += step[SHARED:]
            self.numbers[0] = np.clip(self.numbers[0], 0.2, 4.0)
            self.numbers[1] = np.clip(self.numbers[1], np.log(0.002), np.log(0.3))
            self.numbers[2] = np.clip(self.numbers[2], 0.0, 0.012)
            errors = np.sqrt(np.maximum(np.diagonal(self.covariance)[[0, 3]], 0.0))
            settled = 0.1 * np.minimum(errors, 0.03) + 1e-4
            if number >= 3 and np.all(np.abs(step[[0, 3]]) < settled):
                self.converged = True
                break

    def _step(self, own: list[Float]) -> Float:
        model, design = self._model(own)
        residual = self.force - model
        weight = self._weights(residual)
        instrument = self._instrument(design) if self.instrumented else design
        weighted = instrument * weight
        noise = self._noise(residual * np.sqrt(weight))
        information, pull = self._prior()
        normal = weighted @ design.T + noise * information
        step = np.linalg.solve(normal, weighted @ residual + noise * pull)
        self._keep(weighted, residual, normal, noise, information)
        return np.asarray(step)

    def _instrument(self, design: Float) -> Float:
        """The same derivatives as if the collective had followed the pilot's throttle alone."""
        rows = []
        for part in self.parts:
            assert part.throttle is not None
            mean = part.motors.mean(axis=0)
            rows.append(
                part.motors - mean + part.throttle * (mean.mean() / max(float(part.throttle.mean()), 1e-9))
            )
        made = self._model(rows)[1]
        gain = np.sum(made * design, axis=1) / (np.sum(made**2, axis=1) + 1e-300)
        return np.asarray(made * gain[:, None])

    def _weights(self, residual: Float) -> Float:
        """Huber's weights: 1 up to 2.5 robust standard deviations."""
        spread = 1.4826 * float(np.median(np.abs(residual - np.median(residual)))) + 1e-12
        weights: Float = np.minimum(1.0, 2.5 * spread / np.maximum(np.abs(residual), 1e-12))
        return weights

    def _block(self, residual: Float) -> int:
        rate = self.parts[0].rate
        return block_length(residual, int(BLOCKS[0] * rate), int(BLOCKS[1] * rate))

    def _noise(self, residual: Float) -> float:
        """Variance of a sample as if samples were independent: of block sums, over their length."""
        block = self._block(residual)
        count = residual.size // block
        if count < 4:
            return float(np.mean(residual**2)) * block
        return float(np.mean(residual[: count * block].reshape(count, block).sum(axis=1) ** 2)) / block

    def _prior(self) -> tuple[Float, Float]:
        """Information of the weak priors and its pull from where the numbers stand."""
        size = self.numbers.size
        information, pull = np.zeros((size, size)), np.zeros(size)
        for place, (centre, spread) in ((1, (np.log(LAG_START), LAG_SPREAD)), (2, DELAY)):
            information[place, place] = 1 / spread**2
            pull[place] = (centre - self.numbers[place]) / spread**2
        if self.has_voltage:
            information[3, 3] = 1 / VOLTAGE_SPREAD**2
            pull[3] = (1.0 - self.numbers[3]) / VOLTAGE_SPREAD**2
        else:
            information[3, 3] = 1e12
        levels = self.numbers[SHARED:]
        apart = np.eye(self.motors) - 1 / self.motors
        stiff = apart / (LEVEL_SPREAD * levels.mean()) ** 2
        information[SHARED:, SHARED:] += stiff
        pull[SHARED:] -= stiff @ levels
        return information, pull

    def _keep(
        self, weighted: Float, residual: Float, normal: Float, noise: float, information: Float
    ) -> None:
        """Covariance by the sandwich with blocks; degrees of freedom by how few blocks bear the exponent."""
        block = self._block(residual)
        inverse = np.linalg.inv(normal)
        count = residual.size // block
        kept = weighted[:, : count * block]
        bearing = (inverse[0] @ kept).reshape(count, block)
        power = np.sum(bearing**2, axis=1)
        share = power / max(float(power.sum()), 1e-300)
        # a block's residual has been shrunk by its own share in the fit (as in the jackknife)
        swallowed = np.minimum(share, 0.5)
        scores = kept * residual[: count * block]
        sums = scores.reshape(-1, count, block).sum(axis=2) / (1 - swallowed)
        moved = inverse @ sums
        neighbours = np.maximum(0.0, np.sum(moved[:, 1:] * moved[:, :-1], axis=1))
        scatter = (moved @ moved.T + np.diag(neighbours)) * (residual.size / max(count * block, 1))
        self.covariance = scatter + noise**2 * inverse @ information @ inverse.T
        self.dof = max(2.0, 1 / float(np.sum(share**2)) - 1)

    def result(self, offset_share: float) -> ThrustCurve:
        """Intervals, refusals and words."""
        exponent, log_lag, _, by_voltage = (float(number) for number in self.numbers[:SHARED])
        variances = np.maximum(np.diagonal(self.covariance), 0.0)
        error = float(np.sqrt(variances[0] + (exponent * offset_share) ** 2))
        caveats: tuple[str, ...] = ()
        if not self.has_voltage:
            error = float(np.hypot(error, 0.05 * exponent))
            caveats = (
                "pack voltage is not logged: sag is taken for part of the curve, 5 % is allowed for it",
            )
        if not self.converged or not error < WORST_ERROR:
            return _nothing(
                "throttle varied too little to tell the thrust curve: fly five climbs with a quick rise of"
                " throttle, two seconds apart"
            )
        quantile = student(self.dof)
        route = "accelerometer on motor commands"
        if self.instrumented:
            route += ", throttle as instrument"
        lag = float(np.exp(log_lag))
        wide = quantile * float(np.sqrt(variances[1]))
        shown = Measured(lag, lag * np.exp(-wide), lag * np.exp(wide), "s", route)
        found = Measured(
            exponent, exponent - quantile * error, exponent + quantile * error, "1", route, caveats=caveats
        )
        slopes = np.array([by_voltage, exponent])
        spread = float(np.sqrt(slopes @ self.covariance[np.ix_([0, 3], [0, 3])] @ slopes))
        spread = float(np.hypot(spread, VOLTAGE_FLOOR * exponent))
        voltage = self._voltage(by_voltage * exponent, quantile * spread, route)
        return ThrustCurve(found, error, voltage, shown, _compensation(voltage, exponent))

    def _voltage(self, value: float, half: float, route: str) -> Measured:
        if not self.has_voltage:
            return unmeasured("pack voltage is not logged; log it", route=route)
        if half > 0.8:
            spread = 100 * float(np.ptp(np.percentile(self.logs, [2, 98])))
            return unmeasured(
                f"the voltage moved by {spread:.0f} % only; fly the pack further down in one log", route=route
            )
        return Measured(value, value - half, value + half, "1", route)


def _compensation(voltage: Measured, exponent: float) -> str:
    if voltage.low is None or voltage.high is None:
        return "voltage compensation: not seen"
    if voltage.low <= 0 <= voltage.high and not voltage.low <= exponent <= voltage.high:
        return "thrust does not follow the voltage: it is made up for after the logged motor commands"
    if voltage.low <= exponent <= voltage.high and voltage.low > 0:
        return (
            "thrust follows the voltage as much as the command: the logged commands are what the motors got"
        )
    return "thrust follows the voltage in part"
