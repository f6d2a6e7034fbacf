"""Falloff curves along the axis, sampled for charts and tables."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lightsim.light.light import Light
from lightsim.measure.falloff import along_axis
from lightsim.rig.place import PlacedRig

_POINTS = 12  # behind the subject


@dataclass(frozen=True)
class FalloffCurve:
    """Light along the axis against that at the subject, n points. NaN where no light arrives."""

    title: str
    offsets: NDArray[np.float64]  # (n,) mm toward the lens; negative: behind the subject
    stops: NDArray[np.float64]  # (n,) on planes that face the lens; negative: darker than at the subject
    half_interval: NDArray[np.float64]  # (n,) half of the 95 % interval; 0 where exact

    def __post_init__(self) -> None:
        for array in (self.offsets, self.stops, self.half_interval):
            array.flags.writeable = False


def falloff_curve(light: Light, offsets: Sequence[float] | NDArray[np.float64]) -> FalloffCurve:
    """Stops against the subject at points of the axis, with 95 % intervals.

    offsets: (n,) mm toward the lens, negative behind the subject. Derived here, as falloff.along_axis.
    """
    places = np.array(offsets, float)
    found = along_axis(light, places.tolist())
    values = [(np.nan, np.nan) if each is None else (each.value, each.half_interval) for each in found]
    stops, half_interval = np.array(values, float).reshape(-1, 2).T.copy()
    return FalloffCurve(light.placed.rig.title, places, stops, half_interval)


def inverse_square(head: ArrayLike, offsets: Sequence[float] | NDArray[np.float64], *, title: str) -> FalloffCurve:
    """What a small source at head (3,) mm, always turned to face, would give: 2 log2(distance / distance there).

    offsets: (n,) mm toward the lens. Exact. Source: inverse-square law.
    Raises ValueError for a head at the subject or at one of the points.
    """
    centre = np.array(head, float)
    places = np.array(offsets, float)
    points = np.outer(places, (0.0, 0.0, 1.0))
    here, there = np.linalg.norm(centre), np.linalg.norm(points - centre, axis=1)
    if not (here > 0 and (there > 0).all()):
        raise ValueError(f"head = {centre.tolist()}: the source must be away from the subject and from every point")
    return FalloffCurve(title, places, 2 * np.log2(here / there), np.zeros(len(places)))


def chart_offsets(rigs: Sequence[PlacedRig]) -> NDArray[np.float64]:
    """Places along the axis that serve all rigs, (n,) mm toward the lens, falling.

    From half the depth of interest in front of the subject to the farthest background, evenly behind the subject.
    """
    subjects = [placed.rig.subject for placed in rigs]
    front = max(subject.depth for subject in subjects) / 2
    front = min(front, min(placed.working_distance for placed in rigs) / 2)
    back = max(max((subject.depth / 2, *subject.background)) for subject in subjects)
    return np.concatenate([[front], np.linspace(0.0, -back, _POINTS + 1)])
