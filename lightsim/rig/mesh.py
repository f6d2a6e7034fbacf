"""Triangles: the one form in which every shape reaches the engine."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Points = NDArray[np.float64]  # (n, 3) mm
Faces = NDArray[np.int64]  # (m, 3) rows of vertices


@dataclass(frozen=True)
class Mesh:
    """Triangles whose right-handed normal points to the front. The arrays are handed over and become read-only."""

    vertices: Points
    faces: Faces

    def __post_init__(self) -> None:
        for array in vars(self).values():
            array.flags.writeable = False


def corners(mesh: Mesh) -> Points:
    """Corners of each triangle, (m, 3, 3) mm."""
    return np.asarray(mesh.vertices[mesh.faces])


def areas(mesh: Mesh) -> NDArray[np.float64]:
    """Area of each triangle, (m,) mm^2."""
    corner = corners(mesh)
    normal = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    return np.asarray(0.5 * np.linalg.norm(normal, axis=1))


def area(mesh: Mesh) -> float:
    """Area of all triangles, one side counted, mm^2."""
    return float(areas(mesh).sum())


def bounds(mesh: Mesh) -> Points:
    """Least and greatest coordinates of the vertices, (2, 3) mm. Raises ValueError for a mesh without vertices."""
    if not len(mesh.vertices):
        raise ValueError("a mesh without vertices has no bounds")
    return np.array([mesh.vertices.min(axis=0), mesh.vertices.max(axis=0)])


def join(meshes: Sequence[Mesh]) -> Mesh:
    """Several meshes as one, vertices kept as they are."""
    offsets = np.cumsum([0, *(len(mesh.vertices) for mesh in meshes)])
    return Mesh(
        np.concatenate([np.empty((0, 3)), *(mesh.vertices for mesh in meshes)]),
        np.concatenate(
            [np.empty((0, 3), np.int64), *(mesh.faces + k for mesh, k in zip(meshes, offsets, strict=False))]
        ),
    )
