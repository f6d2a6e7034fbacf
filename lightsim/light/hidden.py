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

_TOUCHING = 1e-4  # mm; the walls of a box share their edges with its front
_BEHIND = 0.01  # mm, least distance of a hidden triangle's middle from the cover's plane


@dataclass(frozen=True)
class Cover:
    """A flat, convex, opaque part: its corners in order (k, 3) mm and its unit normal (3,)."""

    corners: NDArray[np.float64]
    normal: NDArray[np.float64]


def covers(parts: Sequence[Part]) -> tuple[Cover, ...]:
    """The parts that can hide others."""
    found = (_cover(part) for part in parts if part.sheet.straight == 0 and len(part.mesh.faces) <= 64)
    return tuple(cover for cover in found if cover is not None)


def hidden(covers: Sequence[Cover], corner: NDArray[np.float64], point: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Which triangles (m, 3 corners, 3) cannot be seen from point (3,), (m,)."""
    out = np.zeros(len(corner), bool)
    for cover in covers:
        side = float((cover.corners[0] - point) @ cover.normal)
        if abs(side) < _BEHIND:
            continue
        planes = np.cross(cover.corners - point, np.roll(cover.corners, -1, axis=0) - point)
        planes /= np.maximum(np.linalg.norm(planes, axis=1), 1e-30)[:, None]
        planes *= np.sign(planes @ (cover.corners.mean(axis=0) - point))[:, None]
        behind = (corner - cover.corners[0]) @ cover.normal * np.sign(side)  # (m, 3)
        inside = (((corner - point) @ planes.T) > -_TOUCHING).all(axis=(1, 2))
        out |= inside & (behind > -_TOUCHING).all(axis=1) & (behind.mean(axis=1) > _BEHIND)
    return out


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
    middle = points.mean(axis=0)
    across = (points[0] - middle) / np.linalg.norm(points[0] - middle)
    upward = np.cross(normal, across)
    rim = points[np.argsort(np.arctan2((points - middle) @ upward, (points - middle) @ across))]
    edge = np.roll(rim, -1, axis=0) - rim
    convex = (np.cross(edge, np.roll(edge, -1, axis=0)) @ normal > -1e-9).all()
    # A hole or a notch leaves less area than the outline encloses.
    outline = 0.5 * np.linalg.norm(np.cross(rim - middle, np.roll(rim, -1, axis=0) - middle).sum(axis=0))
    filled = abs(outline - area.sum() / 2) < 1e-6 * outline
    return Cover(rim, normal) if convex and filled else None
