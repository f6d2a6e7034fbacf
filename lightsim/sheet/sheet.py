"""What a thin sheet does to light, in numbers a person can look up or measure."""

from __future__ import annotations

from difflib import get_close_matches
from typing import Annotated, Any, Literal, get_args

from pydantic import BaseModel, BeforeValidator, Discriminator, Field, Tag, ValidationInfo, model_validator

from lightsim.sheet.lengths import millimetres, scale_of

# Text is no number here, and true is not 1: files tell them apart, and so do we.
Share = Annotated[
    float, Field(ge=0, le=1, strict=True, allow_inf_nan=False, description="a share of the light, from 0 to 1")
]
How = Literal["measured", "published", "derived", "from memory", "assumed"]
HOW: tuple[str, ...] = get_args(How)
_NUMBER_KEYS = ("value", "low", "high", "known", "source", "against")
_LONGEST_SOURCE = 500


def _how_given(value: Any) -> str:
    return "sides" if isinstance(value, list | tuple) else "one"


# Told apart beforehand, a wrong number gives one fault and not one for each way it might have been meant.
Sides = Annotated[
    Annotated[Share, Tag("one")] | Annotated[tuple[Share, Share], Tag("sides")],
    Discriminator(_how_given),
    Field(description="a share of the light, from 0 to 1, or one for each side, [front, back]"),
]
_Coat = Annotated[
    float, Field(ge=0, le=0.3, strict=True, allow_inf_nan=False, description="a share of the light, from 0 to 0.3")
]
Gloss = Annotated[
    Annotated[_Coat, Tag("one")] | Annotated[tuple[_Coat, _Coat], Tag("sides")],
    Discriminator(_how_given),
    Field(description="a share of the light, from 0 to 0.3, or one for each side, [front, back]"),
]
THINNEST, THICKEST = 0.005, 100.0  # mm
LIGHTEST, HEAVIEST = 1.0, 50_000.0  # g/m2
LEAST_HEAT, MOST_HEAT = 100.0, 5000.0  # J/(kg K): lead has 130, water 4200 (handbook values from memory)
SOFTEST, HARDEST = 30.0, 2000.0  # degrees C


def _in_joule(value: Any) -> Any:
    """A specific heat, refused in words where it was meant in kJ/(kg K), as many tables have it."""
    if isinstance(value, int | float) and not isinstance(value, bool) and LEAST_HEAT <= 1000 * value <= MOST_HEAT:
        raise ValueError(
            f"is this in kJ/(kg K)? Allowed: J/(kg K), from {LEAST_HEAT:g} to {MOST_HEAT:g}. Try {1000 * value:g}"
        )
    return value


# Read from a file in inches with context={"scale": 25.4}; the limits hold in mm, after the conversion.
Thickness = Annotated[float, BeforeValidator(millimetres), Field(ge=THINNEST, le=THICKEST, allow_inf_nan=False)]
Grammage = Annotated[float, Field(ge=LIGHTEST, le=HEAVIEST, strict=True, allow_inf_nan=False)]
SpecificHeat = Annotated[
    float, BeforeValidator(_in_joule), Field(ge=LEAST_HEAT, le=MOST_HEAT, strict=True, allow_inf_nan=False)
]
Softens = Annotated[float, Field(ge=SOFTEST, le=HARDEST, strict=True, allow_inf_nan=False)]
NUMBERS = (
    "straight",
    "pores",
    "pore_depth",
    "forward_transmittance",
    "half_value_angle",
    "diffuse_transmittance",
    "diffuse_reflectance",
    "glossy_reflectance",
    "metallic_reflectance",
    "roughness",
)  # what the sheet does to light
BODY = ("thickness", "grammage", "specific_heat", "softens")  # what it is besides, which light does not ask for
TABLES = (*NUMBERS, *BODY)  # keys that may be written as { value, low, high, known, source }
SHAPES = ("pore_depth", "half_value_angle", "roughness")  # say how light is spread, and the others how much
SHARES = tuple(key for key in NUMBERS if key not in SHAPES)
_BOUNDS = {
    "pore_depth": (0.0, 20.0),
    "half_value_angle": (0.0, 60.0),
    "glossy_reflectance": (0.0, 0.3),
    "roughness": (0.05, 0.5),
    "thickness": (THINNEST, THICKEST),
    "grammage": (LIGHTEST, HEAVIEST),
    "specific_heat": (LEAST_HEAT, MOST_HEAT),
    "softens": (SOFTEST, HARDEST),
}
BY_SIDE = ("diffuse_reflectance", "glossy_reflectance", "metallic_reflectance")


