"""Angular profile of a head, per lumen-second emitted: evaluated and sampled by one pair of functions."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lightsim.rig.beam import Beam, beam_solid_angle
from lightsim.rig.place import Head

_CELLS = 2048  # of the table's sampling grid; the weight makes up for what the grid smooths
_CELLS_AHEAD, _CELLS_AROUND = 256, 72  # the same for tables that are not round, besides their own angles

# Components of directions along width and height of the window, (n,) each; asked for only where a beam is not round.
Sideways = Callable[[], tuple[NDArray[np.float64], NDArray[np.float64]]]


def off_axis(head: Head, way: Any, *, sign: float = 1.0, own: Any = slice(None)) -> Sideways:
    """What intensity asks about directions besides their cosine, if it asks.

    way : unit, (n, 3) or three arrays (n,); away from the head, with sign = -1 towards it; own : which of them
    """

    def parts() -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        x, y, z = (np.asarray(axis[own], float) for axis in (way.T if isinstance(way, np.ndarray) else way))
        across, up = (sign * (x * to[0] + y * to[1] + z * to[2]) for to in (head.right, head.up))
        return across, up

    return parts


def intensity(beam: Beam, cosine: NDArray[np.floating], sideways: Sideways | None = None) -> NDArray[np.float64]:
    """Intensity per lumen [1/sr] at an angle of this cosine to the axis, (n,); 0 behind the window.

    sideways : which way from the axis, of which round beams do not ask. Raises ValueError where others lack it.
    """
    ahead = np.maximum(cosine, 0.0).astype(float)
    power = beam.round_power
    if power is not None:
        value = (power + 1) / (2 * np.pi) * ahead**power
    elif beam.angle:
        angle = np.degrees(np.arccos(np.minimum(ahead, 1.0)))
        value = np.interp(angle, beam.angle, beam.intensity, right=0.0) / _flux(beam)
    elif sideways is None:
        raise ValueError("the intensity of a beam that is not round depends on which way from the axis one looks")
    else:
        value = _not_round(beam, ahead, *sideways())
    return np.where(cosine > 0, value, 0.0)


def sample(beam: Beam, u: NDArray[np.floating]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Cosine to the axis for u in [0, 1), and the weight (mean 1) that makes the profile exact, both (n,).

    For round beams.
    """
    power = beam.round_power
    if power is not None:
        return np.power(1.0 - u.astype(float), 1.0 / (power + 1)), np.ones(len(u))
    cosine, cumulative, density = _grid(beam)
    cell = np.clip(np.searchsorted(cumulative, u, side="right") - 1, 0, len(density) - 1)
    inside = (u - cumulative[cell]) / (cumulative[cell + 1] - cumulative[cell])
    picked = cosine[cell] + inside * (cosine[cell + 1] - cosine[cell])
    return picked, intensity(beam, picked) * 2 * np.pi / density[cell]


def directions(
    beam: Beam, u: NDArray[np.floating], turn: NDArray[np.floating]
) -> tuple[NDArray[np.float64], NDArray[np.floating], NDArray[np.float64]]:
    """Cosine to the axis, angle around it [radians, from the window's right by up] and weight (mean 1), (n,) each.

    u, turn : in [0, 1), (n,) each
    Source for powers across and up: M. Ashikhmin & P. Shirley, An anisotropic Phong BRDF model, 2000, eqs. (9)
    and (10), from memory.
    """
    if beam.angle or beam.round_power is not None:
        cosine, weight = sample(beam, u)
        return cosine, 2 * np.pi * turn, weight
    powers = beam.powers
    if powers is None:
        return _sample_file(beam, u.astype(float), turn.astype(float))
    across, up = powers[0] + 1, powers[1] + 1
    even = 2 * np.pi * turn.astype(float)
    around = np.arctan2(np.sqrt(across) * np.sin(even), np.sqrt(up) * np.cos(even))
    power = across * np.cos(around) ** 2 + up * np.sin(around) ** 2
    return np.power(1.0 - u.astype(float), 1.0 / power), around, np.ones(len(u))


def _not_round(
    beam: Beam, ahead: NDArray[np.float64], across: NDArray[np.float64], up: NDArray[np.float64]
) -> NDArray[np.float64]:
    powers = beam.powers
    if powers is None:
        angle = np.degrees(np.arccos(np.minimum(ahead, 1.0)))
        return beam.table.at(angle, np.degrees(np.arctan2(up, across))) / _solid_angle(beam)
    square = across * across + up * up
    # On the axis itself no way is meant, and none matters.
    share = np.where(square > 0, across * across / np.maximum(square, 1e-30), 0.5)
    return np.asarray(ahead ** (powers[0] * share + powers[1] * (1 - share)) / beam_solid_angle(beam))


