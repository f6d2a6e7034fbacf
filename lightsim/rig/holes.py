"""What is cut out of a piece: round and rectangular holes, straight slits."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, Field, model_validator

from lightsim.rig.flat import Outline, circle, rectangle, strip
from lightsim.rig.units import SIZE_RANGE, SMALLEST, Length, Size

Wall = Literal["back", "front", "left", "right", "top", "bottom"]

HOLES = "a list of at most 100 holes, each with kind, size, right and up"
LEAST_LEFT = 1.0  # mm^2: a piece with less left of it has been cut away

_RIGHT = "how far right of the middle of the flat piece (negative: left), within 10 m"
_UP = "how far above the middle of the flat piece (negative: below), within 10 m"
_WALL = 'the wall that is cut: "back", "front", "left", "right", "top" or "bottom", one that is not left open'


class RoundHole(BaseModel, frozen=True, extra="forbid"):
    """A round hole. In a curved sheet it is cut while the sheet is flat."""

    kind: Literal["round"] = Field("round", description='"round" or "rectangle"')
    diameter: Size = Field(description=f"diameter of the hole, {SIZE_RANGE}")
    right: Length = Field(0.0, description=_RIGHT)
    up: Length = Field(0.0, description=_UP)


class SquareHole(BaseModel, frozen=True, extra="forbid"):
    """A rectangular hole with upright sides."""

    kind: Literal["rectangle"] = Field("rectangle", description='"round" or "rectangle"')
    width: Size = Field(description=f"width of the hole, {SIZE_RANGE}")
    height: Size = Field(description=f"height of the hole, {SIZE_RANGE}")
    right: Length = Field(0.0, description=_RIGHT)
    up: Length = Field(0.0, description=_UP)


class RoundWallHole(RoundHole, frozen=True, extra="forbid"):
    """A round hole in a wall of a box; right and up as in hollow.wall_frame."""

    wall: Wall = Field(description=_WALL)


class SquareWallHole(SquareHole, frozen=True, extra="forbid"):
    """A rectangular hole in a wall of a box; right and up as in hollow.wall_frame."""

    wall: Wall = Field(description=_WALL)


class Slit(BaseModel, frozen=True, extra="forbid"):
    """A straight slit, cut out as a strip with square ends. It may begin at or beyond the edge."""

    start: tuple[Length, Length] = Field(
        description="[right, up] of one end, from the middle of the flat piece, within 10 m; try [0, 0]"
    )
    end: tuple[Length, Length] = Field(
        description="[right, up] of the other end, from the middle of the flat piece, within 10 m; try [0, 50]"
    )
    gap: Size = Field(description=f"width of what the slit takes away, {SIZE_RANGE}; a knife cut lets no light through")

    @model_validator(mode="after")
    def _long_enough(self) -> Slit:
        length = sum((b - a) ** 2 for a, b in zip(self.start, self.end, strict=True)) ** 0.5
        if length < SMALLEST:
            raise ValueError(
                f"start and end of a slit lie {length:.3g} mm apart. Allowed: at least {SMALLEST} mm. "
                "Try an end farther away, or a round hole instead"
            )
        return self


Hole = Annotated[RoundHole | SquareHole, Field(discriminator="kind")]
WallHole = Annotated[RoundWallHole | SquareWallHole, Field(discriminator="kind")]


def outlines(cuts: tuple[RoundHole | SquareHole | Slit, ...]) -> list[Outline]:
    """Outlines of what is cut out, (right, up) in the flat, mm."""
    return [_outline(cut) for cut in cuts]


def _outline(cut: RoundHole | SquareHole | Slit) -> Outline:
    if isinstance(cut, RoundHole):
        return circle(diameter=cut.diameter, right=cut.right, up=cut.up)
    if isinstance(cut, SquareHole):
        return rectangle(width=cut.width, height=cut.height, right=cut.right, up=cut.up)
    return strip(start=cut.start, end=cut.end, gap=cut.gap)


def require_something(left: float) -> None:
    """Raise ValueError if holes and slits leave too little area [mm^2] of a piece."""
    if left < LEAST_LEFT:
        raise ValueError(
            f"holes and slits leave {left:.2g} mm^2 of the piece. Allowed: at least {LEAST_LEFT:g} mm^2. "
            "Try smaller holes, or leave the part out"
        )
