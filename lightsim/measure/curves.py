"""Falloff curves along the axis and across the field, sampled for charts and tables."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lightsim.light.estimate import Estimate
from lightsim.light.light import Light
from lightsim.measure.falloff import along_axis, stops_at
from lightsim.measure.shadow import Direction
from lightsim.rig.place import PlacedRig

_POINTS = 12  # behind the subject
_ACROSS = 7  # from edge to edge of the field


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


@dataclass(frozen=True)
class AcrossCurve:
    """Light across the field against that in its middle, n points. NaN where no light arrives."""

    title: str
    direction: Direction
    offsets: NDArray[np.float64]  # (n,) mm to the right ("x") or upward ("y")
    stops: NDArray[np.float64]  # (n,) on planes that face the lens; negative: darker than in the middle
    half_interval: NDArray[np.float64]  # (n,) half of the 95 % interval; 0 where exact
    edge: float  # mm, half of the field in that direction

    def __post_init__(self) -> None:
        for array in (self.offsets, self.stops, self.half_interval):
            array.flags.writeable = False


def falloff_curve(light: Light, offsets: Sequence[float] | NDArray[np.float64]) -> FalloffCurve:
    """Stops against the subject at points of the axis, with 95 % intervals.

    offsets: (n,) mm toward the lens, negative behind the subject. Derived here, as falloff.along_axis.
    """
    places = np.array(offsets, float)
    return FalloffCurve(light.placed.rig.title, places, *_drawn(along_axis(light, places.tolist())))


def across_curve(
    light: Light, offsets: Sequence[float] | NDArray[np.float64], direction: Direction = "x"
) -> AcrossCurve:
    """Stops against the middle of the field at points across it, with 95 % intervals.

    offsets: (n,) mm to the right ("x") or upward ("y"). Derived here, as falloff.stops_at.
    """
    places = np.array(offsets, float)
    points = np.outer(places, (1.0, 0.0, 0.0) if direction == "x" else (0.0, 1.0, 0.0))
    found = [stops_at(light, point) for point in points]
    return AcrossCurve(light.placed.rig.title, direction, places, *_drawn(found), edge=_edge(light.placed, direction))


def _drawn(found: Sequence[Estimate | None]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Values and half intervals, (n,) each; NaN where there are none."""
    values = [(np.nan, np.nan) if each is None else (each.value, each.half_interval) for each in found]
    stops, half_interval = np.array(values, float).reshape(-1, 2).T.copy()
    return stops, half_interval


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


def across_offsets(rigs: Sequence[PlacedRig], direction: Direction = "x") -> NDArray[np.float64]:
    """Places across the field that serve all rigs, (n,) mm to the right or upward, rising.

    Evenly from edge to edge of the widest field, with the edges of narrower ones among them.
    """
    edges = [_edge(placed, direction) for placed in rigs]
    widest = np.linspace(-1, 1, _ACROSS) * max(edges)
    places = [*widest, *(sign * edge for edge in edges for sign in (-1, 1))]
    return np.unique(np.round(places, 9))


def _edge(placed: PlacedRig, direction: Direction) -> float:
    return placed.field[{"x": 0, "y": 1}[direction]] / 2
