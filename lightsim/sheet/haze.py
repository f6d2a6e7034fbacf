"""Clear and frosted film from its data sheet: total transmittance and haze; and what a lobe's width is called.

Haze is the share of the transmitted light that is turned by more than 2.5 degrees. It says how much light leaves the
straight line, not how far: a weak diffuser of half-value angle 10 degrees already reads 95 %. So a film needs its
half-value angle too, and two angles go by that name: here, and in a Sheet, it is that of *intensity* (candela, what
falls on a far wall); the CIE's is that of *luminance* (how bright the sheet looks), which a Lambertian sheet has not.

Sources: ASTM D1003-13 (scope and 30 % opened; 2.5 degrees second-hand), ISO 14782; CIE S 017:2020, 17-24-096 and
17-24-097 (diffusion factor, half-value angle; opened). Formulae of the model's lobe: derived here.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from lightsim.sheet.given import Given, Numbers, corners, ends, number, share, sheet_with_range, within_energy
from lightsim.sheet.lobes import narrowness
from lightsim.sheet.sheet import How, Sheet, both

Profile = Callable[[NDArray[np.float64]], NDArray[np.float64]]  # luminance at angles [degrees] off the normal, (n,)

STRAIGHT_WITHIN = 2.5  # degrees, ASTM D1003: what is turned less counts as straight
SCOPE = 0.30  # greatest haze that ASTM D1003 covers
_FLAT = 1e-12  # 1 / (2 sigma^2) below that is what rounding leaves of a Lambertian lobe
_LAMBERTIAN = 60.0  # degrees at which the intensity of a Lambertian sheet is half
# Two hazemeters differ by about a point of haze within the standard's scope (from memory; assumed here).
_WITHIN_SCOPE = 0.01
# Beyond it the sphere's ports, not the film, set part of the reading: what is turned far misses the port, what is
# turned little fills the light trap. No standard says how far that goes; a fifth of what lies beyond is assumed, so
# that a reading of 90 % leaves the straight-through share open between none and about twice what it says.
_BEYOND_SCOPE = 0.20
# Panels for quadrature over the angle [degrees]: narrow ones in the middle, where a weak diffuser has all its light.
_EDGES = np.array([0, 0.02, 0.05, 0.1, 0.2, 0.4, 0.8, 1.5, STRAIGHT_WITHIN, 4, 6, 10, 15, 25, 40, 60, 80, 90])


def haze(luminance: Profile) -> float:
    """Haze of a sheet whose transmitted light has this profile of luminance, 0 to 1, straight-through light apart.

    luminance: function of angles off the normal [degrees], (n,), at normal incidence; any scale.
    Raises ValueError where it is negative, not finite, or nothing at all.
    """
    node, weight = np.polynomial.legendre.leggauss(24)
    width = np.diff(_EDGES)[:, None]
    angle = _EDGES[:-1, None] + width * (node + 1) / 2
    radians = np.radians(angle)
    flux = (_looked_up(luminance, angle.ravel()).reshape(angle.shape) * np.sin(2 * radians) * weight * width).sum(
        axis=1
    )
    if flux.sum() <= 0:
        raise ValueError(
            "the luminance is 0 at every angle. Allowed: above 0 somewhere from 0 to 90 degrees. "
            "Try a function of the angle in degrees"
        )
    return float(flux[_EDGES[:-1] >= STRAIGHT_WITHIN].sum() / flux.sum())


def half_intensity_angle(luminance: Profile) -> float:
    """Angle off the normal [degrees] at which the intensity first falls to half of that at 0; 60 if Lambertian.

    luminance: as for haze; the intensity is luminance times cosine. This is the half_value_angle of a Sheet.
    Raises ValueError where the profile is dark at 0.
    """
    found = _half_of(lambda angle: _looked_up(luminance, angle) * np.cos(np.radians(angle)))
    return 90.0 if found is None else found  # never None: at 90 degrees the intensity is 0


def half_luminance_angle(luminance: Profile) -> float | None:
    """Half-value angle of CIE S 017, 17-24-097 [degrees]: where the luminance first falls to half of that at 0.

    None where it never does, as in a Lambertian sheet. Raises ValueError where the profile is dark at 0.
    """
    return _half_of(lambda angle: _looked_up(luminance, angle))


def diffusion_factor(luminance: Profile) -> float:
    """Diffusion factor of CIE S 017, 17-24-096: mean luminance at 20 and 70 degrees over that at 5; Lambertian: 1.

    Raises ValueError where the profile is dark at 5 degrees.
    """
    near, middle, far = _looked_up(luminance, np.array([5.0, 20.0, 70.0]))
    if near <= 0:
        raise ValueError(
            "the luminance at 5 degrees is 0, by which the diffusion factor divides. Allowed: above 0. "
            "Try the half-value angle instead"
        )
    return float((middle + far) / 2 / near)


def lobe_within(*, angle: float, half_value_angle: float) -> float:
    """Share of a Sheet's forward lobe that leaves within an angle of straight on, at normal incidence, 0 to 1.

    angle, half_value_angle (of intensity): degrees.
    """
    sine = math.sin(math.radians(number("angle", angle, least=0, most=90, unit="degrees", example=2.5))) ** 2
    narrow = narrowness(_half_value_angle(half_value_angle))
    if math.isinf(narrow):
        return 1.0
    return sine if narrow < _FLAT else math.expm1(-narrow * sine) / math.expm1(-narrow)


def half_value_angle_of(*, variance: float) -> float:
    """Half-value angle of intensity [degrees] of the lobe cos exp(-sin^2 / (2 variance)); infinite: Lambertian, 60.

    Raises ValueError for a negative variance.
    """
    if math.isinf(variance) and variance > 0:
        return _LAMBERTIAN
    number("variance", variance, least=0, most=math.inf, example=0.1)
    low, high = 0.0, _LAMBERTIAN
    for _ in range(60):  # halves the interval to rounding
        middle = (low + high) / 2
        low, high = (middle, high) if 2 * variance * narrowness(middle) > 1 else (low, middle)
    return (low + high) / 2


def variance_of(half_value_angle: float) -> float:
    """sigma^2 of a Sheet's forward lobe, in direction cosines; infinite where it is Lambertian."""
    narrow = narrowness(_half_value_angle(half_value_angle))
    return math.inf if narrow < _FLAT else 0.5 / narrow


