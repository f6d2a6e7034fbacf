"""Shells: cones, domes, boxes and funnels. Their front is their inside, where a lining would be.

Local frame, mm: +z toward the lens, +y up, +x right as the camera sees it.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import BaseModel, Field, model_validator

from lightsim.rig import hollow
from lightsim.rig.flat import TOLERANCE, Outline
from lightsim.rig.holes import HOLES, Wall, WallHole, outlines, require_something
from lightsim.rig.mesh import Mesh, area
from lightsim.rig.units import SIZE_RANGE, Angle, Length, Size, SizeOrNone

SIDES: tuple[Wall, ...] = ("left", "right", "top", "bottom")
WALLS: tuple[Wall, ...] = ("back", "front", *SIDES)

_PAIR = "[width, height], each from 0.1 mm to 10 m; try [100, 80]"
_SHIFT_RIGHT = "how far right of the lens-side middle the subject-side middle lies (negative: left), within 10 m"
_SHIFT_UP = "how far above the lens-side middle the subject-side middle lies (negative: below), within 10 m"

Pair = tuple[Size, Size]


class Cone(BaseModel, frozen=True, extra="forbid"):
    """The lateral surface of a cone or tube about the z axis, or a part of one; the front is the inside.

    Reference point: middle of the rim toward the lens, at the origin; the other rim lies at z = -depth.
    """

    shape: Literal["cone"] = Field("cone", description="the kind of shape")
    near_diameter: SizeOrNone = Field(description=f"diameter at the end toward the lens, 0 or {SIZE_RANGE}")
    far_diameter: SizeOrNone = Field(description=f"diameter at the end toward the subject, 0 or {SIZE_RANGE}")
    depth: Size = Field(description=f"distance between the two ends along the axis, {SIZE_RANGE}")
    sweep: Angle = Field(
        360.0,
        ge=1,
        le=360,
        description="how far round it goes, in degrees from 1 to 360; 360 for all the way round",
    )
    start: Angle = Field(
        0.0,
        description="where it begins, in degrees clockwise from up as the camera sees it, from -360 to 360",
    )

    @model_validator(mode="after")
    def _fits(self) -> Cone:
        if self.near_diameter == 0 and self.far_diameter == 0:
            raise ValueError(
                "near_diameter and far_diameter are both 0, which leaves no cone. Allowed: one of them 0. "
                "Try near_diameter = 60, far_diameter = 120"
            )
        return self


class Dome(BaseModel, frozen=True, extra="forbid"):
    """Part of a sphere about the z axis; the front is the inside. Reference point: middle of the rim, at the origin."""

    shape: Literal["dome"] = Field("dome", description="the kind of shape")
    diameter: Size = Field(description=f"diameter of the open rim, {SIZE_RANGE}")
    depth: Size = Field(
        description="distance from rim to crown, from 0.1 mm to the diameter; half of the diameter for a half sphere"
    )
    crown_hole: SizeOrNone = Field(
        0.0,
        description="diameter of a hole in the crown, 0 for none or from 0.1 mm to 0.08 mm less than the diameter",
    )
    bulge: Literal["lens", "subject"] = Field(
        "lens", description='where the crown points: "lens" (rim open toward the subject) or "subject"'
    )

    @model_validator(mode="after")
    def _fits(self) -> Dome:
        if self.depth > self.diameter:
            raise ValueError(
                f"depth = {self.depth:g} mm is more than the diameter of the rim, {self.diameter:g} mm. Allowed: at "
                f"most the diameter. Try {self.diameter / 2:g} mm for a half sphere"
            )
        if self.crown_hole > self.diameter - TOLERANCE:
            raise ValueError(
                f"crown_hole = {self.crown_hole:g} mm leaves nothing of a dome of {self.diameter:g} mm. Allowed: "
                f"at most {max(self.diameter - TOLERANCE, 0):g} mm. Try {self.diameter / 4:g} mm"
            )
        return self


class Box(BaseModel, frozen=True, extra="forbid"):
    """A straight or tapered box of flat walls; the front of every wall is its inside.

    Reference point: middle of the back, at the origin; the front lies at z = -depth, parallel to the back. Holes are
    measured from the middle of their wall (the mean of its corners): on back and front right and up as the camera
    sees them; on top and bottom right as the camera sees it, up toward the lens along the wall; on the left and right
    walls right toward the lens along the wall, up as the camera sees it.
    """

    shape: Literal["box"] = Field("box", description="the kind of shape")
    back: Pair = Field(description=f"the side toward the lens: {_PAIR}")
    front: Pair = Field(description=f"the side toward the subject: {_PAIR}")
    depth: Size = Field(description=f"distance from back to front, {SIZE_RANGE}")
    front_right: Length = Field(0.0, description=_SHIFT_RIGHT)
    front_up: Length = Field(0.0, description=_SHIFT_UP)
    open: tuple[Wall, ...] = Field(
        (),
        max_length=5,
        description='walls left out, at most five of "back", "front", "left", "right", "top", "bottom"; try ["front"]',
    )
    holes: tuple[WallHole, ...] = Field((), max_length=100, description=f"{HOLES}, and the wall")

    @model_validator(mode="after")
    def _fits(self) -> Box:
        if len(set(self.open)) < len(self.open):
            raise ValueError("open names a wall twice. Allowed: each of at most five walls once")
        for hole in self.holes:
            if hole.wall in self.open:
                raise ValueError(
                    f"a hole stands in the {hole.wall} wall, which open leaves out. Allowed: walls that are there. "
                    f'Try taking "{hole.wall}" out of open, or leaving the hole out'
                )
        for wall in {hole.wall: None for hole in self.holes}:
            others = tuple(name for name in WALLS if name != wall)
            require_something(area(shell_triangles(self.model_copy(update={"open": others}))))
        return self


class Funnel(BaseModel, frozen=True, extra="forbid"):
    """Four flat walls from rectangle to rectangle, both ends open; the front of every wall is its inside.

    Reference point: middle of the end toward the lens, at the origin; the other end lies at z = -depth.
    """

    shape: Literal["funnel"] = Field("funnel", description="the kind of shape")
    near: Pair = Field(description=f"the end toward the lens: {_PAIR}")
    far: Pair = Field(description=f"the end toward the subject: {_PAIR}")
    depth: Size = Field(description=f"distance between the two ends, {SIZE_RANGE}")
    far_right: Length = Field(0.0, description=_SHIFT_RIGHT)
    far_up: Length = Field(0.0, description=_SHIFT_UP)


@lru_cache(maxsize=64)
def shell_triangles(shape: Cone | Dome | Box | Funnel) -> Mesh:
    """Triangles of a shell, see shapes.triangulate."""
    if isinstance(shape, Cone):
        return hollow.cone(
            near=shape.near_diameter / 2,
            far=shape.far_diameter / 2,
            depth=shape.depth,
            start=np.radians(shape.start),
            sweep=np.radians(shape.sweep),
        )
    if isinstance(shape, Dome):
        return hollow.dome(
            rim=shape.diameter / 2,
            depth=shape.depth,
            hole=shape.crown_hole / 2,
            toward_lens=shape.bulge == "lens",
        )
    if isinstance(shape, Box):
        cuts: dict[str, list[Outline]] = {
            wall: outlines(tuple(hole for hole in shape.holes if hole.wall == wall)) for wall in WALLS
        }
        return hollow.box(shell_corners(shape), [wall for wall in WALLS if wall not in shape.open], cuts)
    return hollow.box(shell_corners(shape), SIDES, {})


def shell_end(shape: Cone | Dome | Box | Funnel, side: Literal["back", "front"]) -> NDArray[np.float64]:
    """Middle (3,) mm of the end toward the lens (back) or the subject (front), of a cone or dome on its axis."""
    if isinstance(shape, Dome):
        crown = "back" if shape.bulge == "lens" else "front"
        sign = 1 if crown == "back" else -1
        return np.array([0.0, 0.0, sign * shape.depth if side == crown else 0.0])
    if side == "back":
        return np.zeros(3)
    return np.array([0.0, 0.0, -shape.depth]) if isinstance(shape, Cone) else shell_corners(shape)[4:].mean(axis=0)


def shell_extent(shape: Cone | Dome | Box | Funnel) -> NDArray[np.float64]:
    """Least and greatest coordinates of the true surface, (2, 3) mm."""
    if isinstance(shape, Box | Funnel):
        points = shell_corners(shape)
    elif isinstance(shape, Dome):
        points = hollow.dome_reach(rim=shape.diameter / 2, depth=shape.depth, toward_lens=shape.bulge == "lens")
    else:
        near, far = shape.near_diameter / 2, shape.far_diameter / 2
        start, sweep = np.radians([shape.start, shape.sweep])
        points = hollow.cone_reach(near=near, far=far, depth=shape.depth, start=start, sweep=sweep)
    return np.array([points.min(axis=0), points.max(axis=0)])


def shell_corners(shape: Box | Funnel) -> NDArray[np.float64]:
    """Corners (8, 3) mm of a box or funnel, as in hollow.box_corners."""
    if isinstance(shape, Box):
        back, front, right, up = shape.back, shape.front, shape.front_right, shape.front_up
    else:
        back, front, right, up = shape.near, shape.far, shape.far_right, shape.far_up
    return hollow.box_corners(back=back, front=front, depth=shape.depth, right=right, up=up)
