"""One axis' controller taken apart once: a sum of products of gains and of filters that may be turned.

The drive is linear in every path from the command or the rate to it. Along a path stand gains and filters;
what cannot be turned is multiplied out beforehand. A controller of four terms is then some ten products, and
its slopes for the logarithms of gains and cut-offs come with it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from asflown.core.behaviour.declared import Stage, controller_of, is_there, with_numbers
from asflown.core.control import INPUTS, OUTPUT, Block, BlockKind, ControlStructure, in_order
from asflown.core.signal import filters

Float = npt.NDArray[np.float64]
Complex = npt.NDArray[np.complex128]

#: Gains along a path and filters along it, sorted; with repeats.
_Path = tuple[tuple[str, ...], tuple[str, ...]]
_Paths = dict[_Path, Complex]
#: Step in the logarithm of a cut-off by which a filter's slope is taken, to both sides.
_STEP = 1e-5


@dataclass(frozen=True, eq=False)
class Turnable:
    """A filter whose cut-off may be turned.

    Attributes
    ----------
    knob
        Place of its role among those that may be turned.
    """

    knob: int
    block: Block
    stage: Stage
    values: Mapping[str, float]
    rate_hz: float

    def response(self, cutoff: float, frequencies: Float) -> Complex:
        """(nf,) at another cut-off, Hz."""
        role = self.block.parameters["cutoff"]
        made = with_numbers(self.stage, self.block, {**self.values, role: cutoff}, self.rate_hz)
        return filters.cascade_response(made.filters, frequencies, self.rate_hz)


@dataclass(frozen=True, eq=False)
class Frozen:
    """The products with the filters at some cut-offs.

    Attributes
    ----------
    products
        (nt, nf) complex, of fixed parts and filters.
    slopes
        (nk, nt, nf) of the logarithm of each product for that of each cut-off; (0, ...) where not asked for.
    """

    products: Complex
    slopes: Complex


@dataclass(frozen=True, eq=False)
class Terms:
    """Responses of one axis' drive for the command and for the rate taken away.

    Attributes
    ----------
    fixed
        (nt, nf) what cannot be turned in each product.
    commanded
        Number of products that start from the command: the first ones.
    powers
        (nt, nk) how often each gain stands in each product; 0 for a role that is none.
    parts, passes
        Filters that may be turned, and (nt, np) how often each stands in each product.
    """

    frequencies: Float
    fixed: Complex
    commanded: int
    powers: npt.NDArray[np.int_]
    parts: tuple[Turnable, ...]
    passes: npt.NDArray[np.int_]

    @property
    def is_linear(self) -> bool:
        """Whether each product holds one gain that may be turned at most, once."""
        return bool(np.all(self.powers.sum(axis=1) <= 1))

    def frozen(self, values: Float, *, slopes: bool = False) -> Frozen:
        """The products with the cut-offs among values (nk,), SI."""
        products = self.fixed.copy()
        made = np.zeros((self.powers.shape[1] if slopes else 0, *products.shape), dtype=np.complex128)
        for part, times in zip(self.parts, self.passes.T, strict=True):
            cutoff = float(values[part.knob])
            own = part.response(cutoff, self.frequencies)
            for count in range(1, int(times.max(initial=0)) + 1):
                products[times >= count] *= own
            if slopes:
                higher, lower = (
                    part.response(cutoff * float(np.exp(sign * _STEP)), self.frequencies)
                    for sign in (1.0, -1.0)
                )
                made[part.knob] += times[:, None] * ((higher - lower) / (2.0 * _STEP * own))
        return Frozen(products, made)

    def weights(self, values: Float) -> Float:
        """(..., nt) products of gains, for values (..., nk)."""
        return np.asarray(np.prod(values[..., None, :] ** self.powers, axis=-1))

    def sides(self, frozen: Frozen, weights: Float) -> tuple[Complex, Complex]:
        """Cr and Cy, (..., nf), for weights (..., nt)."""
        n = self.commanded
        return weights[..., :n] @ frozen.products[:n], weights[..., n:] @ frozen.products[n:]

    def slopes(self, frozen: Frozen, weights: Float) -> tuple[Complex, Complex]:
        """Of Cr and Cy for the logarithms of the values, (nk, nf) each."""
        n = self.commanded
        made = []
        for rows in (slice(0, n), slice(n, None)):
            products = frozen.products[rows]
            gains = (self.powers[rows] * weights[rows, None]).T @ products
            cutoffs = np.einsum("t,ktf,tf->kf", weights[rows], frozen.slopes[:, rows], products)
            made.append(gains + cutoffs)
        return made[0], made[1]


def terms_of(
    structure: ControlStructure,
    values: Mapping[str, float],
    stored: Mapping[str, float],
    roles: Sequence[str],
    frequencies: Float,
    scale: float = 1.0,
) -> Terms:
    """Take a controller apart.

    Parameters
    ----------
    structure, values, stored, scale
        As :func:`asflown.core.behaviour.declared.controller_of` takes them.
    roles
        (nk,) that may be turned: gains and cut-offs; see
        :func:`asflown.core.behaviour.retune.knobs.knobs_of`.
    frequencies
        (nf,) Hz.

    Raises
    ------
    InputError
        As ``controller_of`` does.
    """
    base = controller_of(structure, values, stored=stored)
    one = np.ones(frequencies.size, dtype=np.complex128)
    start: _Path = ((), ())
    made: dict[str, tuple[_Paths, _Paths]] = {
        INPUTS[0]: ({start: one}, {}),
        INPUTS[1]: ({}, {start: one}),
    }
    parts: dict[str, Turnable] = {}
    for stage, block in zip(base.stages, in_order(structure.blocks), strict=True):
        gains, passed, own = _turnable(block, stage, values, stored, roles)
        fixed = own.gain * filters.cascade_response(own.filters, frequencies, base.rate_hz)
        if passed:
            knob = roles.index(block.parameters["cutoff"])
            parts[stage.name] = Turnable(knob, block, stage, values, base.rate_hz)
        command, rate = (_through(stage, made, side, (gains, passed), fixed) for side in (0, 1))
        made[stage.name] = command, rate
    command, rate = made[OUTPUT]
    sent = [(path, row) for path, row in command.items() if np.any(row)]
    rows = [*sent, *((path, -row) for path, row in rate.items() if np.any(row))]
    names = tuple(parts)
    return Terms(
        frequencies,
        np.asarray(
            scale * np.array([row for _, row in rows]).reshape(len(rows), frequencies.size),
            dtype=np.complex128,
        ),
        len(sent),
        _counts([path[0] for path, _ in rows], roles),
        tuple(parts.values()),
        _counts([path[1] for path, _ in rows], names),
    )


def _turnable(
    block: Block, stage: Stage, values: Mapping[str, float], stored: Mapping[str, float], roles: Sequence[str]
) -> tuple[tuple[str, ...], tuple[str, ...], Stage]:
    """Gains and filters of a block that may be turned, and what is left of it."""
    if not is_there(block, stored):
        return (), (), stage
    if block.kind is BlockKind.GAIN and block.parameters.get("gain") in roles:
        role = block.parameters["gain"]
        bare = with_numbers(stage, block, {**values, role: 1.0}, 1.0)
        return (role,), (), bare
    if block.parameters.get("cutoff") in roles:
        return (), (block.name,), replace(stage, filters=())
    return (), (), stage


def _through(
    stage: Stage, made: Mapping[str, tuple[_Paths, _Paths]], side: int, turnable: _Path, fixed: Complex
) -> _Paths:
    """What comes out of a stage on the command's or the rate's side."""
    out: _Paths = {}
    for name, sign in stage.inputs:
        for path, row in made[name][side].items():
            longer = (
                tuple(sorted((*path[0], *turnable[0]))),
                tuple(sorted((*path[1], *turnable[1]))),
            )
            out[longer] = out.get(longer, 0.0) + sign * row * fixed
    return out


def _counts(paths: Sequence[tuple[str, ...]], names: Sequence[str]) -> npt.NDArray[np.int_]:
    return np.array([[path.count(name) for name in names] for path in paths], dtype=np.int_).reshape(
        len(paths), len(names)
    )
