"""Where rays land: Embree where it has a wheel, plain numpy elsewhere, one interface.

Both count in float32 for what they return, so leave a surface by OFFSET before the next cast.
"""

from __future__ import annotations

from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

OFFSET = 1e-3  # mm; float32 steps are 3e-5 mm at 300 mm, and a zero offset hits the surface just left
MISS = -1

Rays = NDArray[np.float32]
Floats = NDArray[np.floating[Any]]


class Caster(Protocol):
    """Casts rays at triangles. start and direction (n, 3) float32, direction of unit length."""

    name: str

    def nearest(self, start: Rays, direction: Rays) -> tuple[NDArray[np.int32], NDArray[np.float32]]:
        """Number of the first triangle hit, MISS where none, and the distance to it [mm], both (n,)."""
        ...

    def blocked(self, start: Rays, direction: Rays, reach: Floats) -> NDArray[np.bool_]:
        """Whether anything stands nearer than reach [mm], (n,)."""
        ...

    def nearest_within(self, start: Rays, direction: Rays, reach: Floats) -> NDArray[np.int32]:
        """Number of the first triangle nearer than reach [mm], MISS where none, (n,)."""
        ...


class EmbreeCaster:
    """Embree through the package embreex, called directly on arrays."""

    name = "Embree"

    def __init__(self, vertices: NDArray[np.float64], faces: NDArray[np.int64]) -> None:
        from embreex.mesh_construction import TriangleMesh
        from embreex.rtcore_scene import EmbreeScene

        self._scene: Any = EmbreeScene()
        self._mesh = TriangleMesh(self._scene, vertices.astype(np.float32), faces.astype(np.int32))

    def nearest(self, start: Rays, direction: Rays) -> tuple[NDArray[np.int32], NDArray[np.float32]]:
        hit = self._scene.run(start, direction, output=1)
        return hit["primID"], hit["tfar"]

    def blocked(self, start: Rays, direction: Rays, reach: Floats) -> NDArray[np.bool_]:
        return np.asarray(self._scene.run(start, direction, reach.astype(np.float32), query="OCCLUDED") != MISS)

    def nearest_within(self, start: Rays, direction: Rays, reach: Floats) -> NDArray[np.int32]:
        return np.asarray(self._scene.run(start, direction, reach.astype(np.float32), query="INTERSECT"))


class NumpyCaster:
    """Möller & Trumbore (1997) over all triangles, in blocks: slow, needs nothing but numpy."""

    name = "numpy (no Embree on this machine: slower)"
    _BLOCK = 2_000_000  # ray-triangle pairs at a time, about 100 MB

    def __init__(self, vertices: NDArray[np.float64], faces: NDArray[np.int64]) -> None:
        corner = vertices[faces].transpose(1, 2, 0)  # (3 corners, 3 axes, m)
        self._corner = corner[0]
        self._edge1, self._edge2 = corner[1] - corner[0], corner[2] - corner[0]

    def nearest(self, start: Rays, direction: Rays) -> tuple[NDArray[np.int32], NDArray[np.float32]]:
        prim = np.full(len(start), MISS, np.int32)
        distance = np.full(len(start), np.float32(1e37))
        step = max(1, self._BLOCK // max(1, self._corner.shape[1]))
        for first in range(0, len(start), step):
            block = slice(first, first + step)
            length = self._lengths(start[block].astype(float), direction[block].astype(float))
            best = length.argmin(axis=1)
            nearest = length[np.arange(len(best)), best]
            prim[block] = np.where(np.isfinite(nearest), best, MISS)
            distance[block] = np.where(np.isfinite(nearest), nearest, 1e37)
        return prim, distance

    def blocked(self, start: Rays, direction: Rays, reach: Floats) -> NDArray[np.bool_]:
        return np.asarray(self.nearest_within(start, direction, reach) != MISS)

    def nearest_within(self, start: Rays, direction: Rays, reach: Floats) -> NDArray[np.int32]:
        prim, distance = self.nearest(start, direction)
        return np.where(distance < reach, prim, MISS).astype(np.int32)

    def _lengths(self, start: NDArray[np.float64], direction: NDArray[np.float64]) -> NDArray[np.float64]:
        # (rays, triangles) distances, inf where a triangle is missed
        d, o = direction.T[:, :, None], start.T[:, :, None]
        e1, e2 = self._edge1[:, None, :], self._edge2[:, None, :]
        p = _cross(d, e2)
        det = _dot(e1, p)
        with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
            inverse = 1.0 / det
            t = o - self._corner[:, None, :]
            u = _dot(t, p) * inverse
            q = _cross(t, e1)
            v = _dot(d, q) * inverse
            length = _dot(e2, q) * inverse
            inside = (det != 0) & (u >= 0) & (v >= 0) & (u + v <= 1) & (length > 0)
        return np.where(inside, length, np.inf)


def caster(vertices: NDArray[np.float64], faces: NDArray[np.int64]) -> Caster:
    """The fastest caster that this machine has."""
    try:
        return EmbreeCaster(vertices, faces)
    except ImportError:
        return NumpyCaster(vertices, faces)


def _dot(a: NDArray[np.float64], b: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(a[0] * b[0] + a[1] * b[1] + a[2] * b[2])


def _cross(a: NDArray[np.float64], b: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.stack([a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]])
