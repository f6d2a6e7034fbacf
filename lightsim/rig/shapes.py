"""Shapes of parts: what a rig file may say, their triangles, and the points by which they are held.

Local frame, mm: +z toward the lens, +y up, +x right as the camera sees it; the front of a part that is not turned
looks at the subject, along -z. The front of curved and hollow shapes is their inside, where a lining would be.
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import Field

from lightsim.rig.holes import RoundHole, RoundWallHole, Slit, SquareHole, SquareWallHole
from lightsim.rig.mesh import Mesh, area, bounds
from lightsim.rig.meshes import MeshFile, read_mesh
from lightsim.rig.panels import CurvedSheet, Disc, FlatSheet, panel_edge, panel_triangles
from lightsim.rig.shells import Box, Cone, Dome, Funnel, shell_end, shell_extent, shell_triangles

__all__ = [
    "Box",
    "Cone",
    "CurvedSheet",
    "Disc",
    "Dome",
    "FlatSheet",
    "Funnel",
    "Mesh",
    "MeshFile",
    "RoundHole",
    "RoundWallHole",
    "Shape",
    "Slit",
    "SquareHole",
    "SquareWallHole",
    "area",
    "bounds",
    "held_point",
    "triangulate",
]

Hold = Literal["reference", "centre", "top", "bottom", "left", "right", "back", "front"]


Shape = Annotated[FlatSheet | Disc | CurvedSheet | Cone | Dome | Box | Funnel | MeshFile, Field(discriminator="shape")]


def triangulate(shape: Shape, *, folder: Path | None = None) -> Mesh:
    """Triangles of a shape in its local frame, mm, within 0.1 mm of the true surface and of the same area.

    folder : where the path of a MeshFile begins, by default the current one
    Raises RigError for a mesh file that cannot be used.
    """
    if isinstance(shape, MeshFile):
        return read_mesh(shape, folder=folder)[0]
    return panel_triangles(shape) if isinstance(shape, FlatSheet | Disc | CurvedSheet) else shell_triangles(shape)


def held_point(shape: Shape, hold: Hold = "reference", *, folder: Path | None = None) -> NDArray[np.float64]:
    """The point (3,) mm, in the local frame, by which a shape is held.

    hold : "reference", the reference point (the origin; see each shape), or
        "centre", the middle of a sheet or disc, otherwise of the upright box that just holds the shape;
        "left", "right", "top", "bottom", the middle of that edge of a sheet (of a curved one after bending), otherwise
        of that face of the upright box; "back", "front", the middle of the end toward the lens or the subject, which
        sheets do not have (cone, dome: on the axis; mesh: of that face of the upright box)
    Raises ValueError for back and front of a sheet, RigError for a mesh file that cannot be used.
    """
    if hold == "reference":
        return np.zeros(3)
    if isinstance(shape, FlatSheet | Disc | CurvedSheet):
        if hold == "back" or hold == "front":
            raise ValueError(
                f'hold = "{hold}" is for hollow parts; a {shape.shape} has no {hold} end. Allowed: "centre", "left", '
                '"right", "top", "bottom". Try "centre"'
            )
        return np.zeros(3) if hold == "centre" else panel_edge(shape, hold)
    low, high = bounds(triangulate(shape, folder=folder)) if isinstance(shape, MeshFile) else shell_extent(shape)
    middle = (low + high) / 2
    if hold == "centre":
        return np.asarray(middle)
    if (hold == "back" or hold == "front") and not isinstance(shape, MeshFile):
        return shell_end(shape, hold)
    axis, end = {
        "left": (0, low),
        "right": (0, high),
        "bottom": (1, low),
        "top": (1, high),
        "front": (2, low),
        "back": (2, high),
    }[hold]
    middle[axis] = end[axis]
    return np.asarray(middle)
