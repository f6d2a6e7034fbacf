"""What a slab that scatters and absorbs does to light, by adding-doubling.

What a very thin layer does to light from each of some forty angles is known; two such layers make one of twice the
thickness, and so on. Angles are spread evenly about the normal, the scattering is Henyey-Greenstein's, faces reflect
by Fresnel's equations.

Sources: van de Hulst, Multiple Light Scattering (1980); Prahl, van Gemert & Welch, Appl. Opt. 32, 559 (1993);
Wiscombe, JQSRT 16, 637 (1976; the thin layer) and J. Atmos. Sci. 34, 1408 (1977; delta-M); all from memory.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from lightsim.sheet.fresnel import fresnel
from lightsim.sheet.given import number

Matrix = NDArray[np.float64]
THICKEST = 1e5  # scattering times thickness, where rounding comes to half a per cent of what passes
_ANGLES = 40  # on one side of the slab, without faces
_ANGLES_WITH_FACES = 32  # on either side of the critical angle
# Optical depth of the first layer. Its error goes with the square and is below that of the angles; a thinner one takes
# more doublings, whose rounding shows in slabs that pass next to nothing.
_THIN = 1e-4


@dataclass(frozen=True)
class Slab:
    """What a slab does to a beam at normal incidence and to Lambertian light: shares of what falls on it."""

    straight: float  # of the beam, unscattered
    glossy: float  # of the beam, reflected by the faces without being scattered
    beam_transmittance: float  # of the beam, straight included
    beam_reflectance: float  # of the beam, glossy included
    lambertian_straight: float
    lambertian_glossy: float
    lambertian_transmittance: float
    lambertian_reflectance: float
    half_value_angle: float  # degrees, of intensity: of the beam's light that was scattered and passed; 0 if none


def slab(
    *,
    thickness: float,
    scattering: float,
    absorption: float = 0.0,
    anisotropy: float = 0.0,
    refractive_index: float = 1.0,
) -> Slab:
    """Reflection and transmission of a slab between air, by adding-doubling.

    thickness: mm. scattering, absorption: coefficients [1/mm], shares of light lost a mm on the way through.
    anisotropy: mean cosine of one turn, -0.5 to 0.95: 0 evenly to all sides, 0.8 mostly forward.
    refractive_index: of the stuff; 1 for foam, about 1.49 for acrylic; above 1 its faces reflect (Fresnel).
    Raises ValueError in words outside these ranges.
    """
    depth_mm = number("thickness", thickness, least=0, most=1000, unit="mm", example=2)
    s = number("scattering", scattering, least=0, most=1e4, unit="1/mm", example=5)
    k = number("absorption", absorption, least=0, most=1e4, unit="1/mm", example=0.001)
    g = number("anisotropy", anisotropy, least=-0.5, most=0.95, example=0.8)
    index = number("refractive_index", refractive_index, least=1, most=2, example=1.49)
    number("scattering times thickness", s * depth_mm, least=0, most=THICKEST, example=100)
    depth = (s + k) * depth_mm
    cosine, weight = _angles(index)
    # Delta-M: the part of a turn too narrow for these angles counts as no turn at all.
    orders = len(cosine) if index == 1 else len(cosine) // 2
    unturned = g**orders
    albedo = s / (s + k) if s + k > 0 else 0.0
    kept = 1 - albedo * unturned
    back, through = _doubled(
        cosine, weight, depth=depth * kept, albedo=albedo * (1 - unturned) / kept, turns=_turns(g, orders)
    )
    faces = fresnel(refractive_index=1 / index, cosine=cosine) if index > 1 else np.zeros_like(cosine)
    glossy, straight = _unscattered(depth, faces, cosine)
    r, t = _between_faces(back, through, faces)
    flux = 2 * cosine * weight
    # Outside, Lambertian light comes from inside the critical angle alone, and n^2 times denser there (Snell).
    outside = np.where(faces < 1, index**2 * flux, 0.0)
    total_r, total_t = (_flux_out(matrix, flux) for matrix in (r, t))
    return Slab(
        straight=float(straight[-1]),
        glossy=float(glossy[-1]),
        beam_transmittance=float(total_t[-1]),
        beam_reflectance=float(total_r[-1] + faces[-1]),
        lambertian_straight=float(outside @ straight),
        lambertian_glossy=float(outside @ glossy),
        lambertian_transmittance=float(outside @ total_t),
        lambertian_reflectance=float(outside @ (total_r + faces)),
        # In the matrices what delta-M leaves unturned passes with the unscattered light.
        half_value_angle=_width(
            cosine, t, unscattered=float(_unscattered(depth * kept, faces, cosine)[1][-1]), index=index
        ),
    )


def _width(cosine: Matrix, through: Matrix, *, unscattered: float, index: float) -> float:
    """Angle outside [degrees] at which the intensity of a beam's scattered light is half of that straight on."""
    radiance = through[:, -1].copy()
    radiance[-1] -= unscattered
    outside = np.sqrt(np.maximum(1 - index**2 * (1 - cosine**2), 0))
    intensity = (radiance * outside)[::-1]  # from straight on outwards
    angle = np.degrees(np.arccos(outside[::-1]))
    if intensity[0] <= 1e-12:
        return 0.0
    halves = np.flatnonzero(intensity <= intensity[0] / 2)
    if len(halves) == 0:
        return 90.0  # thin and turning light to all sides alike: as much to grazing angles as straight on
    below = int(halves[0])
    upper, lower = intensity[below - 1], intensity[below]
    return float(angle[below - 1] + (angle[below] - angle[below - 1]) * (upper - intensity[0] / 2) / (upper - lower))


