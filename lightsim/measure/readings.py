"""Readings that a person takes with one camera and one flash: of a sheet, and of the flash itself.

They are compared exposures, in stops. A stop is a factor of two; "lost" and "below" count darker as positive.
docs/measure.md says how to take them, lightsim.measure.sheet_readings and flash_readings what follows from them.
"""

from __future__ import annotations

import math
from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, Field, model_validator

from lightsim.measure.posterior import NORMAL_95
from lightsim.rig.fractions import power as power_of
from lightsim.rig.units import Number

SIXTH = 0.167  # stops; camera settings go in thirds, so the nearest one is at most a sixth off
_SPREAD = 0.04  # either way, of a reflectance given as one number, but no more than half of it
_FARTHEST = 4.0  # marks on a wall, in distances of the flash from it: 76 degrees, where cos^3 takes 6 stops
_STOPS = "stops, a number or { stops = 1.5, uncertainty = 0.1 }; try 1.5"
_MILLIMETRES = "mm, from {low:g} to {high:g}"


class _Model(BaseModel, frozen=True, extra="forbid"):
    pass


def _as_reading(value: Any) -> Any:
    return value if isinstance(value, dict | Reading) else {"stops": value}


def _as_reflectance(value: Any) -> Any:
    if isinstance(value, bool) or not isinstance(value, int | float):
        return value
    spread = min(_SPREAD, value / 2)
    return {"value": value, "low": max(round(value - spread, 6), 0.0), "high": min(round(value + spread, 6), 1.0)}


class Reading(_Model):
    """A difference of exposure and its standard uncertainty, both in stops.

    Standard uncertainty: two readings in three lie nearer to the truth than that, 95 in a hundred within twice as much.
    """

    stops: Annotated[Number, Field(description="stops, a number; try 1.5")]
    uncertainty: Annotated[
        Annotated[Number, Field(ge=0.01, le=1)] | None,
        Field(description="standard uncertainty in stops, from 0.01 to 1; try 0.17"),
    ] = None


class Reflectance(_Model):
    """Share of light that a card sends back, and the 95 % range of that. A lone number stands for 0.04 about it."""

    value: Annotated[Number, Field(ge=0, le=1, description="a share of the light, from 0 to 1; try 0.86")]
    low: Annotated[Number, Field(ge=0, le=1, description="a share of the light, from 0 to 1")]
    high: Annotated[Number, Field(ge=0, le=1, description="a share of the light, from 0 to 1")]

    @model_validator(mode="after")
    def _in_order(self) -> Reflectance:
        if not self.low <= self.value <= self.high:
            raise ValueError(
                f"value = {self.value:g} does not lie between low = {self.low:g} and high = {self.high:g}. "
                "Allowed: low <= value <= high. Try swapping them"
            )
        return self

    @property
    def deviation(self) -> float:
        """Standard deviation of a normal distribution with this 95 % range."""
        return (self.high - self.low) / (2 * NORMAL_95)


def _within(key: str, reading: Reading | None, low: float, high: float) -> None:
    if reading is None or low <= reading.stops <= high:
        return
    remedy = "reading again"
    if low <= -reading.stops <= high:
        remedy = f"{key} = {-reading.stops:g}, if the sign is the wrong way round, or reading again"
    elif key == "side" and reading.stops > high:
        remedy = f"width = {reading.stops:g}, if this is the width of the spot in mm"
    elif high < reading.stops <= 100:
        remedy = f"{key} = {-math.log2(reading.stops / 100):.2g}, if {reading.stops:g} % of the light is left"
    raise ValueError(
        f"{key} = {reading.stops:g} stops. Allowed: from {low:g} to {high:g} stops; darker counts as positive. "
        f"Try {remedy}"
    )


_Share = Annotated[Reflectance, BeforeValidator(_as_reflectance)]
_Stops = Annotated[Reading, BeforeValidator(_as_reading)]


