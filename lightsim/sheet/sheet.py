"""What a thin sheet does to light, in numbers a person can look up or measure."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import BaseModel, Discriminator, Field, Tag, model_validator

# Text is no number here, and true is not 1: files tell them apart, and so do we.
Share = Annotated[
    float, Field(ge=0, le=1, strict=True, allow_inf_nan=False, description="a share of the light, from 0 to 1")
]


def _how_given(value: Any) -> str:
    return "sides" if isinstance(value, list | tuple) else "one"


# Told apart beforehand, a wrong number gives one fault and not one for each way it might have been meant.
Sides = Annotated[
    Annotated[Share, Tag("one")] | Annotated[tuple[Share, Share], Tag("sides")],
    Discriminator(_how_given),
    Field(description="a share of the light, from 0 to 1, or one for each side, [front, back]"),
]


class Sheet(BaseModel, frozen=True, extra="forbid"):
    """A thin sheet: shares of the light that falls on it. What is not named is absorbed.

    straight: regular transmittance at normal incidence; at an angle it falls as exp(-tau / cos) with
        tau = -ln(straight), and what it loses goes to the other shares and to absorption in proportion.
    diffuse_transmittance: share that leaves the other side as Lambertian light, the same both ways.
    diffuse_reflectance: share sent back as Lambertian light; one number or [front, back].
    metallic_reflectance: share sent back by a slightly rough metal surface; one number or [front, back].
    roughness: GGX alpha of that metal surface.
    Raises pydantic.ValidationError (a ValueError) where the shares of a side sum to more than 1.
    """

    straight: Share = 0.0
    diffuse_transmittance: Share = 0.0
    diffuse_reflectance: Sides = 0.0
    metallic_reflectance: Sides = 0.0
    roughness: Annotated[
        float,
        Field(
            ge=0.05,
            le=0.5,
            strict=True,
            allow_inf_nan=False,
            description="GGX alpha from 0.05 (polished) to 0.5 (crumpled)",
        ),
    ] = 0.15
    about: Annotated[str, Field(max_length=300, description="what it is, at most 300 letters")] = ""
    source: Annotated[str, Field(max_length=300, description="where its numbers come from, at most 300 letters")] = ""

    @property
    def reflectance_by_side(self) -> tuple[float, float]:
        """Diffuse reflectance of (front, back)."""
        return _both(self.diffuse_reflectance)

    @property
    def metal_by_side(self) -> tuple[float, float]:
        """Metallic reflectance of (front, back)."""
        return _both(self.metallic_reflectance)

    @model_validator(mode="after")
    def _energy(self) -> Sheet:
        for side, diffuse, metal in zip(("front", "back"), self.reflectance_by_side, self.metal_by_side, strict=True):
            total = self.straight + self.diffuse_transmittance + diffuse + metal
            if total > 1 + 1e-12:
                raise ValueError(
                    f"a sheet cannot pass on more light than it gets: straight + diffuse_transmittance + "
                    f"diffuse_reflectance + metallic_reflectance = {total:.3f} on the {side}. "
                    f"Allowed: a sum of at most 1. Try lowering one of them by {total - 1:.3f}"
                )
        if self.straight > 0 and max(self.metal_by_side) > 0:
            raise ValueError(
                "straight and metallic_reflectance cannot both be above 0: a metal lining is opaque here. "
                "Try straight = 0, or give the metal a part of its own"
            )
        return self


def _both(sides: float | tuple[float, float]) -> tuple[float, float]:
    return sides if isinstance(sides, tuple) else (sides, sides)
