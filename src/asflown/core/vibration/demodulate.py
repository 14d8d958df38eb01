"""Lines of rotors separated by their angles: weighted least squares in short blocks, longer ones by adding them up.

Each order of each rotor is ``a(t) Re(c exp(i k angle(t)))`` with ``a = (speed / reference)²`` and ``c`` constant over a
block: what Vold-Kalman tracking does, with a block in place of its smoother (Vold & Leuridan 1993, from memory). The
normal equations of Hann-weighted half-overlapping blocks add up to those of longer blocks, so every coherent length
comes from one pass. The noise beside a line is read from the residual a few hertz to its left and right. A line above
half the log rate folds by itself: the model is sampled where the log is.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
ComplexArray = npt.NDArray[np.complexfloating]

#: s, of a base block; its main lobe is 8 Hz to either side.
BASE = 0.25
#: Hz beside the line where the noise is read.
_BESIDE = (-14.0, 14.0)
#: Hz: a line that shows (folded) below this or this near half the log rate is left out for that moment.
_LOWEST, _EDGE = 20.0, 6.0


@dataclass(frozen=True, eq=False)
class Stretches:
    """Even stretches of a flight, all of one length.

    Attributes
    ----------
    signals
        Names of the channels.
    values
        (stretches, channels, n) float32.
    angle
        (stretches, rotors, n) revolutions, float32, whole turns taken off.
    amplitude
        (stretches, rotors, n) float32, (speed / reference)².
    speed
        (stretches, rotors, n) rev/s, float32.
    """

    signals: tuple[str, ...]
    values: npt.NDArray[np.float32]
    angle: npt.NDArray[np.float32]
    amplitude: npt.NDArray[np.float32]
    speed: npt.NDArray[np.float32]
    rate_hz: float

    @property
    def length(self) -> int:
        """Samples of a base block, even."""
        return 2 * round(0.5 * BASE * self.rate_hz)


@dataclass(frozen=True, eq=False)
class Equations:
    """Normal equations of one order in blocks (b), rotors (r), channels (c).

    Attributes
    ----------
    gram
        (b, r, r) complex: weighted products of the model's terms.
    product
        (b, r, c) complex: of the terms with the signals.
    noise
        (b, c): mean square of such a product for noise alone, per unit of gram.
    weight
        (b,) sum of the window, samples.
    """

    gram: ComplexArray
    product: ComplexArray
    noise: FloatArray
    weight: FloatArray

    def longer(self, blocks: int, noise_share: float) -> Equations:
        """Sums of as many neighbouring blocks; ``noise_share`` corrects the noise for the flatter window."""
        count = self.gram.shape[0] // blocks

        def added(part: npt.NDArray[np.generic]) -> npt.NDArray[np.generic]:
            whole = part[: count * blocks]
            return np.asarray(whole.reshape(count, blocks, *part.shape[1:]).sum(axis=1))

        return Equations(
            added(self.gram),
            added(self.product),
            added(self.noise) / blocks * noise_share,
            added(self.weight),
        )


def equations(cut: Stretches, order: float) -> Equations:
    """The normal equations of an order in base blocks that overlap by half."""
    parts = [_of_stretch(cut, number, order) for number in range(cut.values.shape[0])]
    return Equations(
        np.concatenate([part.gram for part in parts]),
        np.concatenate([part.product for part in parts]),
        np.concatenate([part.noise for part in parts]),
        np.concatenate([part.weight for part in parts]),
    )


def terms(cut: Stretches, number: int, order: float) -> npt.NDArray[np.complex64]:
    """``a exp(-2 pi i k angle)`` (rotors, n) of a stretch, zero where the line is not to be used."""
    turn = (
        (order * cut.angle[number]).astype(np.float64) if order != int(order) else order * cut.angle[number]
    )
    turn = (turn - np.floor(turn)) * np.float32(-2.0 * np.pi)
    out = np.empty(turn.shape, dtype=np.complex64)
    usable = cut.amplitude[number] * _usable(order * cut.speed[number], cut.rate_hz)
    np.cos(turn, out=out.real, casting="same_kind")
    np.sin(turn, out=out.imag, casting="same_kind")
    out *= usable
    return out


def _usable(frequency: npt.NDArray[np.float32], rate_hz: float) -> npt.NDArray[np.bool_]:
    rest = np.mod(frequency, np.float32(rate_hz))
    seen = np.minimum(rest, np.float32(rate_hz) - rest)
    return np.asarray((seen > _LOWEST) & (seen < 0.5 * rate_hz - _EDGE))


def _of_stretch(cut: Stretches, number: int, order: float) -> Equations:
    length = cut.length
    hop = length // 2
    window = (0.5 - 0.5 * np.cos(2.0 * np.pi * np.arange(length) / length)).astype(np.float32)
    view = np.lib.stride_tricks.sliding_window_view
    model = view(terms(cut, number, order), length, axis=1)[:, ::hop].transpose(1, 0, 2)
    signal = view(cut.values[number], length, axis=1)[:, ::hop].transpose(1, 2, 0)  # (b, n, c)
    weighted = np.ascontiguousarray(model * window)  # (b, r, n)
    signal = np.ascontiguousarray(signal)
    # model holds exp(-i angle) already: the Gram matrix couples exp(-i k angle_r) with exp(+i k angle_s)
    gram = weighted @ np.ascontiguousarray(np.conj(model.transpose(0, 2, 1)))
    product = _times(weighted, signal)
    amplitude = 2.0 * _solved(gram, product, 1e-3)
    fitted = np.einsum("brc,brn->bnc", amplitude.real, model.real, optimize=True)
    fitted += np.einsum("brc,brn->bnc", amplitude.imag, model.imag, optimize=True)
    noise = _beside(weighted, signal - fitted, gram, cut.rate_hz)
    weight = np.full(gram.shape[0], float(window.sum()))
    return Equations(gram, product, noise, weight)


def _times(weighted: ComplexArray, signal: npt.NDArray[np.float32]) -> ComplexArray:
    out = np.empty((weighted.shape[0], weighted.shape[1], signal.shape[2]), dtype=np.complex64)
    out.real = weighted.real @ signal
    out.imag = weighted.imag @ signal
    return out


def _beside(
    weighted: ComplexArray, residual: npt.NDArray[np.float32], gram: ComplexArray, rate_hz: float
) -> FloatArray:
    """Mean square (b, c) of the residual's product with the lines shifted to either side, per unit of gram."""
    time = np.arange(weighted.shape[2]) / rate_hz
    own = np.einsum("brr->br", gram).real
    total = np.zeros((weighted.shape[0], residual.shape[2]))
    count = np.maximum((own > 0.0).sum(axis=1), 1)[:, None]
    for shift in _BESIDE:
        turned = weighted * np.exp(-2j * np.pi * shift * time).astype(np.complex64)
        square = np.abs(_times(turned, residual)) ** 2
        share = np.divide(square, own[:, :, None], out=np.zeros_like(square), where=own[:, :, None] > 0.0)
        total += share.sum(axis=1) / count
    return total / len(_BESIDE)