class SpotReadings(_Model):
    """A small lamp shines through the sheet: a hole in black card over the lit window, seen from the other side.

    distance : mm from the lamp to the sheet
    camera : mm from the lens front to the sheet
    lamp_width : mm, diameter of the hole
    width : mm, how wide the spot is where it is one stop darker than in its middle
    side : stops by which the sheet is darker beside the spot than in its middle, one distance away from the middle
    lamp : stops that the lamp itself loses when it is seen through the sheet, where it is seen sharply
    woven : whether light passes straight through open pores, as in cloth, and not through the stuff
    """

    distance: Annotated[Number, Field(ge=10, le=1000, description=_MILLIMETRES.format(low=10, high=1000) + "; try 100")]
    camera: Annotated[
        Number, Field(ge=100, le=10_000, description=_MILLIMETRES.format(low=100, high=10_000) + "; try 500")
    ] = 500.0
    lamp_width: Annotated[Number, Field(ge=1, le=100, description=_MILLIMETRES.format(low=1, high=100) + "; try 6")] = (
        6.0
    )
    width: Annotated[
        Annotated[Number, Field(ge=1, le=2000)] | None,
        Field(description=_MILLIMETRES.format(low=1, high=2000) + "; try the width of the half-bright spot"),
    ] = None
    side: Annotated[_Stops | None, Field(description=_STOPS)] = None
    lamp: Annotated[_Stops | None, Field(description=_STOPS)] = None
    woven: Annotated[bool, Field(strict=True, description="true or false")] = False

    @model_validator(mode="after")
    def _complete(self) -> SpotReadings:
        _within("side", self.side, 0, 14)
        _within("lamp", self.lamp, 0, 14)
        if (self.width is None) != (self.side is None):
            raise ValueError(
                "the width of the spot and the stops beside it tell only together how much light goes into the spot. "
                "Allowed: both width = ... (mm) and side = ... (stops), or neither. Try reading the other one too"
            )
        if self.width is None and self.lamp is None:
            raise ValueError(
                "a spot needs readings. Allowed: both width = ... (mm) and side = ... (stops), or lamp = ... (stops), "
                "or all three. Try the first two"
            )
        if self.lamp_width > self.distance:
            raise ValueError(
                f"lamp_width = {self.lamp_width:g} mm is more than the distance of {self.distance:g} mm: that is no "
                "small lamp. Allowed: a hole narrower than the distance. Try a hole of a tenth of the distance"
            )
        return self


class NamedSheet(_Model):
    """What a sheet is called, and what it is."""

    name: Annotated[
        str,
        Field(
            min_length=1,
            max_length=60,
            pattern=r"^[^\x00-\x1f\[\]{}]+$",
            description='a name of 1 to 60 letters, without brackets and braces; try "my packing foam"',
        ),
    ]
    about: Annotated[str, Field(max_length=300, description="what it is, at most 300 letters")] = ""


class SheetReadings(NamedSheet):
    """What was read of one sheet.

    window : stops that the sheet loses over the lit window, against a hole in the sheet that shows the window bare
    white, black : stops by which the sheet on white card and on black card is darker than the bare white card
    spot : see SpotReadings; without them the sheet is taken to scatter evenly
    window_reflectance : share of the sheet's own light that the window sends straight back under it. 0 with a hole in
        the sheet, which sees the same; of white paper about 0.79 where the sheet lies on it and the bare window was
        read without the sheet.
    uncertainty : standard uncertainty of each reading that has none of its own, stops
    """

    window: Annotated[_Stops | None, Field(description=_STOPS)] = None
    white: Annotated[_Stops | None, Field(description=_STOPS)] = None
    black: Annotated[_Stops, Field(description=_STOPS)]
    white_card: Annotated[_Share, Field(description="reflectance of the white card, from 0.3 to 1; try 0.86")] = (
        Reflectance(value=0.86, low=0.82, high=0.90)
    )
    black_card: Annotated[_Share, Field(description="reflectance of the black card, from 0 to 0.2; try 0.05")] = (
        Reflectance(value=0.05, low=0.03, high=0.08)
    )
    window_reflectance: Annotated[
        _Share, Field(description="reflectance of the window, from 0 to 1; try 0, or 0.79 for white paper")
    ] = Reflectance(value=0.0, low=0.0, high=0.0)
    spot: Annotated[SpotReadings | None, Field(description="a table [spot] with distance, width and side")] = None
    uncertainty: Annotated[
        Number, Field(ge=0.01, le=1, description="standard uncertainty in stops, from 0.01 to 1; try 0.17")
    ] = SIXTH

    @model_validator(mode="after")
    def _enough(self) -> SheetReadings:
        if self.window is None and self.white is None:
            raise ValueError(
                "how much light passes cannot be told from the black card alone. Allowed: window = ... or white = ... "
                "beside it, best both. Try reading the window too"
            )
        _within("window", self.window, -0.5, 12)
        _within("white", self.white, -1, 8)
        _within("black", self.black, -1, 8)
        for key, card, low, high in (
            ("white_card", self.white_card, 0.3, 1.0),
            ("black_card", self.black_card, 0.0, 0.2),
        ):
            if not low <= card.value <= high:
                raise ValueError(
                    f"{key} = {card.value:g}. Allowed: a reflectance from {low:g} to {high:g}. "
                    f"Try leaving {key} out, which takes that of ordinary card"
                )
        return self


