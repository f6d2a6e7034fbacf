"""What a rig file describes: camera, lens, heads, diffuser, subject, surroundings, limits."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, Field, model_validator

from lightsim.rig.camera import Camera, Lens, as_list
from lightsim.rig.shapes import Shape
from lightsim.rig.units import SIZE_RANGE, Angle, Length, Number, Size
from lightsim.sheet import Sheet

# Descriptions say what a key holds and what is allowed; what follows "; try" is offered to whoever got it wrong.
_NAME = "a name of 1 to 60 letters, without brackets and braces"
Name = Annotated[str, Field(min_length=1, max_length=60, pattern=r"^[^\x00-\x1f\[\]{}]+$", description=_NAME)]
Offset = Annotated[Length, Field(description="a distance within 10 m; negative for the other way")]
Turned = Annotated[Angle, Field(description="an angle in degrees, from -360 to 360")]
Component = Annotated[Number, Field(ge=-1e6, le=1e6)]
Direction = tuple[Component, Component, Component]
NAMED_ANCHORS = ("subject", "lens", "shoe")
_WAY = "[right, up, toward the lens], three numbers that are not all 0; try [0, 0, 1]"
LEAST_DIRECTION = 1e-3  # length of a direction, below which it points nowhere
USUAL_CASE_LENGTH = 40.0  # mm, of a head whose body a file leaves out; a choice
MOST_INTENSITY = 1e6  # of a beam, relative to its axis


class _Model(BaseModel, frozen=True, extra="forbid"):
    pass


class Beam(_Model):
    """Angular profile of a head: I proportional to cos^m, or a table of angle from the axis and intensity."""

    cos_power: Annotated[
        Annotated[Number, Field(ge=0, le=500)] | None,
        Field(description="m of an intensity that falls as cos^m of the angle from the axis, from 0 to 500"),
    ] = None
    angle: Annotated[
        tuple[Annotated[Number, Field(ge=0, le=90)], ...],
        Field(
            max_length=500,
            description="degrees from the axis, rising from 0 to at most 90, at most 500; try [0, 30, 60]",
        ),
    ] = ()
    intensity: Annotated[
        tuple[Annotated[Number, Field(ge=0, le=1e9)], ...],
        Field(
            max_length=500,
            description="intensity at each angle in any unit, each from 0 to 1e9; try [1, 0.5, 0]",
        ),
    ] = ()

    @model_validator(mode="after")
    def _one_way(self) -> Beam:
        if (self.cos_power is None) == (not self.angle) or (self.intensity and not self.angle):
            raise ValueError(
                "a beam needs one description. Allowed: either cos_power or a table of angle and intensity. "
                "Try cos_power = 5"
            )
        if self.cos_power is None:
            steps = [after - before for before, after in zip(self.angle, self.angle[1:], strict=False)]
            if len(self.angle) != len(self.intensity) or not steps or min(steps) < 0.01 or self.angle[0] != 0:
                raise ValueError(
                    f"angle has {len(self.angle)} numbers, intensity {len(self.intensity)}. Allowed: equally many, at "
                    "least two, with angles that begin at 0 and rise by at least 0.01 degrees. "
                    "Try angle = [0, 30, 60], intensity = [1, 0.5, 0]"
                )
            if not 0 < max(self.intensity) <= MOST_INTENSITY * self.intensity[0]:
                raise ValueError(
                    f"intensity is {self.intensity[0]:g} on the axis and {max(self.intensity):g} at most. Allowed: "
                    "above 0 on the axis, where the guide number is measured, and nowhere more than a million times "
                    "that. Try intensity = [1, 0.5, 0]"
                )
        return self


class Placement(_Model):
    """Where something is, measured with a ruler from an anchor, and which way it faces."""

    anchor: Annotated[Name, Field(alias="from", description='"subject", "lens", "shoe", or the name of a head or part')]
    right: Offset = 0.0
    up: Offset = 0.0
    toward_lens: Annotated[Offset | None, Field(description="a distance within 10 m")] = None
    toward_subject: Annotated[Offset | None, Field(description="a distance within 10 m")] = None
    tilt: Turned = 0.0
    turn: Turned = 0.0
    roll: Turned = 0.0
    aim: Annotated[Literal["ahead", "subject"], Field(description='"ahead" or "subject"')] = "ahead"
    hold: Annotated[
        Literal["reference", "centre", "top", "bottom", "left", "right", "back", "front"],
        Field(
            description='the point of the part that is put there: "reference", "centre", "top", "bottom", "left", '
            '"right", "back" or "front"'
        ),
    ] = "reference"

    @model_validator(mode="after")
    def _one_direction(self) -> Placement:
        if self.toward_lens is not None and self.toward_subject is not None:
            raise ValueError("toward_lens and toward_subject are both given. Allowed: one of them. Try leaving one out")
        if self.aim == "subject" and (self.tilt or self.turn):
            raise ValueError(
                'aim = "subject" sets tilt and turn itself. Allowed: aim, or tilt and turn. '
                "Try leaving tilt and turn out"
            )
        return self


PLACE_KEYS = tuple(field.alias or name for name, field in Placement.model_fields.items())


def _split(data: Any, own: set[str], rest: str | None) -> Any:
    """Sort the flat table of a part into its own keys, its placement and (rest) its shape."""
    if not isinstance(data, dict) or isinstance(data.get("place"), Placement):
        return data
    if "place" in data:
        raise ValueError(
            '"place" is not a key of a file. Allowed: the keys of a place in the table itself. '
            'Try from = "subject" there'
        )
    sorted_out: dict[str, Any] = {key: value for key, value in data.items() if key in own}
    sorted_out["place"] = {key: value for key, value in data.items() if key in PLACE_KEYS}
    others = {key: value for key, value in data.items() if key not in own and key not in PLACE_KEYS}
    return {**sorted_out, rest: others} if rest else {**sorted_out, **others}


class HeadSpec(_Model):
    """A flash head: where its window is, how big, how it throws its light and how strong it is."""

    name: Name = "flash"
    place: Annotated[Placement, Field(description="where it is")]
    window: Annotated[
        tuple[Size, Size], Field(description=f"[width, height] of the window, each {SIZE_RANGE}; try [60, 40]")
    ]
    beam: Annotated[
        Beam, Field(description="a table with cos_power, or with angle and intensity; try { cos_power = 5 }")
    ]
    guide_number: Annotated[Number, Field(ge=0.1, le=1000, description="guide number from 0.1 to 1000")]
    guide_number_unit: Annotated[Literal["m", "ft"], Field(description='"m" or "ft"')] = "m"
    iso: Annotated[
        Number,
        Field(ge=1, le=1_000_000, description="ISO speed that the guide number belongs to, from 1 to 1000000; try 100"),
    ] = 100.0
    zoom: Annotated[str, Field(max_length=60, description="zoom setting of the guide number, at most 60 letters")] = ""
    window_reflectance: Annotated[
        Number, Field(ge=0, le=1, description="share of light that the window sends back, from 0 to 1")
    ] = 0.3
    body: Annotated[
        tuple[Size, Size, Size] | None,
        Field(
            description=f"[width, height, length] of the case, with the window in the middle of its front, each "
            f"{SIZE_RANGE}; try [62, 42, 70]"
        ),
    ] = None

    @property
    def case(self) -> tuple[float, float, float]:
        """Width, height and length of the case behind the window, mm."""
        return self.body or (*self.window, USUAL_CASE_LENGTH)

    @model_validator(mode="after")
    def _window_in_the_case(self) -> HeadSpec:
        if self.body is not None and any(outer < inner for outer, inner in zip(self.body, self.window, strict=False)):
            raise ValueError(
                f"body is {self.body[0]:g} x {self.body[1]:g} mm across, the window {self.window[0]:g} x "
                f"{self.window[1]:g} mm. Allowed: a case at least as wide and as high as its window. "
                f"Try {self.window[0] + 2:g} mm and {self.window[1] + 2:g} mm"
            )
        return self

    @model_validator(mode="before")
    @classmethod
    def _sort(cls, data: Any) -> Any:
        return _split(data, set(cls.model_fields) - {"place"}, None)


class PartSpec(_Model):
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
        return _split(data, {"name", "material"}, "shape")


class Ball(_Model):
    """A glossy ball (an eye, the crown of a wing case): radius, refractive index, place of its middle."""

    radius: Annotated[Length, Field(ge=0.001, le=50, description="radius from 0.001 mm to 50 mm")] = 1.5
    refractive_index: Annotated[Number, Field(ge=1.01, le=4, description="refractive index from 1.01 to 4")] = 1.56
    right: Offset = 0.0
    up: Offset = 0.0
    toward_lens: Offset = 0.0


class Hair(_Model):
    """A fine hair above a surface: diameter and height over it."""

    diameter: Annotated[Length, Field(ge=0.001, le=5, description="diameter from 0.001 mm to 5 mm")] = 0.05
    height: Annotated[
        Length, Field(ge=0.001, le=50, description="height above the surface, from 0.001 mm to 50 mm")
    ] = 0.5


class Subject(_Model):
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


class Limits(_Model):
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


class Rig(_Model):
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
        return self