def _sample_file(
    beam: Beam, u: NDArray[np.float64], turn: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """As directions, for the table of a photometric file: first a slice around the axis, then a cell in it."""
    around, cosine, slices, cells, density = _grid_around(beam)
    row = np.clip(np.searchsorted(slices, turn, side="right") - 1, 0, len(density) - 1)
    turned = around[row] + (turn - slices[row]) / (slices[row + 1] - slices[row]) * (around[row + 1] - around[row])
    # The cells of all slices in one rising list, each slice from its number to the next.
    edges = cells.shape[1]
    place = np.searchsorted((cells + np.arange(len(cells))[:, None]).ravel(), row + u, side="right") - 1
    cell = np.clip(place - row * edges, 0, edges - 2)
    low, high = cells[row, cell], cells[row, cell + 1]
    inside = np.clip((u - low) / np.maximum(high - low, 1e-300), 0.0, 1.0)
    picked = cosine[cell] + inside * (cosine[cell + 1] - cosine[cell])
    value = beam.table.at(np.degrees(np.arccos(np.minimum(picked, 1.0))), turned) / _solid_angle(beam)
    return picked, np.radians(turned), value / density[row, cell]


@lru_cache(maxsize=32)
def _solid_angle(beam: Beam) -> float:
    return beam_solid_angle(beam)


@lru_cache(maxsize=32)
def _flux(beam: Beam) -> float:
    return beam_solid_angle(beam) * beam.intensity[0]


@lru_cache(maxsize=32)
def _grid(beam: Beam) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Edges in cosine from the axis outward, cumulative share at them, density per unit cosine in each cell."""
    cosine = _edges(np.array(beam.angle), _CELLS)
    middle = 0.5 * (cosine[1:] + cosine[:-1])
    # Three values a cell, and the table's own angles among the edges: no cell with light in it is taken for dark.
    height = intensity(beam, middle) + intensity(beam, cosine[1:]) + intensity(beam, cosine[:-1])
    share = height * (cosine[:-1] - cosine[1:])
    share /= share.sum()
    cumulative = np.concatenate([[0.0], np.cumsum(share)])
    cumulative[-1] = 1.0
    return cosine, cumulative, share / (cosine[:-1] - cosine[1:])


@lru_cache(maxsize=8)
def _grid_around(beam: Beam) -> tuple[NDArray[np.float64], ...]:
    """Edges around the axis [degrees] and in cosine; cumulative shares of the n slices (n + 1,) and of the k cells in
    each (n, k + 1); density per sr (n, k)."""
    table = beam.table
    around = np.unique(np.concatenate([np.linspace(0.0, 360.0, _CELLS_AROUND + 1), table.around]))
    cosine = _edges(table.angle, _CELLS_AHEAD)
    angle = np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0)))
    middle = np.degrees(np.arccos(np.clip(0.5 * (cosine[1:] + cosine[:-1]), -1.0, 1.0)))

    def values(angle: NDArray[np.float64], around: NDArray[np.float64]) -> NDArray[np.float64]:
        rows, columns = (grid.ravel() for grid in np.meshgrid(around, angle, indexing="ij"))
        return table.at(columns, rows).reshape(len(around), len(angle))

    # Corners and middle: no cell with light in it is taken for dark. 360 degrees are the same as 0.
    corner, centre = values(angle, around), values(middle, 0.5 * (around[1:] + around[:-1]))
    height = corner[1:, 1:] + corner[1:, :-1] + corner[:-1, 1:] + corner[:-1, :-1] + centre
    size = np.radians(np.diff(around))[:, None] * (cosine[:-1] - cosine[1:])
    share = height * size
    share /= share.sum()
    of_slice = share.sum(axis=1)
    slices = np.concatenate([[0.0], np.cumsum(of_slice)])
    slices[-1] = 1.0
    inner = np.cumsum(share, axis=1) / np.maximum(of_slice, 1e-300)[:, None]
    cells = np.concatenate([np.zeros((len(inner), 1)), inner], axis=1)
    cells[:, -1] = 1.0
    return around, cosine, slices, cells, share / size


def _edges(angle: NDArray[np.float64], cells: int) -> NDArray[np.float64]:
    """Cosines from the axis to the last angle of a table, evenly spaced and at its angles, falling."""
    table = np.cos(np.radians(angle))
    return np.unique(np.concatenate([np.linspace(1.0, table[-1], cells + 1), table]))[::-1]
