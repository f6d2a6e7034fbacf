"""Where something is: measured with a ruler from an anchor."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BaseModel, Field, model_validator

from lightsim.rig.units import Angle, Length

# Descriptions say what a key holds and what is allowed; what follows "; try" is offered to whoever got it wrong.
_NAME = "a name of 1 to 60 letters, without brackets and braces"
Name = Annotated[str, Field(min_length=1, max_length=60, pattern=r"^[^\x00-\x1f\[\]{}]+$", description=_NAME)]
Offset = Annotated[Length, Field(description="a distance within 10 m; negative for the other way")]
Turned = Annotated[Angle, Field(description="an angle in degrees, from -360 to 360")]
NAMED_ANCHORS = ("subject", "lens", "shoe")


class Model(BaseModel, frozen=True, extra="forbid"):
    """A table of a rig file: frozen, without keys that it does not know."""


class Placement(Model):
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


def split(data: Any, own: set[str], rest: str | None) -> Any:
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
