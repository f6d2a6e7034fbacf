"""What readings leave open: everything that two unknown numbers could be, drawn in proportion to how well it fits."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
LogDensity = Callable[[Floats, Floats], Floats]

NORMAL_95 = 1.959964  # standard deviations on either side of the middle that hold 95 % of a normal distribution
_CELLS = 96  # along each axis of a grid
_SEARCHES = 10
_OUT_OF_SIGHT = 20.0  # below the best in ln of the density: less than 1e-8 of it


@dataclass(frozen=True)
class Range:
    """A number and the 95 % interval about it."""

    value: float
    low: float
    high: float


@dataclass(frozen=True)
class Fit:
    """Draws of two unknown numbers, (n,) each."""

    first: Floats
    second: Floats


def drawn(
    density: LogDensity,
    *,
    box: tuple[tuple[float, float], tuple[float, float]],
    seed: int,
    count: int = 10_000,
) -> Fit:
    """Draws from an unnormalised density inside a box.

    density : its ln at places (first, second), arrays of one shape; -inf where nothing can be
    box : (low, high) of the first and of the second
    The grid closes in on where the density is; between its nodes the density counts as even, so the draws are as
    fine as a hundredth of what is left open. Draws of different seeds are independent of each other.
    Raises ValueError if the density is nowhere above 0 on the first grid.
    """
    area = [box[0], box[1]]
    for _ in range(_SEARCHES):
        height, edges = _grid(density, area)
        best = float(height.max())
        if not np.isfinite(best):
            raise ValueError("no place in the box has any density")
        seen = height > best - _OUT_OF_SIGHT
        closer = [_around(np.flatnonzero(seen.any(axis=1 - axis)), edges[axis], box[axis]) for axis in (0, 1)]
        shrunk = max((high - low) / (far - near) for (low, high), (near, far) in zip(closer, area, strict=True))
        area = closer
        if shrunk > 0.8:
            break
    height, edges = _grid(density, area)
    best = float(height.max())
    weight = np.exp(height - best).ravel()
    rng = np.random.default_rng(seed)
    # Systematic sampling, one place for each equal step of weight: smoother than as many independent picks.
    cell = np.searchsorted(np.cumsum(weight / weight.sum()), (np.arange(count) + rng.random()) / count)
    row, column = np.unravel_index(np.minimum(cell, weight.size - 1), height.shape)
    order = rng.permutation(count)
    inside = rng.random((2, count))
    steps = [edge[1] - edge[0] for edge in edges]
    first = edges[0][row] + inside[0] * steps[0]
    second = edges[1][column] + inside[1] * steps[1]
    return Fit(first[order], second[order])


def range_of(draws: Floats, *, without_limit: Floats | None = None) -> Range:
    """Mean and 95 % interval of draws.

    without_limit : draws for the interval alone, made without what is known beforehand: an interval of draws that a
        limit cuts off would miss a truth close to that limit too often
    The mean, not the median: means of shares that sum to at most 1 do so too.
    """
    low, high = np.percentile(draws if without_limit is None else without_limit, (2.5, 97.5))
    value = float(draws.mean())
    return Range(value, min(float(low), value), max(float(high), value))


def gaussian(residual: Floats, covariance: Floats) -> Floats:
    """ln of a normal density at residuals (..., k) with covariances (..., k, k), without its constant; (...)."""
    solved = np.linalg.solve(covariance, residual[..., None])[..., 0]
    return np.asarray(-0.5 * ((residual * solved).sum(axis=-1) + np.linalg.slogdet(covariance)[1]))


def _grid(density: LogDensity, area: list[tuple[float, float]]) -> tuple[Floats, list[Floats]]:
    edges = [np.linspace(low, high, _CELLS + 1) for low, high in area]
    middle = [0.5 * (edge[1:] + edge[:-1]) for edge in edges]
    first, second = np.meshgrid(*middle, indexing="ij")
    return density(first, second), edges


def _around(kept: NDArray[np.intp], edges: Floats, limits: tuple[float, float]) -> tuple[float, float]:
    step = float(edges[1] - edges[0])
    return max(float(edges[kept[0]]) - step, limits[0]), min(float(edges[kept[-1] + 1]) + step, limits[1])
