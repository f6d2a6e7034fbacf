"""Angular profile of a head, per lumen-second emitted: evaluated and sampled by one pair of functions."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from lightsim.rig.models import Beam

_CELLS = 2048  # of the table's sampling grid; the weight makes up for what the grid smooths


def intensity(beam: Beam, cosine: NDArray[np.floating]) -> NDArray[np.float64]:
    """Intensity per lumen [1/sr] at an angle of this cosine to the axis, (n,); 0 behind the window."""
    ahead = np.maximum(cosine, 0.0).astype(float)
    if beam.cos_power is not None:
        value = (beam.cos_power + 1) / (2 * np.pi) * ahead**beam.cos_power
    else:
        angle = np.degrees(np.arccos(np.minimum(ahead, 1.0)))
        value = np.interp(angle, beam.angle, beam.intensity, right=0.0) / _flux(beam)
    return np.where(cosine > 0, value, 0.0)


def sample(beam: Beam, u: NDArray[np.floating]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Cosine to the axis for u in [0, 1), and the weight (mean 1) that makes the profile exact, both (n,)."""
    if beam.cos_power is not None:
        return np.power(1.0 - u.astype(float), 1.0 / (beam.cos_power + 1)), np.ones(len(u))
    cosine, cumulative, density = _grid(beam)
    cell = np.clip(np.searchsorted(cumulative, u, side="right") - 1, 0, len(density) - 1)
    inside = (u - cumulative[cell]) / (cumulative[cell + 1] - cumulative[cell])
    picked = cosine[cell] + inside * (cosine[cell + 1] - cosine[cell])
    return picked, intensity(beam, picked) * 2 * np.pi / density[cell]


@lru_cache(maxsize=32)
def _flux(beam: Beam) -> float:
    from lightsim.rig.place import beam_solid_angle

    return beam_solid_angle(beam) * beam.intensity[0]


@lru_cache(maxsize=32)
def _grid(beam: Beam) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Edges in cosine from the axis outward, cumulative share at them, density per unit cosine in each cell."""
    table = np.cos(np.radians(beam.angle))
    cosine = np.unique(np.concatenate([np.linspace(1.0, table[-1], _CELLS + 1), table]))[::-1]
    middle = 0.5 * (cosine[1:] + cosine[:-1])
    # Three values a cell, and the table's own angles among the edges: no cell with light in it is taken for dark.
    height = intensity(beam, middle) + intensity(beam, cosine[1:]) + intensity(beam, cosine[:-1])
    share = height * (cosine[:-1] - cosine[1:])
    share /= share.sum()
    cumulative = np.concatenate([[0.0], np.cumsum(share)])
    cumulative[-1] = 1.0
    return cosine, cumulative, share / (cosine[:-1] - cosine[1:])