def luminance_from_intensity_angle(half_value_angle: float) -> float | None:
    """The CIE's half-value angle (of luminance) [degrees] of a Sheet's lobe, whose own is that of intensity.

    None where the luminance falls to half nowhere: above 45 degrees of intensity.
    """
    squared = 2 * variance_of(half_value_angle) * math.log(2)
    return None if squared > 1 else math.degrees(math.asin(math.sqrt(squared)))


def intensity_from_luminance_angle(angle: float) -> float:
    """The half_value_angle (of intensity) of a Sheet from the CIE's half-value angle of luminance, both in degrees.

    Raises ValueError outside 0 to 90.
    """
    number("angle", angle, least=0, most=90, unit="degrees", example=20)
    return half_value_angle_of(variance=math.sin(math.radians(angle)) ** 2 / (2 * math.log(2)))


def haze_range(value: float) -> tuple[float, float]:
    """What a stated haze may be at least and at most.

    A point of haze either way within the scope of ASTM D1003 (30 %); outside it a fifth of what lies beyond in
    addition. Both are assumed: no published figure covers films outside the scope, and a reading there depends on
    the instrument. Measure such a film (lightsim measure).
    """
    stated = _haze(value)
    half = _WITHIN_SCOPE + _BEYOND_SCOPE * max(stated - SCOPE, 0.0)
    return max(stated - half, 0.0), min(stated + half, 1.0)