Mark = tuple[
    Annotated[Number, Field(ge=1, le=20_000, description="mm from the middle")],
    Annotated[Number, Field(ge=-3, le=14, description="stops below the middle")],
]


class ZoomReadings(_Model):
    """One zoom setting of the flash: the light on a plain wall, and the exposure of a card in the middle of it.

    setting : what the flash calls it, if it has several
    across, up : (mm from the middle, stops darker than the middle) at marks on the wall, sideways and upward
    iso, f_number, power : the settings at which the card came out brighter (stops) than a metered grey; power is a
        share, or a text such as "1/16"
    """

    setting: Annotated[str, Field(max_length=60, description="a name of at most 60 letters")] = ""
    across: Annotated[
        tuple[Mark, ...],
        Field(
            min_length=1,
            max_length=30,
            description="1 to 30 marks [mm from the middle, stops]; try [[200, 0.4], [400, 1.5]]",
        ),
    ]
    up: Annotated[
        tuple[Mark, ...],
        Field(max_length=30, description="at most 30 marks [mm from the middle, stops]; try [[200, 0.4], [400, 1.5]]"),
    ] = ()
    f_number: Annotated[
        Annotated[Number, Field(ge=0.5, le=128)] | None, Field(description="f-number from 0.5 to 128; try 8")
    ] = None
    iso: Annotated[Number, Field(ge=1, le=1_000_000, description="ISO speed from 1 to 1000000; try 100")] = 100.0
    power: Annotated[
        Number, BeforeValidator(power_of), Field(ge=1 / 1024, le=1, description='from 1/1024 to 1; try "1/16"')
    ] = 1.0
    brighter: Annotated[Number, Field(ge=-6, le=6, description="stops from -6 to 6; try 0")] = 0.0

    @property
    def power_was_named(self) -> bool:
        """Whether the power was said, and is not full because none was."""
        return "power" in self.model_fields_set


class FlashReadings(_Model):
    """What was read of a flash that looks squarely at a plain matt wall.

    wall_distance : mm from the window of the flash to the wall
    zoom : one for each zoom setting
    meter : "camera": a card lit by the flash as the camera's meter would have it grey (K = 12.5);
        "incident": f_number is what an incident light meter shows at the wall (C = 250)
    card : reflectance of the card in the middle of the wall, for "camera"
    uncertainty : standard uncertainty of each reading, stops
    """

    name: Annotated[str, Field(min_length=1, max_length=60, description='a name of 1 to 60 letters; try "my flash"')]
    wall_distance: Annotated[
        Number, Field(ge=200, le=10_000, description=_MILLIMETRES.format(low=200, high=10_000) + "; try 1000")
    ]
    zoom: Annotated[tuple[ZoomReadings, ...], Field(min_length=1, max_length=20, description="1 to 20 tables [[zoom]]")]
    meter: Annotated[Literal["camera", "incident"], Field(description='"camera" or "incident"')] = "camera"
    card: Annotated[_Share, Field(description="reflectance of the card, from 0.02 to 1; try 0.18")] = Reflectance(
        value=0.18, low=0.17, high=0.19
    )
    uncertainty: Annotated[
        Number, Field(ge=0.01, le=1, description="standard uncertainty in stops, from 0.01 to 1; try 0.17")
    ] = SIXTH

    @model_validator(mode="after")
    def _sound(self) -> FlashReadings:
        farthest = _FARTHEST * self.wall_distance
        for mark in (mark for zoom in self.zoom for mark in (*zoom.across, *zoom.up)):
            if mark[0] > farthest:
                raise ValueError(
                    f"a mark {mark[0]:g} mm from the middle of a wall {self.wall_distance:g} mm away is seen at a "
                    f"grazing angle, where the wall tells nothing of the beam. Allowed: up to {farthest:g} mm. "
                    "Try the flash farther from the wall"
                )
        if self.card.value < 0.02:
            raise ValueError(
                f"card = {self.card.value:g}. Allowed: a reflectance from 0.02 to 1. Try 0.18 for a grey card, 0.86 "
                "for a white one"
            )
        return self