class Origin(BaseModel, frozen=True, extra="forbid"):
    """How one number of a sheet is known. low and high by side, (front, back), both alike where it has one value."""

    low: Annotated[
        tuple[float, float] | None,
        Field(description="within the range of the key and not above value; [front, back] where value has two"),
    ] = None
    high: Annotated[
        tuple[float, float] | None,
        Field(description="within the range of the key and not below value; [front, back] where value has two"),
    ] = None
    known: Annotated[How | None, Field(description="how it is known: " + ", ".join(f'"{how}"' for how in HOW))] = None
    source: Annotated[str, Field(description=f"where it comes from, at most {_LONGEST_SOURCE} letters")] = ""
    against: Annotated[
        str,
        Field(description="another share that loses what this one gains within its range: the split of a known sum"),
    ] = ""

    @property
    def has_range(self) -> bool:
        """Whether low and high differ."""
        return self.low is not None and self.low != self.high


class Sheet(BaseModel, frozen=True, extra="forbid"):
    """A thin sheet: shares of the light that falls on it squarely. What is not named is absorbed.

    straight: regular transmittance at normal incidence; at an angle it falls as exp(-tau / cos) with
        tau = -ln(straight), and what it loses goes to the other shares and to absorption in proportion.
    pores: share of the area that is open, as in woven cloth; a round hole pore_depth times as deep as wide.
    forward_transmittance: share that leaves the other side in a lobe about its own direction, whose intensity
        falls to half at half_value_angle [degrees] off normal incidence; 60 is Lambertian, 0 straight through.
    diffuse_transmittance: share that leaves the other side as Lambertian light, the same both ways.
    diffuse_reflectance: share sent back as Lambertian light; one number or [front, back].
    glossy_reflectance: share sent back by a shiny clear coat (Fresnel, at normal incidence); one or [front, back].
    metallic_reflectance: share sent back by a metal surface; one number or [front, back].
    roughness: GGX alpha of the coat or the metal.
    layers: names of sheets in contact, from front to back, in place of all these numbers.
    thickness [mm], grammage [g/m2]: for those who cut and carry the sheet; None if not known. No figure of the light
        depends on them.
    specific_heat [J/(kg K)], softens [degrees C, where it scorches, softens or melts]: for what the flash does to it;
        None if not known.
    origins: low, high, source and how it is known of each number that a file writes as a table
        { value, low, high, known, source, against }.
    body: the same of thickness, grammage, specific_heat and softens, which are no numbers of the light.
    made_of: names and sheets of the layers of a stack, for the ranges of their own numbers.
    Raises pydantic.ValidationError (a ValueError) where the shares of a side sum to more than 1.
    """

    straight: Share = 0.0
    pores: Share = 0.0
    pore_depth: Annotated[
        float,
        Field(
            ge=0,
            le=20,
            strict=True,
            allow_inf_nan=False,
            description="depth of a pore over its width, from 0 to 20; try 1",
        ),
    ] = 1.0
    forward_transmittance: Share = 0.0
    half_value_angle: Annotated[
        Annotated[float, Field(ge=0, le=60, strict=True, allow_inf_nan=False)] | None,
        Field(description="degrees at which the forward lobe's intensity is half, from 0 to 60; try 20"),
    ] = None
    diffuse_transmittance: Share = 0.0
    diffuse_reflectance: Sides = 0.0
    glossy_reflectance: Gloss = 0.0
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
    layers: Annotated[
        tuple[Annotated[str, Field(min_length=1, max_length=60)], ...],
        Field(
            max_length=20,
            description="sheets in contact: a list of 2 to 20 names of materials, front first; "
            'try ["copy paper", "copy paper"]',
        ),
    ] = ()
    thickness: Annotated[
        Thickness | None, Field(description="thickness of the sheet, from 0.005 mm to 100 mm; try what calipers say")
    ] = None
    grammage: Annotated[
        Grammage | None,
        Field(description="mass of a square metre of the sheet in g/m2, from 1 to 50000; try 80 for copy paper"),
    ] = None
    specific_heat: Annotated[
        SpecificHeat | None,
        Field(description="heat that warms 1 kg of it by one degree, in J/(kg K), from 100 to 5000; try 1340"),
    ] = None
    softens: Annotated[
        Softens | None,
        Field(description="temperature at which it scorches, softens or melts, in degrees C, from 30 to 2000; try 100"),
    ] = None
    about: Annotated[str, Field(max_length=300, description="what it is, at most 300 letters")] = ""
    source: Annotated[str, Field(max_length=500, description="where its numbers come from, at most 500 letters")] = ""
    origins: dict[str, Origin] = Field(
        default={}, exclude=True, description="what the tables of the numbers say beside value; no key of a file"
    )
    body: dict[str, Origin] = Field(default={}, exclude=True, description="as origins, of what no light asks for")
    made_of: tuple[tuple[str, Sheet], ...] = Field(default=(), exclude=True)

    def __hash__(self) -> int:
        return hash(tuple(getattr(self, key) for key in NUMBERS))

    @property
    def reflectance_by_side(self) -> tuple[float, float]:
        """Diffuse reflectance of (front, back)."""
        return both(self.diffuse_reflectance)

    @property
    def gloss_by_side(self) -> tuple[float, float]:
        """Glossy reflectance of (front, back) at normal incidence."""
        return both(self.glossy_reflectance)

    @property
    def metal_by_side(self) -> tuple[float, float]:
        """Metallic reflectance of (front, back) at normal incidence."""
        return both(self.metallic_reflectance)

    @model_validator(mode="before")
    @classmethod
    def _numbers_as_tables(cls, data: Any, info: ValidationInfo) -> Any:
        """Numbers written as tables give their value, and what else they say goes to origins and body."""
        if not isinstance(data, dict) or "origins" in data or "body" in data:
            return data
        plain: dict[str, Any] = {}
        origins: dict[str, Origin] = {}
        for key, given in data.items():
            if key in TABLES and isinstance(given, dict):
                plain[key] = given.get("value")
                origins[key] = _origin(key, given, scale=scale_of(info) if key == "thickness" else 1.0)
            else:
                plain[key] = given
        body = {key: origins.pop(key) for key in BODY if key in origins}
        return {**plain, "origins": origins, "body": body}

    @model_validator(mode="after")
    def _sound(self) -> Sheet:
        if self.layers:
            if len(self.layers) < 2 or any(getattr(self, key) != _DEFAULTS[key] for key in NUMBERS):
                raise ValueError(
                    "layers = ... stands for sheets in contact. Allowed: 2 to 20 names and no numbers beside them. "
                    'Try layers = ["copy paper", "copy paper"] alone'
                )
            return self
        forward = self.origins.get("forward_transmittance", Origin()).high or (0.0, 0.0)
        if max(self.forward_transmittance, *forward) > 0 and self.half_value_angle is None:
            raise ValueError(
                "forward_transmittance needs its width. Allowed: half_value_angle from 0 to 60 degrees beside it. "
                "Try half_value_angle = 20, or measure it (lightsim measure)"
            )
        for side, diffuse, gloss, metal in zip(
            ("front", "back"), self.reflectance_by_side, self.gloss_by_side, self.metal_by_side, strict=True
        ):
            through = self.straight + self.pores + self.forward_transmittance + self.diffuse_transmittance
            total = through + diffuse + gloss + metal
            if total > 1 + 1e-12:
                raise ValueError(
                    "a sheet cannot pass on more light than it gets: straight + pores + forward_transmittance + "
                    "diffuse_transmittance + diffuse_reflectance + glossy_reflectance + metallic_reflectance = "
                    f"{total:.3f} on the {side}. "
                    f"Allowed: a sum of at most 1. Try lowering one of them by {total - 1:.3f}"
                )
            if gloss > 0 and metal > 0:
                raise ValueError(
                    "glossy_reflectance and metallic_reflectance cannot both be above 0 on one side: a coat over metal "
                    "counts as metal here. Try glossy_reflectance = 0"
                )
        if self.straight + self.pores > 0 and max(self.metal_by_side) > 0:
            raise ValueError(
                "straight or pores and metallic_reflectance cannot both be above 0: a metal lining is opaque here. "
                "Try straight = 0, or give the metal a part of its own"
            )
        return self