def straight_and_scattered(
    *, total_transmittance: float, haze: float, half_value_angle: float = _LAMBERTIAN
) -> tuple[float, float]:
    """Straight-through share and scattered share of a film, at normal incidence.

    What scatters by less than 2.5 degrees counts as straight in haze and is given back to the scattered share here.
    half_value_angle: of intensity, of the scattered light, degrees; 60 is Lambertian.
    Raises ValueError where a lobe of that width cannot read so much haze.
    """
    total, stated = share("total_transmittance", total_transmittance, example=0.87), _haze(haze)
    most = _most_haze(half_value_angle)
    if stated > most:
        raise ValueError(
            f"haze = {stated:g}: light scattered with a half-value angle of {half_value_angle:g} degrees reads "
            f"{most:.4f} at most, the rest leaves within 2.5 degrees. Allowed: haze up to {most:.4f} at that width. "
            f"Try a wider half_value_angle, or haze = {math.floor(most * 1e4) / 1e4:g}"
        )
    scattered = min(total * stated / most, total) if most > 0 else 0.0
    return total - scattered, scattered


def film(
    *,
    total_transmittance: Given,
    haze: Given,
    half_value_angle: Given = _LAMBERTIAN,
    reflectance: Given | None = None,
    glossy_reflectance: float = 0.0,
    roughness: float = 0.15,
) -> Sheet:
    """A film or plastic sheet from its data sheet, with the range that follows; each number or (least, likely, most).

    total_transmittance, haze: shares, ASTM D1003 or ISO 14782. Haze has the range of haze_range at least.
    half_value_angle: of intensity, of the scattered light, degrees. Haze does not tell it; where you do not know it,
        60 (Lambertian) makes the straight-through share as great as the haze allows.
    reflectance: sent back diffusely; if left out, what neither passes nor glances off, taken to be between half of
        that and all of it (the rest absorbed; assumed).
    glossy_reflectance, roughness: of a shiny surface, as in a Sheet.
    Raises ValueError in words for figures no film has.
    """
    width = ends("half_value_angle", half_value_angle, lambda _, each: _half_value_angle(each))
    total = ends("total_transmittance", total_transmittance, lambda name, each: share(name, each, example=0.87))
    stated = ends("haze", haze, lambda _, each: _haze(each))
    gloss = number("glossy_reflectance", glossy_reflectance, least=0, most=0.3, example=0.04)
    left = 1 - total[1] - gloss
    if left < 0:
        raise ValueError(
            f"glossy_reflectance = {gloss:g} and total_transmittance = {total[1]:g} sum to {1 - left:g}. "
            f"Allowed: at most 1. Try glossy_reflectance = {max(1 - total[1], 0):g}"
        )
    back = (left / 2, left, left) if reflectance is None else ends("reflectance", reflectance, _back)
    if back[1] > left + 1e-12:
        raise ValueError(
            f"reflectance = {back[1]:g}, total_transmittance = {total[1]:g} and glossy_reflectance = {gloss:g} sum to "
            f"{back[1] + 1 - left:g}. Allowed: at most 1. Try reflectance = {left:g}"
        )
    # The stated haze must be one that such a lobe reads; only the ends of its range are capped, below.
    straight_and_scattered(total_transmittance=total[1], haze=stated[1], half_value_angle=width[1])
    least, most = haze_range(stated[1])
    wide = (min(stated[0], least), stated[1], max(stated[2], most))
    # The width of a lobe is a number of its own in a Sheet; where it may be Lambertian, the light is diffuse.
    lobe = "diffuse_transmittance" if width[1] == _LAMBERTIAN else "forward_transmittance"

    def numbers(*, total: float, haze: float, width: float, back: float) -> Numbers:
        capped = min(haze, _most_haze(width))
        straight, scattered = straight_and_scattered(total_transmittance=total, haze=capped, half_value_angle=width)
        found = {"straight": straight, lobe: scattered, "diffuse_reflectance": back, "glossy_reflectance": gloss}
        return within_energy(found) if total + gloss <= 1 else found

    likely = numbers(total=total[1], haze=stated[1], width=width[1], back=back[1])
    others = corners(numbers, total=total, haze=wide, width=width, back=back)
    if lobe == "forward_transmittance":
        likely = {**likely, "half_value_angle": width[1]}
        others = [{**each, "half_value_angle": angle} for each in others for angle in (width[0], width[2])]
    known: dict[str, How | None] = {"straight": "derived", lobe: "derived"}
    if reflectance is None:
        known["diffuse_reflectance"] = "assumed"
    at_total = corners(numbers, total=(total[1],) * 3, haze=wide, width=width, back=back)
    beyond = "; beyond the scope of ASTM D1003 (30 %), so widened" if stated[1] > SCOPE else ""
    figures = f"total transmittance {total[1]:.4g}, haze {stated[1]:.4g}"
    sheet = sheet_with_range(
        value=likely,
        others=others,
        known=known,
        source=f"{figures}{beyond}; half-value angle {width[1]:.4g} degrees",
        fixed={"roughness": roughness},
    )
    return _parted(sheet, lobe, total, [both(each["straight"])[0] for each in (likely, *at_total)])


