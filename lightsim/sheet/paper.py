"""Paper and card from their data sheet: grammage, opacity and whiteness to transmittance and reflectance.

Kubelka-Munk theory: light in paper goes up or down; each layer scatters a share to the other stream and absorbs a
share. Two numbers say it all, the scattering and the absorption coefficient of the stuff, and hold at any grammage.
Paper optics lights the sheet from all around and looks at it squarely, which by reciprocity is the reflectance for
light that comes squarely: the R a Sheet asks for. The transmittance that follows from two such readings is that of a
beam at normal incidence too, within half a per cent for a slab in which light turns at random (found by
adding-doubling, tests/test_paper.py). Light from all around gets up to a fifth less through: a Sheet has one number
for both.

Sources: Kubelka & Munk, Z. techn. Phys. 12, 593 (1931); Kubelka, JOSA 38, 448 (1948); ISO 9416:2017 (coefficients,
abstract opened, equations from memory); ISO 2471 (opacity, definition opened); ISO 22891 and DIN 53147
(transmittance over two backings, formula second-hand).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from lightsim.sheet.given import Given, Numbers, corners, ends, number, share, sheet_with_range, within_energy
from lightsim.sheet.sheet import Sheet

_WHITEST = 0.92  # luminous R-infinity of white copier paper is 0.82 to 0.92 (from memory)
_BRIGHTENED = (
    "Brightened paper glows blue in ultraviolet: its figures were taken with a stated amount of it, of which a flash "
    "gives more or less, so reflectance and transmittance are less sure than they look. "
    "Try readings with your own flash (lightsim measure)."
)
_VERY_WHITE = (
    "A luminous R-infinity above {most:g} is rare without fluorescent brightener, which reflects no more light but "
    "glows. Try readings with your own flash (lightsim measure)."
)


@dataclass(frozen=True)
class Coefficients:
    """What the stuff of a paper does to light, whatever its grammage [m2/kg]."""

    scattering: float
    absorption: float

    @property
    def reflectivity(self) -> float:
        """R-infinity: reflectance of a pile so thick that more sheets change nothing."""
        s, k = self.scattering, self.absorption
        return s / (s + k + math.sqrt(k * (k + 2 * s))) if s > 0 else 0.0


@dataclass(frozen=True)
class ThroughAndBack:
    """Shares of the light that a sheet passes on and sends back, over black."""

    transmittance: float
    reflectance: float


def two_streams(*, scattering: float, absorption: float) -> ThroughAndBack:
    """What a layer passes on and sends back; scattering and absorption: coefficient times amount, no unit.

    The amount is a grammage or a thickness, whichever the coefficient is per. Holds without absorption
    (T = 1 / (1 + scattering)), without scattering, and for layers of any thickness.
    Raises ValueError for negative numbers.
    Source: Kubelka (1948): T = b / (a sinh bS + b cosh bS), R = sinh bS / (a sinh bS + b cosh bS), a = 1 + K/S,
    b = sqrt(a^2 - 1); here divided through by b exp(bS), so that nothing overflows or cancels.
    """
    s = number("scattering", scattering, least=0, most=math.inf, example=4)
    k = number("absorption", absorption, least=0, most=math.inf, example=0.02)
    depth = math.sqrt(k * (k + 2 * s))
    faded = math.exp(-2 * depth)
    slope = -math.expm1(-2 * depth) / depth if depth > 0 else 2.0  # 2 sinh(x) exp(-x) / x
    whole = (s + k) * slope + 1 + faded
    return ThroughAndBack(transmittance=2 * math.exp(-depth) / whole, reflectance=s * slope / whole)


def coefficients(*, over_black: float, reflectivity: float, grammage: float) -> Coefficients:
    """Scattering and absorption coefficient from the reflectance of one sheet over black and of a thick pile.

    over_black: R0, one sheet over a black cavity. reflectivity: R-infinity, luminous. grammage: g/m2.
    Raises ValueError where R0 exceeds R-infinity or equals it (an opaque sheet does not tell).
    Source: ISO 9416:2017, s = ln[(1 - R0 R) R / (R - R0)] / (w (1/R - R)), k = s (1 - R)^2 / (2 R), R for R-infinity;
    written with ln(1 + x), which also holds for R = 1.
    """
    r0, r, weight = _pair(over_black, reflectivity), _reflectivity(reflectivity), _grammage("grammage", grammage) / 1000
    if r0 == r:
        raise ValueError(
            f"over_black = {r0:g} equals reflectivity = {r:g}: a sheet that hides everything behind it does not tell "
            "how much it scatters. Allowed: over_black below reflectivity. Try figures of a thinner sheet of the "
            "same paper"
        )
    if r0 == 0:
        raise ValueError(
            "over_black = 0: a sheet that sends nothing back has no scattering to reckon with. "
            "Allowed: above 0. Try over_black = 0.03, which is black card"
        )
    less = 1 - r * r
    power = math.log1p(r0 * less / (r - r0)) * r / less if less > 1e-12 else r0 / (1 - r0)
    return Coefficients(scattering=power / weight, absorption=power / weight * (1 - r) ** 2 / (2 * r))


def at_grammage(stuff: Coefficients, *, grammage: float) -> ThroughAndBack:
    """Transmittance and reflectance (over black) of so much of this paper; grammage: g/m2."""
    weight = _grammage("grammage", grammage) / 1000
    return two_streams(scattering=stuff.scattering * weight, absorption=stuff.absorption * weight)


def opacity(*, over_black: float, reflectivity: float) -> float:
    """Opacity of ISO 2471: luminance factor of one sheet over black, over that of a thick pile. Not 1 - T.

    Raises ValueError where one sheet over black would reflect more than a thick pile.
    """
    return _pair(over_black, reflectivity) / reflectivity


def transmittance(*, over_black: float, reflectivity: float) -> float:
    """Transmittance from R0 and R-infinity: T^2 = (R - R0)(1/R - R0), R for R-infinity.

    Raises ValueError where R0 exceeds R-infinity.
    Source: ISO 22891 / DIN 53147 with a pile of the same paper as the white backing.
    """
    r0, r = _pair(over_black, reflectivity), reflectivity
    return math.sqrt((r - r0) * (1 / r - r0))


def over_two_backings(*, over_white: float, over_black: float, white: float, black: float = 0.0) -> ThroughAndBack:
    """What a sheet passes on and sends back, from its reflectance over a white and over a black backing.

    white, black: reflectances of the bare backings; black 0 is a cavity, black card is about 0.04.
    Raises ValueError where the readings cannot be of one sheet.
    Source: ISO 22891 / DIN 53147, T^2 = (Rw - R0)(1/Rb - R0); a backing that is not quite black: the same two
    equations R = R0 + T^2 Rb / (1 - R0 Rb), in which R0 turns out to be linear (derived here).
    """
    rw, rk = share("over_white", over_white, example=0.74), share("over_black", over_black, example=0.62)
    w, k = share("white", white, example=0.88), share("black", black, example=0.04)
    if k >= w:
        raise ValueError(f"black = {k:g}, white = {w:g}. Allowed: black below white. Try swapping them")
    if rk > rw:
        raise ValueError(
            f"over_black = {rk:g} is above over_white = {rw:g}: no sheet looks lighter over black. "
            "Allowed: over_black at most over_white. Try swapping them, or reading again"
        )
    r0 = (rk - rw * k / w) / (1 + k * (rk - 1 / w - rw))
    squared = (rw - r0) * (1 / w - r0)
    # Rounding alone may take a sheet of no transmittance or no reflectance a hair below zero.
    passed = math.sqrt(max(squared, 0.0))
    if r0 < -1e-9 or passed + r0 > 1 + 1e-9:
        raise ValueError(
            f"over_white = {rw:g} and over_black = {rk:g} on white = {w:g} and black = {k:g} would make a sheet of "
            f"transmittance {passed:.2f} and reflectance {r0:.2f}, and no such sheet is. Allowed: a sum of at most 1. "
            "Try reading again, with the sheet flat on the backing"
        )
    return ThroughAndBack(transmittance=min(passed, 1.0), reflectance=max(r0, 0.0))


def over_backing(*, transmittance: float, reflectance: float, backing: float) -> float:
    """Reflectance of a sheet laid on a backing: R + T^2 Rb / (1 - R Rb), the inverse of over_two_backings."""
    t, r = share("transmittance", transmittance, example=0.25), share("reflectance", reflectance, example=0.62)
    b = share("backing", backing, example=0.88)
    if t + r > 1 + 1e-12:
        raise ValueError(
            f"transmittance = {t:g} and reflectance = {r:g} sum to {t + r:g}. Allowed: at most 1. "
            f"Try reflectance = {1 - t:g}"
        )
    return r if r * b == 1 else r + t * t * b / (1 - r * b)


def reflectivity_of_lightness(*, lightness: float) -> float:
    """Luminous R-infinity of a thick pile from its CIELAB lightness L*, 0 to 100, which many data sheets print.

    Source: CIE 15 (L* = 116 Y^(1/3) - 16, from memory), for L* above 8.
    """
    value = number("lightness", lightness, least=8, most=100, example=94)
    return float(((value + 16) / 116) ** 3)


def warnings_of_paper(*, reflectivity: Given, brightened: bool = False) -> tuple[str, ...]:
    """Why the numbers of this paper may mislead, as sentences for the screen; empty where nothing speaks against."""
    most = ends("reflectivity", reflectivity, lambda _, each: _reflectivity(each))[1]
    if brightened:
        return (_BRIGHTENED,)
    return (_VERY_WHITE.format(most=_WHITEST),) if most > _WHITEST else ()


def paper(
    *,
    opacity: Given,
    reflectivity: Given | None = None,
    grammage: float,
    wanted_grammage: float | None = None,
    iso_brightness: float | None = None,
    brightened: bool = False,
) -> Sheet:
    """A paper from its data sheet; its diffuse transmittance and reflectance, with the range that follows.

    opacity: ISO 2471, as a share, of the sheet of this grammage [g/m2]; a number or (least, likely, most).
    reflectivity: luminous R-infinity of a thick pile, as a share (0.82 to 0.92 for white copier paper, from memory);
        a number or (least, likely, most). ISO brightness is another thing and refused.
    wanted_grammage: g/m2 of the sheet you will use, where it is another weight of the same paper.
    brightened: whether it holds fluorescent brightener; see warnings_of_paper, whose text goes into the source of the
        transmittance too.
    The range is what the ends of opacity and reflectivity span; that diffuse light gets less through than a beam
    does (see above) is not in it.
    Raises ValueError in words for figures no paper has, and for ISO brightness in place of luminous R-infinity.
    """
    if iso_brightness is not None:
        raise ValueError(
            f"iso_brightness = {iso_brightness!r}: ISO brightness (ISO 2470-1) is taken in blue light about 457 nm, "
            "where brightener glows; a camera weighs all visible light, so it is not R-infinity. Allowed: "
            "reflectivity, the luminance factor Y of a thick pile, in its place. Try leaving iso_brightness out, and "
            "reflectivity = (0.82, 0.87, 0.92) for white copier paper; above 100 % it means fluorescent brightener, "
            "brightened = True"
        )
    if reflectivity is None:
        raise ValueError(
            "reflectivity is missing: opacity alone does not give a transmittance. Allowed: luminous R-infinity of a "
            "thick pile, from 0.05 to 1. Try reflectivity = (0.82, 0.87, 0.92) for white copier paper"
        )
    contrast = ends("opacity", opacity, lambda name, each: share(name, each, least=0.01, example=0.9))
    pile = ends("reflectivity", reflectivity, lambda _, each: _reflectivity(each))
    tested = _grammage("grammage", grammage)
    wanted = tested if wanted_grammage is None else _grammage("wanted_grammage", wanted_grammage)
    if wanted != tested and contrast[2] == 1:
        raise ValueError(
            "opacity = 1: a sheet that hides everything behind it does not tell what another grammage lets through. "
            "Allowed: below 1 with wanted_grammage. Try the opacity of a thinner sheet of the same paper"
        )

    def numbers(*, opacity: float, reflectivity: float) -> Numbers:
        r0 = opacity * reflectivity
        if wanted == tested:
            found = ThroughAndBack(transmittance(over_black=r0, reflectivity=reflectivity), r0)
        else:
            stuff = coefficients(over_black=r0, reflectivity=reflectivity, grammage=tested)
            found = at_grammage(stuff, grammage=wanted)
        return within_energy({"diffuse_transmittance": found.transmittance, "diffuse_reflectance": found.reflectance})

    source = (
        f"Kubelka-Munk from opacity {_told(contrast)} (ISO 2471) at {tested:g} g/m2 and luminous R-infinity "
        f"{_told(pile)}"
    )
    sheet = sheet_with_range(
        value=numbers(opacity=contrast[1], reflectivity=pile[1]),
        others=corners(numbers, opacity=contrast, reflectivity=pile),
        known={"diffuse_transmittance": "derived", "diffuse_reflectance": "derived"},
        source=source,
        about=f"paper of {wanted:g} g/m2",
    )
    warned = warnings_of_paper(reflectivity=reflectivity, brightened=brightened)
    if not warned:
        return sheet
    passed = sheet.origins["diffuse_transmittance"]
    passed = passed.model_copy(update={"source": ". ".join((source, *warned)).rstrip(". ")})
    return sheet.model_copy(update={"origins": {**sheet.origins, "diffuse_transmittance": passed}})


def _told(of: tuple[float, float, float]) -> str:
    return f"{of[1]:.4g}" if of[0] == of[2] else f"{of[1]:.4g} ({of[0]:.4g} to {of[2]:.4g})"


def _pair(over_black: float, reflectivity: float) -> float:
    """R0, checked against R-infinity."""
    r0, r = share("over_black", over_black, example=0.8), _reflectivity(reflectivity)
    if r0 > r:
        raise ValueError(
            f"over_black = {r0:g} is above reflectivity = {r:g}: one sheet over black cannot send back more than a "
            "thick pile. Allowed: over_black at most reflectivity. Try swapping them"
        )
    return r0


def _reflectivity(value: float) -> float:
    numeric = isinstance(value, int | float) and not isinstance(value, bool)
    if numeric and 100 < value < 250:
        raise ValueError(
            f"reflectivity = {value:g} looks like a CIE whiteness, which counts blueness and is no share of the light. "
            "Allowed: luminous R-infinity, a share from 0.01 to 1. Try the data sheet's luminance factor Y, or its L* "
            "(reflectivity_of_lightness)"
        )
    return share("reflectivity", value, least=0.01, example=0.87)


def _grammage(name: str, value: float) -> float:
    return number(name, value, least=1, most=2000, unit="g/m2", example=80)
