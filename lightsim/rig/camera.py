"""Camera and lens of a rig file."""

from __future__ import annotations

import re
from math import hypot
from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, Field, ValidationInfo, model_validator

from lightsim.rig.fractions import Seconds, seconds_words
from lightsim.rig.units import INCH, SIZE_RANGE, Length, Number, Size
from lightsim.sheet.lengths import scale_of

USUAL_TRANSMITTANCE = 0.9  # of a lens, within the constant q = 0.65 of ISO 12232 (from memory)
SHORTEST_CLOSE_UP = 20.0  # mm, 50 dioptres: a smaller number states the dioptres; a choice
_DIOPTRES = re.compile(r"(\+?)\s*(\d{1,3}(?:[.,]\d{1,4})?)\s*(d|dpt|diopt(?:re|er|rie)s?)?")


def as_list(value: Any) -> Any:
    """One number where a list is due stands for a list of one."""
    return value if isinstance(value, list | tuple | dict | str) else [value]


def _no_dioptres(value: Any, info: ValidationInfo) -> Any:
    """Refuses the strength of a close-up lens where its focal length is due. Raises ValueError in words."""
    scale, dioptres = scale_of(info), 0.0
    if isinstance(value, str):
        found = _DIOPTRES.fullmatch(value.strip().lower())
        number = float(found[2].replace(",", ".")) if found else 0.0
        if found and (found[1] or found[3] or number * scale < SHORTEST_CLOSE_UP):
            dioptres = number
    elif isinstance(value, int | float) and not isinstance(value, bool) and 0 < value * scale < SHORTEST_CLOSE_UP:
        dioptres = float(value)
    if dioptres <= 0:
        return value
    inches = scale == INCH
    raise ValueError(
        f"{dioptres:g} dioptres? Here the focal length is due, which is {1000 / scale:.5g} over the dioptres, in "
        f"{'inches' if inches else 'mm'}. Try close_up = {max(1000 / dioptres, SHORTEST_CLOSE_UP) / scale:.4g}"
    )


class Camera(BaseModel, frozen=True, extra="forbid"):
    """Camera body: sensor and pixels, the magnifications asked for, and where the hot shoe is."""

    sensor: Annotated[
        tuple[Size, Size],
        Field(description=f"[width, height] of the sensor, each {SIZE_RANGE}; try [36, 24]"),
    ]
    pixels: Annotated[
        tuple[
            Annotated[int, Field(ge=1, le=200_000, strict=True)],
            Annotated[int, Field(ge=1, le=200_000, strict=True)],
        ],
        Field(
            description="pixels [across, down], whole numbers from 1 to 200000, [6000, 4000] if left out; "
            "try [6000, 4000]"
        ),
    ] = (6000, 4000)
    magnification: Annotated[
        tuple[Annotated[Number, Field(ge=0.01, le=20)], ...],
        BeforeValidator(as_list),
        Field(
            min_length=1,
            max_length=8,
            description="one to eight magnifications, each from 0.01 to 20; try [1]",
        ),
    ]
    body: Annotated[
        tuple[Size, Size, Size],
        Field(description=f"[width, height, depth] of the body, each {SIZE_RANGE}; try [130, 95, 40]"),
    ] = (130.0, 95.0, 40.0)
    shoe_up: Annotated[Length, Field(description="height of the hot shoe above the optical axis, within 10 m")] = 55.0
    shoe_back: Annotated[Length, Field(description="how far the hot shoe lies behind the lens mount, within 10 m")] = (
        20.0
    )
    sync: Annotated[
        Seconds,
        Field(
            ge=1e-5,
            le=30,
            description="shortest shutter time at which the whole frame is open at once, in seconds or as a fraction, "
            'from 0.00001 to 30; try "1/200"',
        ),
    ] = 1 / 200
    curtain: Annotated[
        Annotated[Seconds, Field(ge=0, le=1)] | None,
        Field(
            description="time that a curtain of the shutter takes across the frame, in seconds or as a fraction, from "
            '0 to 1; try "1/250"'
        ),
    ] = None
    blur_circle: Annotated[
        Annotated[Length, Field(ge=0.0005, le=1)] | None,
        Field(
            description="diameter of the blur on the sensor that still counts as sharp, from 0.0005 mm to 1 mm; left "
            "out: the sensor's diagonal over 1500"
        ),
    ] = None
    base_iso: Annotated[
        Number, Field(ge=1, le=1_000_000, description="lowest ISO speed of the camera, from 1 to 1000000; try 100")
    ] = 100.0

    @model_validator(mode="after")
    def _open_at_once(self) -> Camera:
        if self.curtain is not None and self.curtain > self.sync:
            raise ValueError(
                f"curtain is {seconds_words(self.curtain)}, longer than sync, {seconds_words(self.sync)}, at which the "
                "whole frame is open at once. Allowed: a curtain that is across within that time. Try leaving it out"
            )
        return self

    @property
    def sharp(self) -> float:
        """Diameter of the blur circle that counts as sharp, mm: the diagonal over 1500 (common practice, no source)."""
        return self.blur_circle or hypot(*self.sensor) / 1500