def _parted(sheet: Sheet, lobe: str, total: tuple[float, float, float], straight: Sequence[float]) -> Sheet:
    """The sheet with its straight and its scattered light against each other: their sum is known better than they are.

    straight: what it may be at the stated total. The scattered light holds the range of the total, where it has enough.
    """
    low, middle, high = total
    less, more = min(straight), max(straight)
    value = {"straight": sheet.straight, lobe: getattr(sheet, lobe)}
    holder, other = (lobe, "straight") if value[lobe] >= middle - low else ("straight", lobe)
    if other == lobe:
        less, more = middle - more, middle - less
    origins = dict(sheet.origins)
    for key, ends_of_key, against in (
        (holder, (value[holder] + low - middle, value[holder] + high - middle), ""),
        (other, (less, more), holder),
    ):
        down, up = max(min(ends_of_key[0], value[key]), 0.0), max(ends_of_key[1], value[key])
        spread = {"low": (down, down), "high": (up, up)} if down < up else {"low": None, "high": None}
        origins[key] = origins[key].model_copy(update={**spread, "against": against})
    return sheet.model_copy(update={"origins": origins})


def _most_haze(half_value_angle: float) -> float:
    """Haze of a sheet that scatters all it passes, with a lobe of this width."""
    return 1 - lobe_within(angle=STRAIGHT_WITHIN, half_value_angle=half_value_angle)


def _haze(value: float) -> float:
    return share("haze", value, example=0.3)


def _back(name: str, value: float) -> float:
    return share(name, value, example=0.1)


def _half_value_angle(value: float) -> float:
    return number("half_value_angle", value, least=0, most=_LAMBERTIAN, unit="degrees", example=20)


def _looked_up(luminance: Profile, angle: NDArray[np.float64]) -> NDArray[np.float64]:
    """The profile at these angles, checked."""
    found = np.broadcast_to(np.asarray(luminance(angle), float), angle.shape)
    if not np.isfinite(found).all() or (found < 0).any():
        raise ValueError(
            "the luminance is negative or no number at some angle. Allowed: 0 or more from 0 to 90 degrees. "
            "Try a function of the angle in degrees that takes and gives an array"
        )
    return found


def _half_of(curve: Profile) -> float | None:
    """Where a curve first falls to half of its value at 0 [degrees]; None where it does not."""
    start = float(curve(np.array([0.0]))[0])
    if start <= 0:
        raise ValueError(
            "the profile is dark straight ahead, so nothing is half of that. Allowed: above 0 at 0 degrees. "
            "Try haze or the diffusion factor instead"
        )
    angles = np.concatenate([[0.0], np.geomspace(1e-3, 90.0, 2000)])
    below = np.flatnonzero(curve(angles) <= start / 2)
    if len(below) == 0:
        return None
    low, high = float(angles[below[0] - 1]), float(angles[below[0]])
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (low, middle) if curve(np.array([middle]))[0] <= start / 2 else (middle, high)
    return (low + high) / 2
