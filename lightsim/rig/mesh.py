"""Triangles: the one form in which every shape reaches the engine."""

from __future__ import annotations

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


def without_unused(vertices: Points, faces: Faces) -> tuple[Points, Faces]:
    """The same without vertices that no face uses."""
    used = np.zeros(len(vertices), bool)
    used[faces] = True
    return vertices[used], (np.cumsum(used) - 1)[faces]
