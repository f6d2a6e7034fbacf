"""Rolling cones and tubes back from their flat patterns, and laying the patterns on what a handbook says they are.

A point at distance s from the apex and at an angle p from the middle of the flat sector comes to lie s from the apex of
the cone, at p / sin(half angle) round its axis; of a sheet of thickness d that is true of the surface in its middle,
d / 2 outside its front. Derived here.
"""

from __future__ import annotations

import numpy as np
import shapely
from folding import Region
from laying import same_within
from scipy.optimize import least_squares

from lightsim.rig.shapes import Cone


def sector(shape: Cone, thickness: float) -> tuple[Region, float]:
    """What the flat pattern of a cone must be, and the half angle of its apex: a sector about the origin (of a tube: a
    rectangle about it), the middle of its arc on +y."""
    near, far = shape.near_diameter / 2, shape.far_diameter / 2
    half, sweep = np.arctan2(abs(far - near), shape.depth), np.radians(shape.sweep)
    if half < 1e-9:
        width, height = (near + thickness / 2) * sweep, shape.depth
        return shapely.box(-width / 2, -height / 2, width / 2, height / 2), 0.0
    low, high = np.sort(np.array([near, far]) + thickness / 2 * np.cos(half)) / np.sin(half)
    turn = np.linspace(-0.5, 0.5, 4001) * sweep * np.sin(half)
    arc = np.stack([np.sin(turn), np.cos(turn)], axis=1)
    inner = low * arc[::-1] if low > 0 else np.zeros((1, 2))
    return shapely.Polygon(np.concatenate([high * arc, inner])), float(half)


def carried(points: np.ndarray, move: np.ndarray) -> np.ndarray:
    """Points (n, 2) turned by move[0] about the origin, then shifted by move[1:]."""
    c, s = np.cos(move[0]), np.sin(move[0])
    return points @ np.array([[c, s], [-s, c]]) + move[1:]


def from_rim(points: np.ndarray, ideal: Region) -> np.ndarray:
    """Distance (n,) of points (n, 2) from the rim of a sector or rectangle as `sector` draws it: exact on arcs, where
    its own corners would make many short steps."""
    ring = np.array(ideal.exterior.coords)[:-1]
    away = np.hypot(*ring.T)
    if len(ring) == 4:
        return shapely.distance(shapely.points(points), ideal.boundary)
    high, low = away.max(), away.min()
    reach = np.arctan2(ring[:, 0], ring[:, 1]).max()
    radius, turn = np.hypot(*points.T), np.arctan2(points[:, 0], points[:, 1])
    least = np.where(np.abs(turn) <= reach, np.minimum(np.abs(radius - high), np.abs(radius - low)), np.inf)
    for sign in (-1, 1):
        edge = np.array([sign * np.sin(reach), np.cos(reach)])
        along = np.clip(points @ edge, low, high)
        least = np.minimum(least, np.linalg.norm(points - along[:, None] * edge, axis=1))
    return least


def laid_on(region: Region, ideal: Region) -> np.ndarray | None:
    """Turn and shift by which a region covers another within NEAR both ways; None if there are none found."""
    middle, target = np.array(region.centroid.coords[0]), np.array(ideal.centroid.coords[0])
    # Evenly along the rim: its own points crowd on the arcs, which do not tell how the region is turned.
    along = np.linspace(0, region.boundary.length, 120, endpoint=False)
    rim = shapely.get_coordinates(shapely.line_interpolate_point(region.boundary, along))
    # The sector is drawn about the origin or anywhere else.
    starts = [np.array([np.arctan2(*middle) - np.arctan2(*target), 0.0, 0.0])]
    for turn in np.radians(np.arange(0, 360, 30)):
        starts.append(np.array([turn, *(target - carried(middle[None], np.array([turn, 0, 0]))[0])]))
    for start in starts:
        best = least_squares(lambda move: from_rim(carried(rim, move), ideal), start, x_scale=[1e-2, 1, 1], max_nfev=50)
        moved = shapely.transform(region, lambda points, best=best: carried(points, best.x))
        if same_within(moved, ideal):
            return np.asarray(best.x)
    return None


def rolled(flat: np.ndarray, shape: Cone, thickness: float) -> np.ndarray:
    """Points (n, 2) of the sector of `sector` on the inside of the cone, (n, 3)."""
    near, far, depth = shape.near_diameter / 2, shape.far_diameter / 2, shape.depth
    half = np.arctan2(abs(far - near), depth)
    middle = np.radians(shape.start + shape.sweep / 2)
    if half < 1e-9:
        turn, radius, height = (
            middle - flat[:, 0] / (near + thickness / 2),
            np.full(len(flat), near),
            flat[:, 1] - depth / 2,
        )
    else:
        # As seen from outside with the apex below, the sheet runs anticlockwise about the apex from right to left.
        away = np.hypot(*flat.T) - thickness / 2 / np.tan(half)
        sign = 1 if far > near else -1
        turn = middle + sign * np.arctan2(flat[:, 0], flat[:, 1]) / np.sin(half)
        radius = away * np.sin(half)
        height = -depth * (radius - near) / (far - near)
    return np.stack([radius * np.sin(turn), radius * np.cos(turn), height], axis=1)


def unrolled(point: np.ndarray, shape: Cone, thickness: float) -> tuple[np.ndarray, np.ndarray]:
    """Nearest points of the inside of the cone, on its flat sector (n, 2), and the distances to them (n,)."""
    near, far, depth = shape.near_diameter / 2, shape.far_diameter / 2, shape.depth
    half = np.arctan2(abs(far - near), depth)
    turn = np.arctan2(point[:, 0], point[:, 1]) - np.radians(shape.start + shape.sweep / 2)
    turn = (turn + np.pi) % (2 * np.pi) - np.pi
    radius = np.hypot(point[:, 0], point[:, 1])
    if half < 1e-9:
        flat = np.stack([-turn * (near + thickness / 2), point[:, 2] + depth / 2], axis=1)
        return flat, np.abs(radius - near)
    slope = np.array([far - near, -depth]) / np.hypot(far - near, depth)  # toward the subject, (outward, along z)
    from_near = np.stack([radius - near, point[:, 2]], axis=1)
    along = from_near @ slope
    height = from_near @ np.array([-slope[1], slope[0]])
    away = (near + along * slope[0]) / np.sin(half) + thickness / 2 / np.tan(half)
    sign = 1 if far > near else -1
    # Beyond the apex there is nothing to lie on: then the apex is nearest.
    beyond = np.hypot(radius, point[:, 2] - depth * near / (far - near))
    flat = away[:, None] * np.stack([np.sin(sign * turn * np.sin(half)), np.cos(turn * np.sin(half))], axis=1)
    return np.where(away[:, None] > 0, flat, 0.0), np.where(away > 0, np.abs(height), beyond)
