"""Lines of rotors separated by their angles: weighted least squares in short blocks, added up to longer ones.

Each order of each rotor is ``a(t) Re(c exp(i k angle(t)))`` with ``a = (speed / reference)²`` and ``c``
constant over a block: what Vold-Kalman tracking does, with a block in place of its smoother (Vold &
Leuridan 1993, from memory). The normal equations of Hann-weighted half-overlapping blocks add up to those
of longer blocks, so every coherent length comes from one pass. The noise beside a line is read from the
residual a few hertz to its left and right. A line above half the log rate folds by itself: the model is
sampled where the log is.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from asflown.core.signal.windows import Window, window_weights

FloatArray = npt.NDArray[np.float64]
Float32 = npt.NDArray[np.float32]
Complex64 = npt.NDArray[np.complex64]
ComplexArray = npt.NDArray[np.complexfloating]

#: s, of a base block; its main lobe is 8 Hz to either side.
BASE = 0.25
#: Hz beside the line where the noise is read.
_BESIDE = (-14.0, 14.0)
#: Hz: a line that shows (folded) below the lowest, or this near half the log rate (there stands its mirror
#: image), is left out for that moment; within the ramp it counts less.
_LOWEST, _EDGE, _RAMP = 20.0, 20.0, 20.0


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

    def longer(self, blocks: int) -> Equations:
        """Sums of as many neighbouring blocks; the noise is corrected for the flatter window they make."""
        count = self.gram.shape[0] // blocks
        share = (1.0 - 0.25 / blocks) / 0.75

        def added(part: npt.NDArray[Any]) -> npt.NDArray[Any]:
            return np.asarray(part[: count * blocks].reshape(count, blocks, *part.shape[1:]).sum(axis=1))

        noise = added(self.noise) / blocks * share
        return Equations(added(self.gram), added(self.product), noise, added(self.weight))


def equations(cut: Stretches, order: float) -> Equations:
    """The normal equations of an order in base blocks that overlap by half."""
    parts = [_of_stretch(cut, number, order) for number in range(cut.values.shape[0])]
    return Equations(
        np.concatenate([part.gram for part in parts]),
        np.concatenate([part.product for part in parts]),
        np.concatenate([part.noise for part in parts]),
        np.concatenate([part.weight for part in parts]),
    )


def terms(cut: Stretches, number: int, order: float) -> tuple[Complex64, Float32]:
    """``a exp(-2 pi i k angle)`` (rotors, n) of a stretch, and the weight (n,) of each moment.

    The weight falls to zero, slowly, where a rotor's line is at an edge of what the log shows: switching the
    model off at once would let other lines leak in.
    """
    turn = cut.angle[number] * np.float32(order)
    turn -= np.floor(turn)
    turn *= np.float32(-2.0 * np.pi)
    out = np.empty(turn.shape, dtype=np.complex64)
    out.real = np.cos(turn)
    out.imag = np.sin(turn)
    out *= cut.amplitude[number]
    return out, _usable(cut.speed[number] * np.float32(order), cut.rate_hz)


def _usable(frequency: Float32, rate_hz: float) -> Float32:
    top = 0.5 * rate_hz - _EDGE
    if float(frequency.min()) > _LOWEST + _RAMP and float(frequency.max()) < top - _RAMP:
        return np.ones(frequency.shape[1], dtype=np.float32)
    rest = frequency - np.float32(rate_hz) * np.floor(frequency * np.float32(1.0 / rate_hz))
    seen = np.minimum(rest, np.float32(rate_hz) - rest)
    inside = np.minimum(seen - np.float32(_LOWEST), np.float32(top) - seen).min(axis=0)
    inside *= np.float32(1.0 / _RAMP)
    np.clip(inside, 0.0, 1.0, out=inside)
    return np.asarray(inside * inside * (np.float32(3.0) - np.float32(2.0) * inside))


def _of_stretch(cut: Stretches, number: int, order: float) -> Equations:
    weighted, gram, product, against = _products(cut, number, order)
    # amplitudes are 2 G^-1 p; what they leave of the signal shows the noise beside the line
    amplitude = 2.0 * _solved(gram, product, 1e-3)
    fitted = amplitude.transpose(0, 2, 1).astype(np.complex64) @ against  # (b, c, n)
    length = cut.length
    signal = np.lib.stride_tricks.sliding_window_view(cut.values[number], length, axis=1)[:, :: length // 2]
    noise = _beside(weighted, against, signal.transpose(1, 0, 2) - fitted.real, gram, cut.rate_hz)
    return Equations(gram, product, noise, np.full(gram.shape[0], 0.5 * length))


def _products(cut: Stretches, number: int, order: float) -> tuple[Complex64, Complex64, Complex64, Complex64]:
    """Weighted terms (b, r, n), Gram matrices (b, r, r), products with signals (b, r, c), conjugate terms."""
    length = cut.length
    hop = length // 2
    window = window_weights(Window.HANN, length).astype(np.float32)
    view = np.lib.stride_tricks.sliding_window_view
    own, share = terms(cut, number, order)
    shared = np.asarray(own * share, dtype=np.complex64)
    weighted = np.asarray(view(shared, length, axis=1)[:, ::hop].transpose(1, 0, 2) * window)
    against = view(np.conj(own), length, axis=1)[:, ::hop].transpose(1, 0, 2)
    signal = view(cut.values[number].astype(np.complex64), length, axis=1)[:, ::hop].transpose(1, 2, 0)
    gram = np.asarray(weighted @ against.transpose(0, 2, 1), dtype=np.complex64)
    return weighted, gram, np.asarray(weighted @ signal, dtype=np.complex64), against


def caught(cut: Stretches, order: float) -> FloatArray:
    """Power (blocks,) an order's terms catch, noise and all: to compare angles by."""
    out = []
    for number in range(cut.values.shape[0]):
        _, gram, product, _ = _products(cut, number, order)
        out.append(np.einsum("brc,brc->b", np.conj(product), _solved(gram, product, 1e-2)).real)
    return np.concatenate(out).astype(np.float64)


