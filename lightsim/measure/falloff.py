"""How light falls off along the axis, across the field and behind the subject.

On planes that face the lens, but for the local exponent. Each ratio is formed within replicates, so the noise that
two points share cancels.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lightsim.light.arrivals import Arrivals
from lightsim.light.estimate import Estimate, jackknife
from lightsim.light.light import Light
from lightsim.measure.illuminance import plane_samples
from lightsim.measure.ratio import ratio_in_stops
from lightsim.measure.source import source_only

FACING_LENS = (0.0, 0.0, 1.0)
_STEP = 0.02  # of the distance to the source's centroid, either way, for the local exponent


def stops_at(light: Light, point: ArrayLike, reference: ArrayLike = (0.0, 0.0, 0.0)) -> Estimate | None:
    """Illuminance facing the lens at point against that at the reference point [stops]; negative is darker.

    point, reference: (3,) mm. None where either gets no light. Derived here: log2(E(point) / E(reference)).
    """
    return ratio_in_stops(_facing(light, point), _facing(light, reference))


def along_axis(light: Light, offsets: Sequence[float]) -> tuple[Estimate | None, ...]:
    """Stops against the subject at points of the axis, offsets [mm] toward the lens (negative: behind)."""
    return tuple(stops_at(light, (0.0, 0.0, offset)) for offset in offsets)


def centroid(arrivals: Arrivals) -> NDArray[np.float64]:
    """Middle of the source (3,) mm: mean of where light last left something, weighted by the light it sends."""
    return np.asarray(arrivals.weight @ arrivals.origin / arrivals.weight.sum())


def local_exponent(light: Light, source: Arrivals) -> Estimate | None:
    """Local exponent -d ln E / d ln d at the subject [1], d the distance to the middle of the source.

    source: arrivals at the subject from the source alone. E is its light alone too, on planes that face its middle, at
    points 2 % of d nearer to it and farther. 2 is the inverse square of a small source, wherever it stands; 1 a disc
    as far away as its radius; 0 touching a large panel. Derived here; for a disc on its axis 2 d^2 / (d^2 + r^2).
    None where no light arrives.
    """
    if not len(source.weight):
        return None
    middle = centroid(source)
    distance = float(np.linalg.norm(middle))
    if not distance > 0:
        return None
    toward = middle / distance
    places = (_STEP * middle, -_STEP * middle)
    samples = np.stack([plane_samples(source_only(light, light.aside(place)), toward) for place in places], axis=1)
    if ((samples > 0).sum(axis=0) < 2).any():
        return None
    return jackknife(lambda mean: float(np.log(mean[0] / mean[1]) / np.log((1 + _STEP) / (1 - _STEP))), samples)


def _facing(light: Light, point: ArrayLike) -> NDArray[np.float64]:
    return plane_samples(light.aside(np.asarray(point, float)), FACING_LENS)
