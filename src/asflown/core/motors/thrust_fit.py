"""The fit of the thrust curve: Gauss-Newton with weak priors, and errors that allow for memory."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from asflown.core.motors.thrust_stretches import Part
from asflown.core.signal.mean_error import block_length

Float = npt.NDArray[np.float64]

#: s: shortest and longest block for the errors.
BLOCKS = (0.4, 2.0)
#: Prior spread of the power of the voltage in a rotor's speed about 1, of the lag (log) about 30 ms.
VOLTAGE_SPREAD = 0.8
LAG_START, LAG_SPREAD = 0.03, 0.7
#: Pure delay, centre and spread, s; how far the motors' strengths may differ, as a share.
DELAY = (0.002, 0.0015)
LEVEL_SPREAD = 0.15
#: Numbers before the levels of the motors.
SHARED = 4
ROUNDS = 12
#: Largest change of exponent, log lag, delay (s) and power of the voltage in a round.
LARGEST_STEP = np.array([0.7, 0.5, 0.002, 0.5])


class ThrustFit:
    """Gauss-Newton on exponent, log lag, delay, voltage exponent and the level of each motor."""

    def __init__(self, parts: Sequence[Part], has_voltage: bool) -> None:
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

    def _part_model(self, part: Part, motors: Float) -> tuple[Float, Float]:
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
