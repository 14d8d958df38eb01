"""Magnetometer: the ellipsoid its readings lie on, where it was turned through enough directions."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Float = npt.NDArray[np.float64]

#: Cells of equal area that the sphere of directions is looked at in: rings by height, sectors by azimuth.
RINGS, SECTORS = 6, 8
#: Share of the cells below which the fit is not to be used (common practice, no source).
ENOUGH = 0.6


@dataclass(frozen=True, eq=False)
class EllipsoidFit:
    """``(raw - centre) @ matrix`` has the length ``field`` in every direction.

    Attributes
    ----------
    centre
        (3,) hard iron, in the readings' unit.
    matrix
        (3, 3) soft iron and scale, symmetric, determinant 1.
    field
        Length of the field, in the readings' unit.
    residual
        Root mean square of the corrected length less the field.
    coverage
        Share of the cells of directions in which there is a reading, 0 to 1.
    error
        (3,) standard error of the centre, from the scatter of the readings, taken as white.
    """

    centre: Float
    matrix: Float
    field: float
    residual: float
    coverage: float
    error: Float

    @property
    def is_fit_for_use(self) -> bool:
        """Whether enough directions were covered."""
        return self.coverage >= ENOUGH

    def corrected(self, raw: Float) -> Float:
        """Corrected readings (n, 3) of raw ones (n, 3)."""
        return np.asarray((raw - self.centre) @ self.matrix)


def ellipsoid_fit(raw: Float) -> EllipsoidFit:
    """Fit an ellipsoid.

    Parameters
    ----------
    raw
        (n, 3) readings in any directions, n >= 9.

    Raises
    ------
    ValueError
        For fewer than nine readings, or readings that lie on no ellipsoid (a plane, a line, one place).

    Notes
    -----
    Least squares of the general quadric ``x'Ax + 2b'x = 1`` in readings that were shifted and scaled to about
    1, as textbooks have it; the normalisation to a determinant of 1 keeps the field's own length (section
    10.2 of the check values).
    """
    if raw.ndim != 2 or raw.shape[1] != 3 or raw.shape[0] < 9:
        raise ValueError(f"nine readings of three axes or more are needed, got {raw.shape}")
    if not np.isfinite(raw).all():
        raise ValueError("a reading is no number")
    middle = (raw.max(axis=0) + raw.min(axis=0)) / 2
    size = float(np.max(np.ptp(raw, axis=0))) / 2
    if size == 0:
        raise ValueError("all readings are the same: turn the aircraft about every axis")
    x, y, z = ((raw - middle) / size).T
    design = np.column_stack([x * x, y * y, z * z, 2 * x * y, 2 * x * z, 2 * y * z, 2 * x, 2 * y, 2 * z])
    solved, _, rank, singular = np.linalg.lstsq(design, np.ones(len(x)), rcond=None)
    a, b, c, d, e, f = solved[:6]
    quadric = np.array([[a, d, e], [d, b, f], [e, f, c]])
    if rank < 9 or singular[-1] < 1e-6 * singular[0] or not (np.linalg.eigvalsh(quadric) > 0).all():
        raise ValueError("the readings lie on no ellipsoid: turn the aircraft about every axis, both ways")
    centre = -np.linalg.solve(quadric, solved[6:])
    reach = 1.0 + centre @ quadric @ centre
    lengths, axes = np.linalg.eigh(quadric / reach)
    root = axes @ np.diag(np.sqrt(lengths)) @ axes.T
    field = float(np.linalg.det(root) ** (-1 / 3))
    matrix = root * field
    turned = (np.column_stack([x, y, z]) - centre) @ matrix
    radius = np.linalg.norm(turned, axis=1)
    residual = float(np.sqrt(np.mean((radius - field) ** 2)))
    # how the corrected length moves with the centre: along the direction, through the matrix
    slopes = (turned / radius[:, None]) @ matrix
    dof = max(1, raw.shape[0] - 9)
    scatter = float(np.sum((radius - field) ** 2)) / dof
    error = np.sqrt(np.diag(np.linalg.pinv(slopes.T @ slopes)) * scatter)
    return EllipsoidFit(
        middle + size * centre, matrix, field * size, residual * size, coverage(turned), error * size
    )


def sphere_fit(raw: Float) -> tuple[Float, float]:
    """Centre (3,) and radius of the sphere nearest to readings (n, 3): four parameters, hard iron alone.

    Raises
    ------
    ValueError
        For readings that lie on one plane.

    Notes
    -----
    Linear least squares of ``|raw|² = 2 centre · raw + (radius² - |centre|²)``.
    """
    middle = raw.mean(axis=0)
    rows = raw - middle
    design = np.column_stack([2 * rows, np.ones(len(rows))])
    size = max(float(np.abs(rows).max(initial=0.0)), 1e-300)
    if len(rows) < 4 or np.linalg.svd(design / [size, size, size, 1], compute_uv=False)[-1] < 1e-6:
        raise ValueError("the readings lie on one plane: turn the aircraft about every axis")
    solved = np.linalg.lstsq(design, np.sum(rows**2, axis=1), rcond=None)[0]
    return middle + solved[:3], float(np.sqrt(max(0.0, solved[3] + solved[:3] @ solved[:3])))


def coverage(directions: Float) -> float:
    """Share of cells of equal area in which at least one direction (n, 3) lies."""
    return float(np.mean(cells_seen(directions)))


def cells_seen(directions: Float) -> npt.NDArray[np.bool_]:
    """True (RINGS, SECTORS) where at least one direction (n, 3) lies in the cell."""
    unit = directions / np.linalg.norm(directions, axis=1)[:, None]
    ring = np.clip(((unit[:, 2] + 1) / 2 * RINGS).astype(int), 0, RINGS - 1)
    angle = (np.arctan2(unit[:, 1], unit[:, 0]) + np.pi) / (2 * np.pi)
    sector = np.clip((angle * SECTORS).astype(int), 0, SECTORS - 1)
    seen = np.zeros((RINGS, SECTORS), dtype=bool)
    seen[ring, sector] = True
    return seen


def biggest_hole(directions: Float) -> tuple[Float, float]:
    """Direction (3,) that lies furthest from every one of (n, 3), and how far, rad.

    Looked for on 2000 directions spread evenly (Fibonacci lattice).
    """
    from scipy.spatial import cKDTree

    count = np.arange(2000) + 0.5
    height = 1 - 2 * count / 2000
    turn = np.pi * (1 + 5**0.5) * count
    flat = np.sqrt(1 - height**2)
    lattice = np.column_stack([flat * np.cos(turn), flat * np.sin(turn), height])
    unit = directions / np.linalg.norm(directions, axis=1)[:, None]
    apart = np.asarray(cKDTree(unit).query(lattice)[0], dtype=np.float64)
    place = int(np.argmax(apart))
    return lattice[place], float(2 * np.arcsin(min(1.0, apart[place] / 2)))


def thinned(raw: Float, share: float = 0.02) -> Float:
    """Readings (m, 3) that each lie further from the one kept before than a share of the whole reach.

    A magnetometer that lies still adds readings and no direction.
    """
    finite = raw[np.isfinite(raw).all(axis=1)]
    if len(finite) == 0:
        return finite
    least = share * float(np.max(np.ptp(finite, axis=0))) / 2
    kept = [0]
    last = finite[0]
    for place in range(1, len(finite)):
        if abs(finite[place] - last).max() >= least:
            kept.append(place)
            last = finite[place]
    return np.asarray(finite[kept])