def _flux_out(matrix: Matrix, flux: Matrix) -> Matrix:
    """Share of the flux from each angle that leaves at any, (n,), of a matrix that turns radiance into radiance."""
    return np.asarray(flux @ matrix / flux)


def _turns(anisotropy: float, orders: int) -> Matrix:
    """Legendre coefficients of one turn without its unturned part, (orders,)."""
    power = anisotropy ** np.arange(orders)
    last = anisotropy**orders
    return np.asarray((power - last) / (1 - last))


def _doubled(cosine: Matrix, weight: Matrix, *, depth: float, albedo: float, turns: Matrix) -> tuple[Matrix, Matrix]:
    """Reflection and transmission (n, n) of radiance by a slab of this optical depth, without faces."""
    one = np.eye(len(cosine))
    if depth == 0:
        return np.zeros_like(one), one
    times = max(math.ceil(math.log2(depth / _THIN)), 0)
    step = depth / 2**times / 2
    order = np.arange(len(turns))
    legendre = np.polynomial.legendre.legvander(cosine, len(turns) - 1)
    strength = albedo / 2 * (2 * order + 1) * turns
    onward = (legendre * strength) @ legendre.T * weight
    backward = (legendre * strength * (-1.0) ** order) @ legendre.T * weight
    # Wiscombe's diamond scheme: radiance in the layer is the mean of that at its faces.
    lost = one + step / cosine[:, None] * (one - onward)
    sent = step / cosine[:, None] * backward
    turned = np.linalg.solve(lost, sent)
    inverse = np.linalg.inv(lost - sent @ turned)
    back, through = 2 * turned @ inverse, 2 * inverse - one
    for _ in range(times):
        between = np.linalg.solve((one - back @ back).T, through.T).T  # T (1 - R R)^-1
        back, through = back + between @ back @ through, between @ through
    return back, through


def _between_faces(back: Matrix, through: Matrix, faces: Matrix) -> tuple[Matrix, Matrix]:
    """The same slab with faces that reflect these shares (n,) at the angles inside, lit and seen from outside.

    What the outer side of the front face reflects is not among it.
    """
    if not faces.any():
        return back, through
    one = np.eye(len(faces))
    # Without scattering nothing gets to the angles that the faces keep inside, whose sum would have no end.
    through = np.where(one * (faces == 1) * through < 1 - 1e-12, through, through * (1 - 1e-12))
    last = np.linalg.solve(one - back * faces, through)  # down at the last face, for light just inside the first
    first = back + through * faces @ last  # up at the first face, likewise
    inside = np.linalg.solve(one - faces[:, None] * first, np.diag(1 - faces))  # down there, all bounces summed
    leaving = (1 - faces)[:, None]
    return leaving * (first @ inside), leaving * (last @ inside)


def _unscattered(depth: float, faces: Matrix, cosine: Matrix) -> tuple[Matrix, Matrix]:
    """Share of light at these angles inside (n,) that is reflected, and that passes, without being scattered."""
    faded = np.exp(-depth / cosine)
    whole = np.where(faces < 1, 1 - (faces * faded) ** 2, 1.0)
    through = (1 - faces) ** 2 * faded / whole
    return faces + through * faces * faded, through


@lru_cache(maxsize=16)
def _angles(refractive_index: float) -> tuple[Matrix, Matrix]:
    """Cosines inside and weights on 0 to 1, the last of them 1; apart on either side of the critical angle."""
    if refractive_index == 1:
        return _radau(_ANGLES)
    critical = math.sqrt(1 - 1 / refractive_index**2)
    node, weight = np.polynomial.legendre.leggauss(_ANGLES_WITH_FACES)
    caught, caught_weight = critical * (node + 1) / 2, critical * weight / 2
    # Light that gets out is spread evenly outside, where Fresnel's reflectance is smooth: c dc = C dC / n^2 (Snell).
    outside, outside_weight = _radau(_ANGLES_WITH_FACES)
    free = np.sqrt(1 - (1 - outside**2) / refractive_index**2)
    free_weight = outside_weight * outside / (refractive_index**2 * free)
    return np.concatenate([caught, free]), np.concatenate([caught_weight, free_weight])


def _radau(count: int) -> tuple[Matrix, Matrix]:
    """Gauss-Radau nodes and weights on 0 to 1 that include 1 (Abramowitz & Stegun 25.4.31, mirrored)."""
    legendre = np.polynomial.legendre
    lower = np.eye(count)[count - 1]
    series = np.append(lower, 1.0)  # P of order count - 1, plus P of order count: zero at -1 and at the nodes
    node = np.sort(legendre.legroots(series).real)
    node -= legendre.legval(node, series) / legendre.legval(node, legendre.legder(series))
    node[0] = -1.0
    weight = (1 - node) / (count * legendre.legval(node, lower)) ** 2
    return (1 - node[::-1]) / 2, weight[::-1] / 2
