"""What a rig file describes: camera, lens, heads, diffuser, subject, surroundings, settings, limits."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, Field, model_validator

from lightsim.rig.camera import Camera, Lens, as_list
from lightsim.rig.fractions import power_words, seconds_words
from lightsim.rig.head import HeadSpec
from lightsim.rig.placement import NAMED_ANCHORS, Model, Name, Offset, Placement, split
from lightsim.rig.shapes import Shape
from lightsim.rig.shot import Shot
from lightsim.rig.units import Length, Number
from lightsim.sheet import Sheet

Component = Annotated[Number, Field(ge=-1e6, le=1e6)]
Direction = tuple[Component, Component, Component]
_WAY = "[right, up, toward the lens], three numbers that are not all 0; try [0, 0, 1]"
LEAST_DIRECTION = 1e-3  # length of a direction, below which it points nowhere


class PartSpec(Model):
    """A part of the diffuser or the surroundings: a shape, a material, a place."""

    name: Name
    place: Annotated[Placement, Field(description="where it is")]
    shape: Annotated[Shape, Field(description="the kind of shape")]
    material: Annotated[
        str, Field(min_length=1, max_length=60, description="the name of a material of this file or the library")
    ]

    @model_validator(mode="before")
    @classmethod
    def _sort(cls, data: Any) -> Any:
        return split(data, {"name", "material"}, "shape")


class Ball(Model):
    """A glossy ball (an eye, the crown of a wing case): radius, refractive index, place of its middle."""

    radius: Annotated[Length, Field(ge=0.001, le=50, description="radius from 0.001 mm to 50 mm")] = 1.5
    refractive_index: Annotated[Number, Field(ge=1.01, le=4, description="refractive index from 1.01 to 4")] = 1.56
    right: Offset = 0.0
    up: Offset = 0.0
    toward_lens: Offset = 0.0


class Hair(Model):
    """A fine hair above a surface: diameter and height over it."""

    diameter: Annotated[Length, Field(ge=0.001, le=5, description="diameter from 0.001 mm to 5 mm")] = 0.05
    height: Annotated[
        Length, Field(ge=0.001, le=50, description="height above the surface, from 0.001 mm to 50 mm")
    ] = 0.5


class Subject(Model):
    """What is photographed: glossy ball, hair, edge; which way eye, back and flank face; what lies behind."""

    ball: Annotated[Ball, Field(description="a table with radius, refractive_index, right, up, toward_lens")] = Ball()
    hair: Annotated[Hair, Field(description="a table with diameter and height")] = Hair()
    edge_height: Annotated[
        Length,
        Field(
            ge=0.001,
            le=50,
            description="height of the shadow-casting edge above what it shades, from 0.001 mm to 50 mm",
        ),
    ] = 1.0
    depth: Annotated[
        Length, Field(ge=0.001, le=200, description="depth of interest along the axis, from 0.001 mm to 200 mm")
    ] = 10.0
    field: Annotated[
        Annotated[Length, Field(ge=0.001, le=1000)] | None,
        Field(description="width of interest, from 0.001 mm to 1 m; left out: the width of the frame"),
    ] = None
    eye: Annotated[Direction, Field(description=f"way the eye faces: {_WAY}")] = (0.5, 0.3, 1.0)
    back: Annotated[Direction, Field(description=f"way the back faces: {_WAY}")] = (0.0, 1.0, 0.0)
    flank: Annotated[Direction, Field(description=f"way the flank faces: {_WAY}")] = (1.0, 0.0, 0.2)
    reflectance: Annotated[
        Number,
        Field(
            ge=0.005,
            le=1,
            description="share of light that the subject sends back as a matt surface would, from 0.005 to 1; try 0.18",
        ),
    ] = 0.18
    background: Annotated[
        tuple[Annotated[Length, Field(ge=0.001)], ...],
        BeforeValidator(as_list),
        Field(
            max_length=8,
            description="at most eight distances behind the subject, each from 0.001 mm to 10 m; try [50, 150]",
        ),
    ] = (50.0, 150.0)

    @model_validator(mode="after")
    def _facing(self) -> Subject:
        for name in ("eye", "back", "flank"):
            if sum(part * part for part in getattr(self, name)) < LEAST_DIRECTION**2:
                raise ValueError(f"{name} points nowhere. Allowed: {_WAY.partition(';')[0]}. Try {name} = [0, 0, 1]")
        return self


_Stops = Annotated[Number, Field(ge=0, le=30)]


class Limits(Model):
    """The user's own limits, against which the report gives its verdict."""

    most_stops: Annotated[_Stops | None, Field(description="most stops lost, from 0 to 30")] = None
    least_angle: Annotated[
        Annotated[Number, Field(ge=0, le=360)] | None,
        Field(description="least full angle of the source in degrees, from 0 to 360"),
    ] = None
    most_hot_spot: Annotated[_Stops | None, Field(description="most stops of the hot spot, from 0 to 30")] = None
    most_highlight: Annotated[
        Annotated[Number, Field(ge=-30, le=30)] | None,
        Field(description="most stops of the highlight above white, from -30 to 30"),
    ] = None
    least_clearance: Annotated[
        Annotated[Length, Field(ge=0)] | None,
        Field(description="least distance from subject to diffuser, from 0 to 10 m"),
    ] = None


