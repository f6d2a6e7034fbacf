"""What surely cannot be seen from a point: spares the gather most of its shadow rays in a closed box.

A flat, convex, opaque part hides every triangle that lies behind it and inside its pyramid from the point. That is
exact, not an estimate: only light that would be blocked anyway is left out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lightsim.rig.place import Part
from lightsim.sheet import Sheet
from lightsim.sheet.tables import STRAIGHT_BELOW

_TOUCHING = 1e-4  # mm; the walls of a box share their edges with its front
_MOST_FACES = 20_000  # of a cover; more take longer to look at than they save
_MOST_CORNERS = 12
_STRAIGHT = 1e-5  # mm^2; points that turn the outline by less are no corners of it
_BEHIND = 0.01  # mm, least distance of a hidden triangle's middle from the cover's plane


@dataclass(frozen=True)
class Cover:
    """A flat, convex, opaque part: its corners in order (k, 3) mm and its unit normal (3,)."""

    corners: NDArray[np.float64]
    normal: NDArray[np.float64]


def covers(parts: Sequence[Part]) -> tuple[Cover, ...]:
    """The parts that can hide others."""
    found = (_cover(part) for part in parts if _opaque(part.sheet) and len(part.mesh.faces) <= _MOST_FACES)
    return tuple(cover for cover in found if cover is not None)


def hidden(covers: Sequence[Cover], corner: NDArray[np.float64], point: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Which triangles (m, 3 corners, 3) cannot be seen from point (3,), (m,)."""
    out = np.zeros(len(corner), bool)
    apart = (corner - point).reshape(-1, 3)
    for cover in covers:
        side = float((cover.corners[0] - point) @ cover.normal)
        if abs(side) < _BEHIND:
            continue
        planes = np.cross(cover.corners - point, np.roll(cover.corners, -1, axis=0) - point)
        planes /= np.maximum(np.linalg.norm(planes, axis=1), 1e-30)[:, None]
        planes *= np.sign(planes @ (cover.corners.mean(axis=0) - point))[:, None]
        # Every corner of a hidden triangle lies inside all planes of the pyramid and behind the cover: one product.
        behind = np.sign(side) * cover.normal
        depth = apart @ np.vstack([planes, behind]).T  # (3 m, k + 1)
        depth[:, -1] -= abs(side)
        within = (depth > -_TOUCHING).all(axis=1).reshape(-1, 3).all(axis=1)
        out |= within & (depth[:, -1].reshape(-1, 3).mean(axis=1) > _BEHIND)
    return out


def _opaque(sheet: Sheet) -> bool:
    """Whether nothing passes straight through."""
    blurred = sheet.forward_transmittance == 0 or (sheet.half_value_angle or 0) >= STRAIGHT_BELOW
    return sheet.straight + sheet.pores == 0 and blurred


def _cover(part: Part) -> Cover | None:
    corner = part.mesh.vertices[part.mesh.faces]
    cross = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    area = np.linalg.norm(cross, axis=1)
    if not area.max() > 0:
        return None
    normal = cross[area.argmax()] / area.max()
    points = np.unique(corner.reshape(-1, 3).round(6), axis=0)
    if np.abs((points - points[0]) @ normal).max() > _TOUCHING:
        return None
    across = points[np.abs(points - points[0]).sum(axis=1).argmax()] - points[0]
    across /= np.linalg.norm(across)
    flat = np.column_stack([(points - points[0]) @ across, (points - points[0]) @ np.cross(normal, across)])
    rim = _hull(flat)
    x, y = flat[rim].T
    outline = 0.5 * abs(float(x @ np.roll(y, -1) - y @ np.roll(x, -1)))
    # A hole, a notch or a gap leaves less area than the outline encloses.
    filled = abs(outline - area.sum() / 2) < 1e-6 * outline
    return Cover(points[rim], normal) if filled and len(rim) <= _MOST_CORNERS else None


def _hull(points: NDArray[np.float64]) -> list[int]:
    """Corners of the convex hull of points (n, 2) in order, by Andrew's monotone chain (1979)."""
    order = np.lexsort((points[:, 1], points[:, 0])).tolist()
    rows = points.tolist()
    rim: list[int] = []
    for way in (order, order[::-1]):
        chain: list[int] = []
        for number in way:
            x, y = rows[number]
            while len(chain) > 1:
                (ax, ay), (bx, by) = rows[chain[-2]], rows[chain[-1]]
                if (bx - ax) * (y - ay) - (by - ay) * (x - ax) > _STRAIGHT:
                    break
                chain.pop()
            chain.append(number)
        rim += chain[:-1]
    return rim