def _beside(
    weighted: Complex64, against: Complex64, residual: Float32, gram: Complex64, rate_hz: float
) -> FloatArray:
    """Mean square (b, c) of the residual's products with the lines shifted to either side, per unit of gram.

    Where a shifted line falls upon another rotor's, the fit has taken the noise away too: that share is not
    counted.
    """
    own = np.einsum("brr->br", gram).real
    time = np.arange(weighted.shape[2]) / rate_hz
    across, models = residual.transpose(0, 2, 1), against.transpose(0, 2, 1)
    total = np.zeros((own.shape[0], residual.shape[1]))
    size = np.zeros(own.shape[0])
    for shift in _BESIDE:
        turned = weighted * np.exp(-2j * np.pi * shift * time).astype(np.complex64)
        upon = np.conj(turned @ models).transpose(0, 2, 1)  # lines (r) against shifted ones (k)
        taken = np.einsum("brk,brk->bk", np.conj(upon), _solved(gram, upon, 1e-3)).real
        left = np.where(own > 0.0, 1.0 - taken / np.where(own > 0.0, own, 1.0), 0.0)
        there = left > 0.3
        square = (np.ascontiguousarray(turned.real) @ across) ** 2
        square += (np.ascontiguousarray(turned.imag) @ across) ** 2
        scale = np.where(there, 1.0 / np.where(own > 0.0, own, 1.0), 0.0)
        total += np.einsum("brc,br->bc", square, scale)
        size += np.where(there, left, 0.0).sum(axis=1)
    return _gaps_filled(total, size)


def _gaps_filled(total: FloatArray, size: FloatArray) -> FloatArray:
    """Total over size; blocks without any size take the mean of the others."""
    known = size > 0.0
    out = np.divide(total, size[:, None], out=np.zeros_like(total), where=known[:, None])
    if known.any() and not known.all():
        out[~known] = out[known].mean(axis=0)
    return np.asarray(out)


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
        (b, r): samples times a²: what energy an amplitude with mean square one at the reference speed would
        have.
    weight
        (b,) samples.
    noise
        (b, c): energy that noise alone puts into one line, already taken off.
    separated
        (b, r): by how much separating raised the noise of that rotor; 1 where it stood alone, infinite
        where not there.
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
