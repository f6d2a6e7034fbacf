"""Camera and lens of a rig file."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, Field, model_validator

from lightsim.rig.units import SIZE_RANGE, Length, Number, Size


def as_list(value: Any) -> Any:
    """One number where a list is due stands for a list of one."""
    return value if isinstance(value, list | tuple | dict | str) else [value]


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
    focus_ring: Annotated[
        tuple[Annotated[Length, Field(ge=0)], Annotated[Length, Field(ge=0)]] | None,
        Field(
            description="[from, to], where the focus ring begins and ends behind the lens front, two distances from 0 "
            "to 10 m; try [45, 85]"
        ),
    ] = None

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
