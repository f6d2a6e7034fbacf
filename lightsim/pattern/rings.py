"""Rings and the polygons of shapely: fine circles, what is left when something is cut out, pieces of what is left."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from lightsim.pattern.piece import Fold, Place, Ring
from lightsim.rig.flat import rectangle, strip
from lightsim.rig.holes import RoundHole, Slit, SquareHole

SAGITTA = 0.005  # mm: furthest that the drawn polygon lies inside a true arc; a knife cuts no finer
_LEAST_CORNERS = 72  # of a circle, so that small ones look round too
GRID = 1e-6  # mm: to this shapes are rounded when they are joined and cut, which keeps that from failing
ROOT = 1e-4  # mm: by which flaps reach into the sheet that they stand on, so that rounding leaves no gap between them
_LEAST_STEP = 1e-3  # mm
_SPECK = 0.01  # mm^2: less is rounding left between edges that coincide


def steps(*, radius: float, angle: float) -> int:
    """How many straight steps draw an arc of this radius [mm] and angle [rad] within SAGITTA of it."""
    step = min(2 * np.pi / _LEAST_CORNERS, float(np.sqrt(8 * SAGITTA / max(radius, SAGITTA))))
    return max(2, int(np.ceil(angle / step)))


def arc(*, radius: float, start: float, end: float) -> NDArray[np.float64]:
    """Points (n, 2) mm on an arc about the origin from angle start to angle end [rad], both ends included."""
    turn = np.linspace(start, end, steps(radius=radius, angle=abs(end - start)) + 1)
    return radius * np.stack([np.cos(turn), np.sin(turn)], axis=1)


def circle(*, diameter: float, right: float = 0.0, up: float = 0.0) -> Ring:
    """A fine circle."""
    return np.asarray(arc(radius=diameter / 2, start=0.0, end=2 * np.pi)[:-1] + np.array([right, up]))


def cut_out(hole: RoundHole | SquareHole | Slit) -> Ring:
    """The outline of a hole or slit, in the flat."""
    if isinstance(hole, RoundHole):
        return circle(diameter=hole.diameter, right=hole.right, up=hole.up)
    if isinstance(hole, SquareHole):
        return rectangle(width=hole.width, height=hole.height, right=hole.right, up=hole.up)
    return strip(start=hole.start, end=hole.end, gap=hole.gap)


def rounded_rectangle(*, width: float, height: float, corner_radius: float) -> Ring:
    """A rectangle about the origin with finely drawn round corners."""
    if corner_radius <= 0:
        return rectangle(width=width, height=height)
    middle = np.array([width, height]) / 2 - corner_radius
    corners = []
    for quarter, sign in enumerate(([1, 1], [-1, 1], [-1, -1], [1, -1])):
        start = quarter * np.pi / 2
        corners.append(arc(radius=corner_radius, start=start, end=start + np.pi / 2) + middle * sign)
    ring = np.concatenate(corners)
    return np.asarray(ring[np.linalg.norm(ring - np.roll(ring, 1, axis=0), axis=1) > 1e-9])


def less(outline: Ring, cuts: Sequence[Ring]) -> BaseGeometry:
    """What is left of a ring when others are cut out of it."""
    whole: BaseGeometry = Polygon(outline)
    if not cuts:
        return whole
    return shapely.difference(whole, shapely.union_all([Polygon(cut) for cut in cuts]), grid_size=GRID)


def polygons(shape: BaseGeometry) -> list[Polygon]:
    """The separate polygons of a shape, the largest first, without specks."""
    found = [each for each in shapely.get_parts(shape) if isinstance(each, Polygon) and each.area > _SPECK]
    return sorted(found, key=lambda each: (-round(each.area, 3), each.bounds))


def rings(polygon: Polygon) -> tuple[Ring, tuple[Ring, ...]]:
    """Outline (anticlockwise) and holes (clockwise) of a polygon."""
    turned = shapely.orient_polygons(polygon)
    holes = (_stepping(np.array(hole.coords)[:-1]) for hole in turned.interiors if Polygon(hole).area > _SPECK)
    return _stepping(np.array(turned.exterior.coords)[:-1]), tuple(holes)


def _stepping(ring: Ring) -> Ring:
    """A ring without steps that are rounding and would make a cutting machine stutter."""
    step = np.linalg.norm(ring - np.roll(ring, 1, axis=0), axis=1)
    return np.asarray(ring[step > _LEAST_STEP])


def middle(ring: Ring) -> Place:
    """The centre of area of a ring where it lies inside, else where there is most room, (2,) mm."""
    shape = Polygon(ring)
    centre = shape.centroid
    return np.array(centre.coords[0]) if shape.covers(centre) else roomiest(ring)


def roomiest(ring: Ring) -> Place:
    """The middle of the largest circle within a ring, (2,) mm."""
    circle_ = shapely.maximum_inscribed_circle(Polygon(ring), tolerance=0.1)
    return np.array(circle_.coords[0])


def folds_in(polygon: Polygon, folds: Iterable[Fold]) -> tuple[Fold, ...]:
    """Those stretches of folds that lie in a polygon."""
    found = []
    for fold in folds:
        # A hair wider, so that a fold that runs along an edge of the union is not lost to rounding.
        inside = LineString([fold.start, fold.end]).intersection(polygon.buffer(1e-6))
        for line in shapely.get_parts(inside):
            if isinstance(line, LineString) and line.length > 0.1:
                ends = np.array(line.coords)
                found.append(Fold(ends[0], ends[-1], fold.angle))
    return tuple(found)


def reading_angle(start: Place, end: Place) -> float:
    """Angle [rad] at which words along a line read from left to right, or from below upward."""
    along = np.asarray(end) - np.asarray(start)
    angle = float(np.arctan2(along[1], along[0]))
    if angle > np.pi / 2 + 1e-9:
        angle -= np.pi
    elif angle <= -np.pi / 2 + 1e-9:
        angle += np.pi
    return angle