class Rig(BaseModel, frozen=True, extra="forbid"):
    """One rig, validated. Read it with lightsim.load; place it with lightsim.rig.place.place."""

    title: Annotated[str, Field(min_length=1, max_length=120, description="a title of 1 to 120 letters")]
    about: Annotated[str, Field(max_length=2000, description="a few sentences, at most 2000 letters")] = ""
    unit: Annotated[Literal["mm", "inch"], Field(description='"mm" or "inch"')] = "mm"
    camera: Annotated[Camera, Field(description="a table [camera] with sensor, pixels, magnification")]
    lens: Annotated[Lens, Field(description="a table [lens] with working_distance, diameter, length")]
    head: Annotated[tuple[HeadSpec, ...], Field(min_length=1, max_length=8, description="one to eight tables [[head]]")]
    diffuser: Annotated[tuple[PartSpec, ...], Field(max_length=60, description="at most 60 tables [[diffuser]]")] = ()
    surroundings: Annotated[
        tuple[PartSpec, ...], Field(max_length=60, description="at most 60 tables [[surroundings]]")
    ] = ()
    subject: Annotated[Subject, Field(description="a table [subject]")] = Subject()
    shot: Annotated[Shot, Field(description="a table [shot]")] = Shot()
    limits: Annotated[Limits, Field(description="a table [limits]")] = Limits()
    material: Annotated[
        dict[Name, Sheet], Field(max_length=200, description='tables [material."name"], at most 200')
    ] = {}

    @property
    def heads_and_parts(self) -> tuple[HeadSpec | PartSpec, ...]:
        """Heads, diffuser and surroundings, in this order."""
        items: list[HeadSpec | PartSpec] = [*self.head, *self.diffuser, *self.surroundings]
        return tuple(items)

    @model_validator(mode="after")
    def _fits_together(self) -> Rig:
        if len(self.lens.working_distance) != len(self.camera.magnification):
            raise ValueError(
                f"lens.working_distance holds {len(self.lens.working_distance)} numbers, camera.magnification "
                f"{len(self.camera.magnification)}. Allowed: one working distance for each magnification. "
                "Try making the two lists equally long"
            )
        names = [item.name for item in self.heads_and_parts]
        taken = set(NAMED_ANCHORS)
        for name in names:
            if name in taken:
                raise ValueError(
                    f'the name "{name}" stands twice or means a place. Allowed: a name of its own for every head and '
                    f'part, other than "subject", "lens" and "shoe". Try "{name[:50]} 2"'
                )
            taken.add(name)
        self._can_be_shot()
        return self

    def _can_be_shot(self) -> None:
        """Refuse settings that the camera, the lens or a head does not have."""
        if self.shot.shutter < self.camera.sync * (1 - 1e-6):
            raise ValueError(
                f"shot.shutter is {seconds_words(self.shot.shutter)}, shorter than camera.sync, "
                f"{seconds_words(self.camera.sync)}: the curtains would hide part of the frame from the flash. "
                f'Allowed: the sync time or longer. Try shutter = "{seconds_words(self.camera.sync)}"'
            )
        if self.shot.iso < self.camera.base_iso * (1 - 1e-6):
            raise ValueError(
                f"shot.iso is {self.shot.iso:g}, below camera.base_iso, {self.camera.base_iso:g}, the lowest that the "
                f"camera has. Allowed: from there on. Try iso = {self.camera.base_iso:g}"
            )
        for head in self.head:
            if self.shot.power is not None and self.shot.power < head.power_least * (1 - 1e-6):
                raise ValueError(
                    f'shot.power is {power_words(self.shot.power)}, below the least power of "{head.name}", '
                    f"{power_words(head.power_least)}. Allowed: from there to full. "
                    f'Try power = "{power_words(head.power_least)}", and a lower ISO or a higher f-number'
                )
        for distance in self.lens.working_distance:
            if self.lens.close_up is not None and distance > self.lens.close_up * (1 + 1e-6):
                raise ValueError(
                    f"a close-up lens of {self.lens.close_up:g} mm shows nothing sharp that lies farther before it, "
                    f"and lens.working_distance is {distance:g} mm. Allowed: at most the focal length of the close-up "
                    f"lens, where the lens behind it is focused far away. Try {self.lens.close_up:g} mm"
                )
