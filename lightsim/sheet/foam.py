"""Foam and opal plastic: thickness, scattering and absorption to what a sheet of it passes on and sends back.

Which result of the slab (lightsim.sheet.slab) feeds which number of a Sheet:
- straight: exp(-(scattering + absorption) thickness), the beam at normal incidence;
- diffuse_transmittance: the rest of what the slab passes of a beam at normal incidence; diffuse_reflectance: what it
  sends back of that beam. A Sheet's shares are those at normal incidence, and a flash aimed at a sheet is near that.
- Light from all around gets less through a thick slab (in the limit four fifths; a Sheet has one number for both). So
  the range of both numbers also covers what they would be if the sheet were to be right for Lambertian light.
A foam has no surface as a whole: refractive_index 1. A plastic sheet has two; what they reflect is its gloss.
What is scattered counts as diffuse, though a thin foam sends part of it on in a lobe about its own direction; where
that lobe is much narrower than a thick foam's, the source of the sheet says so.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from lightsim.sheet.given import Given, Numbers, corners, ends, number, share, sheet_with_range, within_energy
from lightsim.sheet.sheet import How, Sheet
from lightsim.sheet.slab import THICKEST, Slab, slab

Light = Literal["beam", "lambertian"]
_NEXT_TO_NOTHING = 1e-6
_STILL_NARROW = 45.0  # degrees; scattered light of a thick foam falls to half at 50
# Bubbles turn light little. Assumed: no measurement of packing foam was found.
FOAM_ANISOTROPY = (0.5, 0.8, 0.95)


@dataclass(frozen=True)
class Stuff:
    """What a foam or a plastic does to light, whatever its thickness. scattering, absorption: [1/mm]."""

    scattering: float
    absorption: float = 0.0
    anisotropy: float = 0.0
    refractive_index: float = 1.0


def stuff_from_transmittance(
    *,
    transmittance: float,
    thickness: float,
    absorption: float = 0.0,
    anisotropy: float = FOAM_ANISOTROPY[1],
    refractive_index: float = 1.0,
    light: Light = "beam",
) -> Stuff:
    """The scattering coefficient that makes a slab of this thickness [mm] pass this share; the rest is as given.

    absorption: [1/mm]; white foam and PTFE have next to none. light: what was measured with, "beam" (a lamp far away,
    straight on) or "lambertian" (light from all around). Straight-through light counts as passed.
    Raises ValueError where no scattering does it.
    """
    from scipy.optimize import brentq

    wanted = share("transmittance", transmittance, least=1e-4, example=0.55)
    depth = number("thickness", thickness, least=0.001, most=1000, unit="mm", example=2)
    if light not in ("beam", "lambertian"):
        raise ValueError(f"light = {light!r}. Allowed: 'beam' or 'lambertian'. Try light = 'beam'")

    def passed(scattering: float) -> float:
        found = slab(
            thickness=depth,
            scattering=scattering,
            absorption=absorption,
            anisotropy=anisotropy,
            refractive_index=refractive_index,
        )
        return found.beam_transmittance if light == "beam" else found.lambertian_transmittance

    densest = 0.999 * min(THICKEST / depth, 1e4)
    most, least = passed(0.0), passed(densest)
    if not least < wanted < most:
        raise ValueError(
            f"transmittance = {wanted:g} of {depth:g} mm: with absorption = {absorption:g} 1/mm and refractive_index = "
            f"{refractive_index:g} a slab passes between {least:.2g} and {most:.4g} of the light. Allowed: in between. "
            "Try less absorption, or reading again"
        )
    found = brentq(
        lambda power: math.log(max(passed(math.exp(power)), 1e-300) / wanted),
        math.log(1e-9 / depth),
        math.log(densest),
        xtol=1e-10,
    )
    return Stuff(math.exp(found), absorption, anisotropy, refractive_index)


def foam(
    *,
    thickness: Given,
    scattering: Given,
    absorption: Given = 0.0,
    anisotropy: Given = FOAM_ANISOTROPY,
    refractive_index: float = 1.0,
) -> Sheet:
    """A sheet of foam or opal plastic from its coefficients, with the range that follows (see the top of the file).

    As in slab; each but refractive_index a number or (least, likely, most). The anisotropy is an assumption unless
    you know better.
    Raises ValueError in words outside the ranges of slab.
    """
    mm = ends("thickness", thickness, lambda n, each: number(n, each, least=0, most=1000, unit="mm", example=2))
    s = ends("scattering", scattering, lambda n, each: number(n, each, least=0, most=1e4, unit="1/mm", example=5))
    k = ends("absorption", absorption, lambda n, each: number(n, each, least=0, most=1e4, unit="1/mm", example=0.001))
    g = ends("anisotropy", anisotropy, _anisotropy)

    def found(*, thickness: float, scattering: float, absorption: float, anisotropy: float) -> tuple[Slab, float]:
        of = Stuff(scattering, absorption, anisotropy, refractive_index)
        return _slab_of(of, thickness), thickness

    return _sheet(
        found,
        {"thickness": mm, "scattering": s, "absorption": k, "anisotropy": g},
        source=f"adding-doubling from scattering {s[1]:g}/mm, absorption {k[1]:g}/mm, anisotropy {g[1]:g}",
    )


def foam_from_transmittance(
    *,
    transmittance: Given,
    measured_thickness: float,
    thickness: float | None = None,
    absorption: Given = 0.0,
    anisotropy: Given = FOAM_ANISOTROPY,
    refractive_index: float = 1.0,
    light: Light = "beam",
) -> Sheet:
    """A sheet of foam of any thickness from one reading: the transmittance of one thickness. With range.

    transmittance, absorption, anisotropy: a number or (least, likely, most); as in stuff_from_transmittance.
    measured_thickness, thickness: mm; the second is the sheet you will use, the measured one if left out.
    How much goes straight through hangs on the anisotropy alone, which a transmittance does not tell: look through
    the foam at a bare bulb. Where you see none of it, straight is 0.
    Raises ValueError where no foam has these figures.
    """
    number("measured_thickness", measured_thickness, least=0.001, most=1000, unit="mm", example=2)
    wanted = measured_thickness if thickness is None else thickness
    passed = ends("transmittance", transmittance, lambda n, each: share(n, each, least=1e-4, example=0.55))
    k = ends("absorption", absorption, lambda n, each: number(n, each, least=0, most=1e4, unit="1/mm", example=0.001))
    g = ends("anisotropy", anisotropy, _anisotropy)

    def found(*, transmittance: float, absorption: float, anisotropy: float) -> tuple[Slab, float]:
        of = stuff_from_transmittance(
            transmittance=transmittance,
            thickness=measured_thickness,
            absorption=absorption,
            anisotropy=anisotropy,
            refractive_index=refractive_index,
            light=light,
        )
        return _slab_of(of, wanted), wanted

    return _sheet(
        found,
        {"transmittance": passed, "absorption": k, "anisotropy": g},
        source=f"adding-doubling from transmittance {passed[1]:g} of {measured_thickness:g} mm ({light}), "
        f"absorption {k[1]:g}/mm, anisotropy {g[1]:g}",
    )


def _slab_of(of: Stuff, thickness: float) -> Slab:
    return slab(
        thickness=thickness,
        scattering=of.scattering,
        absorption=of.absorption,
        anisotropy=of.anisotropy,
        refractive_index=of.refractive_index,
    )


def _sheet(
    found: Callable[..., tuple[Slab, float]], given: dict[str, tuple[float, float, float]], *, source: str
) -> Sheet:
    likely, thickness = found(**{name: each[1] for name, each in given.items()})
    others: list[Numbers] = []
    for each, _ in corners(found, **given):
        others += [_numbers(each, lambertian=False), _numbers(each, lambertian=True)]
    others.append(_numbers(likely, lambertian=True))
    narrow = 0 < likely.half_value_angle < _STILL_NARROW
    note = (
        f". Its scattered light is narrower than a diffuse sheet's (half at {likely.half_value_angle:.0f} degrees): "
        "the head shows through more than these numbers say. Try readings of a spot (lightsim measure)"
    )
    value = _numbers(likely, lambertian=False)
    known: dict[str, How | None] = dict.fromkeys(value, "derived")
    if given["anisotropy"] == FOAM_ANISOTROPY:
        known["straight"] = "assumed"  # it hangs on the anisotropy alone
    return sheet_with_range(
        value=value,
        others=others,
        known=known,
        source=source + (note if narrow else ""),
        about=f"{thickness:g} mm thick",
    )


def _numbers(of: Slab, *, lambertian: bool) -> Numbers:
    """The numbers of a Sheet that does to a beam, or else to Lambertian light, what the slab does."""
    passed, back = of.beam_transmittance - of.straight, of.beam_reflectance - of.glossy
    if lambertian:
        passed = of.lambertian_transmittance - of.lambertian_straight
        back = of.lambertian_reflectance - of.lambertian_glossy
        # A Sheet lets its shares grow at an angle with the light that neither passes straight nor glances off.
        met = 1 - of.straight - of.glossy
        more = (1 - of.lambertian_straight - of.lambertian_glossy) / met if met > 1e-9 else 1.0
        passed, back = passed / more, back / more
    # A straight share that nothing shows counts as diffuse: it would cost every ray of the engine a second look.
    straight = of.straight if of.straight >= _NEXT_TO_NOTHING else 0.0
    passed += of.straight - straight
    found: dict[str, float | tuple[float, float]] = {"straight": straight}
    found["diffuse_transmittance"] = min(max(passed, 0.0), 1 - of.straight - of.glossy)
    found["diffuse_reflectance"] = min(max(back, 0.0), 1.0)
    if of.glossy > 0:
        found["glossy_reflectance"] = of.glossy
    return within_energy(found)


def _anisotropy(name: str, value: float) -> float:
    return number(name, value, least=-0.5, most=0.95, example=0.8)