class Lens(BaseModel, frozen=True, extra="forbid"):
    """Lens: free distance to the subject at each magnification, and the barrel that stands in the light."""

    working_distance: Annotated[
        tuple[Size, ...],
        BeforeValidator(as_list),
        Field(
            min_length=1,
            max_length=8,
            description=f"from lens front to subject, one for each magnification, each {SIZE_RANGE}; try [150]",
        ),
    ]
    diameter: Annotated[Size, Field(le=1000, description="outer diameter of the barrel, from 0.1 mm to 1 m")]
    length: Annotated[Size, Field(le=5000, description="from lens front to lens mount, from 0.1 mm to 5 m")]
    f_number: Annotated[Number, Field(ge=0.5, le=128, description="f-number from 0.5 to 128")] = 8.0
    f_number_range: Annotated[
        tuple[Annotated[Number, Field(ge=0.5, le=128)], Annotated[Number, Field(ge=0.5, le=128)]] | None,
        Field(
            description="[widest, smallest] opening of the lens, two f-numbers as marked, each from 0.5 to 128; "
            "try [2.8, 22]"
        ),
    ] = None
    extension: Annotated[Length, Field(ge=0, le=2000, description="length added by extension tubes, from 0 to 2 m")] = (
        0.0
    )
    pupil_depth: Annotated[
        Annotated[Length, Field(ge=0)] | None,
        Field(
            description="how far behind the lens front the entrance pupil appears, from 0 to 10 m; left out: "
            "infinitely far, the widest view"
        ),
    ] = None
    pupil_ratio: Annotated[
        Number,
        Field(ge=0.1, le=10, description="diameter of the exit pupil over that of the entrance pupil, from 0.1 to 10"),
    ] = 1.0
    transmittance: Annotated[
        Number,
        Field(
            ge=0.05,
            le=1,
            description="share of the light that the glass lets through, from 0.05 to 1; try 0.9",
        ),
    ] = USUAL_TRANSMITTANCE
    reversed: Annotated[bool, Field(strict=True, description="whether the lens is mounted the other way round")] = False
    close_up: Annotated[
        Annotated[Size, Field(ge=SHORTEST_CLOSE_UP, le=5000), BeforeValidator(_no_dioptres)] | None,
        Field(
            description=f"focal length of a close-up lens screwed to the front, from {SHORTEST_CLOSE_UP:g} mm to 5 m; "
            "try 200, which is 1000 over its dioptres"
        ),
    ] = None
    focus_ring: Annotated[
        tuple[Annotated[Length, Field(ge=0)], Annotated[Length, Field(ge=0)]] | None,
        Field(
            description="[from, to], where the focus ring begins and ends behind the lens front, two distances from 0 "
            "to 10 m; try [45, 85]"
        ),
    ] = None

    @model_validator(mode="after")
    def _opening_of_the_lens(self) -> Lens:
        if self.f_number_range is not None:
            widest, smallest = self.f_number_range
            if not widest < smallest:
                raise ValueError(
                    f"f_number_range is [{widest:g}, {smallest:g}]. Allowed: the smaller number first, which is the "
                    f"widest opening. Try f_number_range = [{smallest:g}, {widest:g}]"
                    if widest > smallest
                    else f"f_number_range is [{widest:g}, {smallest:g}]. Allowed: two f-numbers, the smaller one "
                    "first. Try f_number_range = [2.8, 22]"
                )
            if not widest <= self.f_number <= smallest:
                nearest = widest if self.f_number < widest else smallest
                raise ValueError(
                    f"f_number is {self.f_number:g}, and the lens has f/{widest:g} to f/{smallest:g} by its "
                    f"f_number_range. Allowed: an f-number between these. Try f_number = {nearest:g}"
                )
        return self

    @model_validator(mode="after")
    def _ring_on_the_barrel(self) -> Lens:
        if self.focus_ring is not None:
            first, last, barrel = *self.focus_ring, self.length + self.extension
            if not first < last <= barrel:
                raise ValueError(
                    f"focus_ring runs from {first:g} mm to {last:g} mm behind the lens front. Allowed: the nearer end "
                    f"first, and no farther back than the barrel, {barrel:g} mm. "
                    f"Try {0.4 * barrel:.3g} mm and {0.7 * barrel:.3g} mm"
                )
        return self


def own_magnification(lens: Lens, *, magnification: float, working_distance: float) -> float:
    """Magnification that the lens itself makes, where a close-up lens before it makes the rest.

    working_distance : mm, subject to lens front, which is the close-up lens
    A thin lens of focal length c shows what lies d before it at v, 1/v = 1/d - 1/c, magnified by v / d = 1 / (1 - d/c):
    of m, m (1 - d/c) is left to the lens behind it. Derived here from the lens equation.
    """
    return magnification * (1 - working_distance / lens.close_up) if lens.close_up else magnification


def working_f_number(lens: Lens, *, magnification: float, working_distance: float) -> float:
    """Effective f-number at a magnification: N (1 + m / P), of a reversed lens N (1 + m P) / P.

    working_distance : mm, subject to lens front; matters for a close-up lens alone
    N as marked, focused far away and not reversed; P the pupil ratio of the lens as it is built; m what the lens itself
    makes, without a close-up lens. Tubes are in it: they change m. A lens that shortens its focal length or opens its
    diaphragm while focusing closer departs from it. Source: Jacobson, Photographic Lenses Tutorial ("Apertures, f-stop,
    bellows correction factor, pupil magnification").
    """
    own = own_magnification(lens, magnification=magnification, working_distance=working_distance)
    if lens.reversed:
        return lens.f_number / lens.pupil_ratio * (1 + own * lens.pupil_ratio)
    return lens.f_number * (1 + own / lens.pupil_ratio)
