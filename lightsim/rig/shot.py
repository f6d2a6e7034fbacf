"""The settings of a shot, the light of the day and the hand that holds the camera."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from lightsim.rig.fractions import Power, Seconds
from lightsim.rig.placement import Model
from lightsim.rig.units import Length, Number

_SPEED = "in mm (or inches) a second"


class Shot(Model):
    """ISO, shutter and power; the day's light; how the camera sways and the subject moves."""

    iso: Annotated[Number, Field(ge=1, le=1_000_000, description="ISO speed from 1 to 1000000; try 200")] = 200.0
    shutter: Annotated[
        Seconds,
        Field(
            ge=1e-5,
            le=30,
            description='shutter time in seconds or as a fraction, from 0.00001 to 30; try "1/200"',
        ),
    ] = 1 / 200
    power: Annotated[
        Power | None,
        Field(description='power setting of the flash, from 1/4096 to full; left out: the one that fits; try "1/16"'),
    ] = None
    placement: Annotated[
        Number,
        Field(
            ge=-5,
            le=5,
            description="stops by which the subject shall come out brighter (or, negative, darker) than mid-grey, from "
            "-5 to 5; try 0",
        ),
    ] = 0.0
    ambient: Annotated[
        Number,
        Field(ge=0, le=200_000, description="illuminance of the day on the subject in lx, from 0 to 200000; try 2000"),
    ] = 2000.0
    ambient_kelvin: Annotated[
        Number,
        Field(ge=1000, le=20_000, description="colour temperature of the day in kelvin, from 1000 to 20000; try 6500"),
    ] = 6500.0
    shake: Annotated[
        Length,
        Field(ge=0, description=f"how fast the camera moves across the subject, {_SPEED}, from 0 to 10 m; try 10"),
    ] = 10.0
    wind: Annotated[
        Length,
        Field(ge=0, description=f"how fast the subject moves across the frame, {_SPEED}, from 0 to 10 m; try 20"),
    ] = 20.0
    sway: Annotated[
        Length,
        Field(
            ge=0,
            le=200,
            description="how far the camera sways to and fro about the focus, as a standard deviation, from 0 to "
            "200 mm; try 2",
        ),
    ] = 2.0
    sway_time: Annotated[
        Seconds,
        Field(ge=0.001, le=60, description="time after which the sway has come elsewhere, from 0.001 to 60 s; try 0.3"),
    ] = 0.3
    frame_time: Annotated[
        Seconds, Field(ge=0.001, le=600, description="time from one frame to the next, from 0.001 to 600 s; try 0.5")
    ] = 0.5
    air: Annotated[
        Number, Field(ge=-40, le=60, description="temperature of the air in degrees C, from -40 to 60; try 25")
    ] = 25.0