_DEFAULTS: dict[str, Any] = {key: Sheet.model_fields[key].default for key in NUMBERS}


def both(sides: float | tuple[float, float]) -> tuple[float, float]:
    """One number for (front, back), or the two as they are."""
    return (sides[0], sides[1]) if isinstance(sides, list | tuple) else (sides, sides)


def _origin(key: str, given: dict[str, Any], *, scale: float = 1.0) -> Origin:
    """What the table of one number says beside its value. Raises ValueError in words.

    scale: of the unit of the table, for what comes out; what is allowed is told in the unit of the table.
    A value that its field does not take is left to the field, which tells what it takes.
    """
    for other in given:
        if other not in _NUMBER_KEYS:
            near = get_close_matches(str(other)[:20], _NUMBER_KEYS, n=1)
            raise ValueError(
                f"{key}: the key {_said(other)} is not known beside value. Allowed: {', '.join(_NUMBER_KEYS)}. "
                f"Try {_said(near[0]) + ', if you meant that' if near else 'leaving it out'}"
            )
    if "value" not in given:
        raise ValueError(
            f'{key}: the key "value" is missing. Allowed: {", ".join(_NUMBER_KEYS)}. Try value = ... in its table'
        )
    known, source = given.get("known"), given.get("source", "")
    if known is not None and known not in HOW:
        near = get_close_matches(known[:20], HOW, n=1) if isinstance(known, str) else []
        words = ", ".join(map(_said, HOW))
        raise ValueError(
            f"{key}: known = {_said(known)}: this word is not known. Allowed: {words}. "
            f"Try {_said(near[0] if near else 'assumed')}"
        )
    if not isinstance(source, str) or len(source) > _LONGEST_SOURCE:
        raise ValueError(
            f"{key}: source = {_said(source)}: this is not a source note. Allowed: a text of at most "
            f'{_LONGEST_SOURCE} letters. Try source = "measured on a light meter"'
        )
    if ("low" in given) != ("high" in given):
        one, other = ("low", "high") if "low" in given else ("high", "low")
        raise ValueError(
            f"{key}: {one} = {_said(given[one])} has no {other} beside it. Allowed: both low and high, or neither. "
            f"Try {other} = ... too"
        )
    against = given.get("against", "")
    if against != "" and (against not in SHARES or against == key or key not in SHARES):
        raise ValueError(
            f"{key}: against = {_said(against)}: this is not another share of the sheet. Allowed: "
            f"{', '.join(share for share in SHARES if share != key)}. Try leaving it out"
        )
    value: Any = given["value"]
    least, most = (bound / scale for bound in _BOUNDS.get(key, (0.0, 1.0)))
    one_value = key not in BY_SIDE
    fits = _numeric(value) and not (one_value and isinstance(value, list | tuple))
    if "low" not in given or not fits or not all(least <= side <= most for side in both(value)):
        return Origin(known=known, source=source, against=against)
    # Rounded to four digits in another unit, but never out of the range.
    rounding = 0.0 if scale == 1 else 5e-4
    digits = 6 if scale == 1 else 4
    said_least, said_most = (f"{bound:.{digits}g}" for bound in (least * (1 + rounding), most * (1 - rounding)))
    allowed = f"Allowed: from {said_least} to {said_most}"
    for name in ("low", "high"):
        end = given[name]
        if not _numeric(end) or (one_value and isinstance(end, list | tuple)):
            sides = "" if one_value else ", or one for each side, [front, back]"
            raise ValueError(
                f"{key}: {name} = {_said(end)}: this must be a number. {allowed}{sides}. "
                f"Try {name} = {_said(value)}, or a little {'less' if name == 'low' else 'more'}"
            )
        if not all(least <= side <= most for side in both(end)):
            share = max(both(end)) / 100
            percent = 1 < max(both(end)) <= 100 * most and most <= 1
            raise ValueError(
                f"{key}: {name} = {_said(end)}: this is out of range. {allowed}. Try "
                + (f"{share:g} if it was a percentage" if percent else (said_least if name == "low" else said_most))
            )
    low, high = given["low"], given["high"]
    ends = [*zip(both(low), both(value), both(high), strict=True)]
    if any(not bottom <= middle <= top for bottom, middle, top in ends):
        swapped = all(top <= middle <= bottom for bottom, middle, top in ends)
        raise ValueError(
            f"{key}: value = {_said(value)} does not lie between low = {_said(low)} and high = {_said(high)}. "
            f"Allowed: low <= value <= high. Try {'swapping low and high' if swapped else 'a wider range'}"
        )
    least_sides, most_sides = ((front * scale, back * scale) for front, back in (both(low), both(high)))
    return Origin(low=least_sides, high=most_sides, known=known, source=source, against=against)


def _said(value: Any) -> str:
    """A value about as a file would write it, the beginning of a long one."""
    if isinstance(value, str):
        return f'"{value if len(value) <= 40 else value[:39] + "…"}"'
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, int) and abs(value) >= 10**18:
        return "a whole number of more than 18 digits"
    if isinstance(value, int | float):
        return f"{value:.12g}"
    if isinstance(value, list | tuple):
        return f"[{', '.join(map(_said, value[:3]))}{', …' if len(value) > 3 else ''}]"
    return "a table" if isinstance(value, dict) else str(value)[:40]


def _numeric(value: Any) -> bool:
    def number(each: Any) -> bool:
        return isinstance(each, int | float) and not isinstance(each, bool)

    return number(value) or (isinstance(value, list | tuple) and len(value) == 2 and all(map(number, value)))
