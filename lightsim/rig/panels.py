"""Panels: flat sheets, discs and sheets bent to part of a cylinder.

Local frame, mm: +z toward the lens, +y up, +x right as the camera sees it; the front looks along -z.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import Annotated, Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import BaseModel, Field, model_validator

from lightsim.rig.flat import Outline, circle, divide, facets, rectangle, rounded_rectangle
from lightsim.rig.holes import HOLES, Hole, Slit, outlines, require_something
from lightsim.rig.mesh import Mesh, area
from lightsim.rig.units import SIZE_RANGE, Angle, Length, Size

Holes = Annotated[tuple[Hole, ...], Field(max_length=100, description=HOLES)]
Slits = Annotated[
    tuple[Slit, ...],
    Field(max_length=100, description="a list of at most 100 slits, each with start, end and gap"),
]


class FlatSheet(BaseModel, frozen=True, extra="forbid"):
    """A flat rectangle in the plane z = 0. Reference point: its middle."""

    shape: Literal["sheet"] = Field("sheet", description="the kind of shape")
    width: Size = Field(description=f"width of the sheet, {SIZE_RANGE}")
    height: Size = Field(description=f"height of the sheet, {SIZE_RANGE}")
    corner_radius: Length = Field(
        0.0, ge=0, description="radius of the rounded corners, 0 or more, at most half of the shorter side"
    )
    holes: Holes = ()
    slits: Slits = ()

    @model_validator(mode="after")
    def _fits(self) -> FlatSheet:
        most = min(self.width, self.height) / 2
        if self.corner_radius > most:
            raise ValueError(
                f"corner_radius = {self.corner_radius:g} mm does not fit a sheet of {self.width:g} by "
                f"{self.height:g} mm. Allowed: from 0 to {most:g} mm, half of the shorter side. Try {most:g} mm or less"
            )
        if self.holes or self.slits:
            require_something(area(panel_triangles(self)))
        return self


class Disc(BaseModel, frozen=True, extra="forbid"):
    """A flat disc in the plane z = 0. Reference point: its middle."""

    shape: Literal["disc"] = Field("disc", description="the kind of shape")
    diameter: Size = Field(description=f"diameter of the disc, {SIZE_RANGE}")
    holes: Holes = ()
    slits: Slits = ()

    @model_validator(mode="after")
    def _fits(self) -> Disc:
        if self.holes or self.slits:
            require_something(area(panel_triangles(self)))
        return self


class CurvedSheet(BaseModel, frozen=True, extra="forbid"):
    """A rectangle bent to part of a cylinder, hollow side to the subject.

    Reference point: the middle of the sheet, at the origin; there the front looks along -z, and the axis of the
    cylinder passes through z = -radius. Holes and slits are measured on the flat sheet, before it is bent.
    """

    shape: Literal["curved sheet"] = Field("curved sheet", description="the kind of shape")
    width: Size = Field(description=f"size of the sheet along its straight edges, {SIZE_RANGE}")
    length: Size = Field(description=f"size of the sheet along its bent edges, measured flat, {SIZE_RANGE}")
    radius: Size | None = Field(
        None, description=f"radius of the bend, {SIZE_RANGE}, instead of angle; more than length / 6.283"
    )
    angle: Angle | None = Field(
        None,
        ge=0.1,
        lt=360,
        description="angle of the arc in degrees, from 0.1 to below 360, instead of radius",
    )
    bend: Literal["up-down", "left-right"] = Field(
        "up-down", description='the way the bend runs: "up-down" or "left-right"'
    )
    holes: Holes = ()
    slits: Slits = ()

    @property
    def arc_radius(self) -> float:
        """Radius of the bend, mm, whether the file gave it or the angle."""
        return self.length / self.arc_angle if self.radius is None else self.radius

    @property
    def arc_angle(self) -> float:
        """Angle of the arc, radians, whether the file gave it or the radius."""
        return float(np.radians(self.angle or 0.0)) if self.radius is None else self.length / self.radius

    @model_validator(mode="after")
    def _fits(self) -> CurvedSheet:
        if (self.radius is None) == (self.angle is None):
            given = "neither" if self.radius is None else "both"
            raise ValueError(
                f"a curved sheet needs either radius or angle, {given} given: with the length, one determines the "
                "other. Try angle = 180 for a half cylinder"
            )
        if self.arc_angle >= 2 * np.pi:
            least = self.length / (2 * np.pi)
            raise ValueError(
                f"a sheet of {self.length:g} mm bent to a radius of {self.radius:g} mm overlaps itself. Allowed: a "
                f"radius above {least:.2f} mm. Try {1.05 * least:.1f} mm, or a cone with equal diameters for a full "
                "tube"
            )
        if self.holes or self.slits:
            require_something(area(panel_triangles(self)))
        return self


@lru_cache(maxsize=64)
def panel_triangles(shape: FlatSheet | Disc | CurvedSheet) -> Mesh:
    """Triangles of a panel, see shapes.triangulate."""
    cuts = outlines((*shape.holes, *shape.slits))
    if isinstance(shape, CurvedSheet):
        return _bent(shape, cuts)
    if isinstance(shape, Disc):
        outline = circle(diameter=shape.diameter)
    else:
        outline = rounded_rectangle(width=shape.width, height=shape.height, corner_radius=shape.corner_radius)
    vertices, faces = divide(outline, cuts)
    return Mesh(np.column_stack([vertices, np.zeros(len(vertices))]), faces[:, ::-1].copy())


def _bent(shape: CurvedSheet, cuts: Sequence[Outline]) -> Mesh:
    """Facets as wide as the arc they stand for, which keeps areas and the flat pattern."""
    length, radius, angle = shape.length, shape.arc_radius, shape.arc_angle
    count = facets(radius=radius, angle=angle)
    count += 1 - count % 2  # odd: the middle is a facet that looks straight ahead, not a fold
    line = np.linspace(-length / 2, length / 2, count + 1)
    half = angle / count / 2
    pushed = radius * (half / np.sin(half) - 1)
    along = (radius + pushed) * np.sin(line / radius)
    depth = pushed - 2 * (radius + pushed) * np.sin(line / radius / 2) ** 2
    upright = shape.bend == "up-down"
    # Turned by a quarter, (right, up) -> (-up, right), a bend to the left and right runs up and down.
    turned = cuts if upright else [np.stack([-cut[:, 1], cut[:, 0]], axis=1) for cut in cuts]
    vertices, faces = divide(rectangle(width=shape.width, height=length), turned, lines=line)
    across, at = vertices[:, 0], np.interp(vertices[:, 1], line, along)
    plane = (across, at) if upright else (at, -across)
    return Mesh(np.stack([*plane, np.interp(vertices[:, 1], line, depth)], axis=1), faces[:, ::-1].copy())


def panel_edge(
    shape: FlatSheet | Disc | CurvedSheet, side: Literal["left", "right", "top", "bottom"]
) -> NDArray[np.float64]:
    """Middle (3,) mm of an edge of a panel, after bending."""
    axis, sign = (0, 1 if side == "right" else -1) if side in ("left", "right") else (1, 1 if side == "top" else -1)
    point = np.zeros(3)
    if not isinstance(shape, CurvedSheet):
        size = (shape.diameter,) * 2 if isinstance(shape, Disc) else (shape.width, shape.height)
        point[axis] = sign * size[axis] / 2
    elif (axis == 1) == (shape.bend == "up-down"):
        point[axis] = sign * shape.arc_radius * np.sin(shape.arc_angle / 2)
        point[2] = -2 * shape.arc_radius * np.sin(shape.arc_angle / 4) ** 2
    else:
        point[axis] = sign * shape.width / 2
    return point
