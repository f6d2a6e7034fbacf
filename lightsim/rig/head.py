"""A flash head of a rig file: its window, its beam, its strength, its power settings and pulses."""

from __future__ import annotations

from itertools import pairwise
from typing import Annotated, Any, Literal

from pydantic import Field, model_validator

from lightsim.rig.beam import Beam
from lightsim.rig.fractions import Power, Seconds, Stops
from lightsim.rig.placement import Model, Name, Placement, split
from lightsim.rig.units import SIZE_RANGE, Number, Size

USUAL_CASE_LENGTH = 40.0  # mm, of a head whose body a file leaves out; a choice
C = 250.0  # lx s at ISO 1: the constant of incident light that guide numbers mean (ISO 2720 as quoted by Conrad)


class Durations(Model):
    """How long the flash shines at some of its powers."""

    power: Annotated[
        tuple[Power, ...],
        Field(min_length=1, max_length=40, description='powers, rising or falling; try ["full", "1/16"]'),
    ]
    time: Annotated[
        tuple[Annotated[Seconds, Field(ge=1e-7, le=0.1)], ...],
        Field(
            min_length=1,
            max_length=40,
            description='a time for each power, in seconds or as fractions, each from 0.0000001 to 0.1; try ["1/500"]',
        ),
    ]
    kind: Annotated[
        Literal["t0.5", "t0.1"],
        Field(description='"t0.5": brighter than half of the peak; "t0.1": brighter than a tenth of it'),
    ] = "t0.5"

    @model_validator(mode="before")
    @classmethod
    def _at_full_power(cls, data: Any) -> Any:
        """One time alone is t0.5 at full power."""
        return {"power": [1.0], "time": [data]} if isinstance(data, str | int | float) else data

    @model_validator(mode="after")
    def _in_pairs(self) -> Durations:
        pairs = sorted(zip(self.power, self.time, strict=False))
        rising = all(after[0] > 1.001 * before[0] for before, after in pairwise(pairs))
        if len(self.power) != len(self.time) or not rising:
            raise ValueError(
                f"power has {len(self.power)} numbers, time {len(self.time)}. Allowed: one time for each power, and no "
                'power twice. Try power = ["full", "1/16"], time = ["1/500", "1/8000"]'
            )
        if any(after[1] < before[1] for before, after in pairwise(pairs)):
            raise ValueError(
                "a lower power has the longer time. Allowed: times that do not fall as the power rises, since a flash "
                "cuts its pulse short. Try the two lists in the same order"
            )
        return self


class HeadSpec(Model):
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
    guide_number_beam: Annotated[
        Beam | None,
        Field(
            description="the beam to which the guide number belongs, where it was stated at another zoom setting than "
            "the one in use: a table like beam; try { half_value_angle = 12 }"
        ),
    ] = None
    kelvin: Annotated[
        Number, Field(ge=1000, le=20_000, description="colour temperature in kelvin, from 1000 to 20000; try 5500")
    ] = 5500.0
    power_least: Annotated[Power, Field(description='least power setting, from 1/4096 to full; try "1/128"')] = 1 / 128
    power_step: Annotated[
        Stops,
        Field(ge=0.05, le=2, description='step between power settings in stops, from 0.05 to 2; try "1/3"'),
    ] = 1 / 3
    duration: Annotated[
        Durations | None,
        Field(
            description="how long it shines: t0.5 at full power, or a table with power, time and kind; left out: 1/500 "
            's at full power; try "1/500"'
        ),
    ] = None
    recycle: Annotated[
        Annotated[Seconds, Field(ge=0.001, le=120)] | None,
        Field(description="time to recharge after a flash at full power, in seconds from 0.001 to 120; try 2.5"),
    ] = None
    flashes: Annotated[
        Annotated[int, Field(ge=1, le=100_000, strict=True)] | None,
        Field(description="flashes at full power of one battery charge, a whole number from 1 to 100000; try 200"),
    ] = None
    energy: Annotated[
        Annotated[Number, Field(ge=0.1, le=3000)] | None,
        Field(description="energy of a flash at full power in joule (watt-seconds), from 0.1 to 3000; try 60"),
    ] = None
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
        return split(data, set(cls.model_fields) - {"place"}, None)