def _solved(gram: ComplexArray, product: ComplexArray, ridge: float) -> ComplexArray:
    """Solutions (b, r, c); a little is added to the diagonal so that rotors at one speed do not blow up."""
    own = np.einsum("brr->br", gram).real
    floor = ridge * own.max(axis=1, keepdims=True) + 1e-12
    eye = np.eye(gram.shape[1])
    # a rotor left out for the whole block has an empty row: one on its diagonal gives it the amplitude zero
    empty = (own <= 0.0) * 1.0
    return np.asarray(np.linalg.solve(gram + eye * (floor + empty)[:, :, None], product))


@dataclass(frozen=True, eq=False)
class Powers:
    """Line power by block, noise taken off.

    Attributes
    ----------
    energy
        (b, c): sum over rotors and samples of the mean square of the line, in unit² times samples.
    single
        (b, r, c): the same of each rotor alone, from the separated amplitudes.
    reference
        (b, r): samples times a²: what energy an amplitude with mean square one at the reference speed would have.
    weight
        (b,) samples.
    noise
        (b, c): energy that noise alone puts into one line, already taken off.
    separated
        (b, r): by how much separating raised the noise of that rotor; 1 where it stood alone, infinite where not there.
    """

    energy: FloatArray
    single: FloatArray
    reference: FloatArray
    weight: FloatArray
    noise: FloatArray
    separated: FloatArray


def powers(normal: Equations) -> Powers:
    """Line powers of blocks from their normal equations."""
    gram, product = normal.gram.astype(np.complex128), normal.product.astype(np.complex128)
    own = np.maximum(np.einsum("brr->br", gram).real, 0.0)
    there = own > 1e-9 * max(float(own.max(initial=0.0)), 1e-30)
    size = np.sqrt(np.where(there, own, 1.0))
    unit = gram / size[:, :, None] / size[:, None, :]
    values, vectors = np.linalg.eigh(unit)
    kept = values > 0.02
    inverse = np.where(kept, 1.0 / np.where(kept, values, 1.0), 0.0)
    rotated = np.einsum("brk,brc->bkc", np.conj(vectors), product / size[:, :, None])
    # c = 2 G^-1 p; mean square of the line over the window's samples: c^H G c / 2
    square = np.abs(rotated) ** 2
    rank = (kept * there.any(axis=1, keepdims=True)).sum(axis=1)
    energy = 2.0 * (np.einsum("bk,bkc->bc", inverse, square) - rank[:, None] * normal.noise)
    apart = np.einsum("brk,bk,bkc->brc", vectors, inverse, rotated)
    raised = np.einsum("brk,bk->br", np.abs(vectors) ** 2, inverse)
    single = 2.0 * (np.abs(apart) ** 2 - raised[:, :, None] * normal.noise[:, None, :])
    lost = np.einsum("brk,bk->br", np.abs(vectors) ** 2, (~kept).astype(np.float64)) > 1e-3
    single = np.where((there & ~lost)[:, :, None], single, 0.0)
    return Powers(
        energy, single, own, normal.weight, 2.0 * normal.noise, np.where(there & ~lost, raised, np.inf)
    )
