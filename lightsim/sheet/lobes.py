"""The lobes that are not Lambertian: facets of a coat or a metal, and the forward lobe of a translucent sheet.

Facets: the GGX model of Walter, Marschner, Li & Torrance (EGSR 2007) with separate Smith shadowing.
Forward lobe: a Gaussian of the difference of direction cosines, which is reciprocal as it stands and keeps its width
and its light at any angle but near grazing, where part of it would leave the hemisphere. docs/theory.md, Sheets.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from lightsim.sheet.vectors import Floats, Vector, dot, tangents, unit

Column = NDArray[np.float64]
_NODES = 200  # of quadrature across direction cosines; a lobe of 2 degrees is six of them wide


def cosine_at(step: Floats) -> Floats:
    """Cosine of a table's place, 0 to 1: even in the angle near the normal, in the root of the cosine near grazing."""
    return np.asarray((1 - (1 - step) ** 2) ** 2)


def step_of(cosine: Floats) -> Floats:
    """Place in a table of a cosine, 0 to 1."""
    return np.asarray(1 - np.sqrt(np.maximum(1 - np.sqrt(cosine), 0)))


def ggx(roughness: Floats, cosine: Floats) -> Floats:
    """GGX distribution of facet normals D [1/sr] at an angle of this cosine to the surface normal."""
    square = roughness * roughness
    return square / (np.pi * (cosine * cosine * (square - 1.0) + 1.0) ** 2)


def shadowing(roughness: Floats, cosine: Floats) -> Floats:
    """Smith shadowing G1 = 2 / (1 + sqrt(1 + alpha^2 tan^2)) of the same paper."""
    c2 = np.maximum(cosine * cosine, 1e-12)
    return 2.0 / (1.0 + np.sqrt(1.0 + roughness * roughness * (1.0 - c2) / c2))


def facets(roughness: Floats, normal: Vector, towards_light: Vector, leaving: Vector) -> tuple[Floats, Floats]:
    """Scattering function of facets that reflect everything, times the cosine at which light leaves [1/sr], and the
    cosine of incidence on the facet, (n,) each.

    normal is on the lit side; towards_light and leaving are unit vectors away from the surface.
    """
    cos_in = dot(normal, towards_light)
    cos_out = dot(normal, leaving)
    hx, hy, hz = (a + b for a, b in zip(towards_light, leaving, strict=True))
    length = np.sqrt(np.maximum(hx * hx + hy * hy + hz * hz, 1e-20))
    cos_facet = (normal[0] * hx + normal[1] * hy + normal[2] * hz) / length
    value = (
        ggx(roughness, cos_facet)
        * shadowing(roughness, cos_in)
        * shadowing(roughness, cos_out)
        / (4.0 * np.maximum(cos_in, 1e-6))
    )
    # The facet's normal halves the angle between both, so |h| / 2 is the cosine at it.
    return np.where((cos_in > 0) & (cos_out > 0), value, 0.0), 0.5 * length


def reflect_off_facets(
    roughness: Floats, normal: Vector, towards_light: Vector, u: Floats, v: Floats
) -> tuple[Vector, Floats, Floats]:
    """Direction sampled by visible facets, its weight for facets that reflect everything (0 where it points into the
    surface), and the cosine of incidence on the facet.

    normal on the lit side, u and v in [0, 1), all (n,).
    Source: Heitz, Sampling the GGX Distribution of Visible Normals, JCGT 7(4), 2018.
    """
    (tx, ty, tz), (bx, by, bz) = tangents(normal)
    wx = tx * towards_light[0] + ty * towards_light[1] + tz * towards_light[2]
    wy = bx * towards_light[0] + by * towards_light[1] + bz * towards_light[2]
    wz = np.maximum(dot(normal, towards_light), 1e-6)
    sx, sy, sz = unit(roughness * wx, roughness * wy, wz)
    across = np.sqrt(np.maximum(sx * sx + sy * sy, 1e-20))
    flat = across < 1e-6
    ax, ay = np.where(flat, 1.0, -sy / across), np.where(flat, 0.0, sx / across)
    cx, cy, cz = -sz * ay, sz * ax, sx * ay - sy * ax
    radius = np.sqrt(u)
    turn = (2 * np.pi) * v
    p = radius * np.cos(turn)
    half = 0.5 * (1.0 + sz)
    q = (1.0 - half) * np.sqrt(np.maximum(1.0 - p * p, 0.0)) + half * radius * np.sin(turn)
    r = np.sqrt(np.maximum(1.0 - p * p - q * q, 0.0))
    fx, fy, fz = p * ax + q * cx + r * sx, p * ay + q * cy + r * sy, q * cz + r * sz
    fx, fy, fz = unit(roughness * fx, roughness * fy, np.maximum(fz, 0.0))
    cosine = wx * fx + wy * fy + wz * fz
    ox, oy, oz = 2 * cosine * fx - wx, 2 * cosine * fy - wy, 2 * cosine * fz - wz
    weight = np.where(oz > 0, shadowing(roughness, oz), 0.0)
    nx, ny, nz = normal
    direction = (ox * tx + oy * bx + oz * nx, ox * ty + oy * by + oz * ny, ox * tz + oy * bz + oz * nz)
    return direction, weight, cosine


def facet_albedo(*, roughness: float, reflectance: Column) -> Column:
    """Share that facets reflect once, at the cosines of a table of k, (k,).

    reflectance: of a facet at such cosines, (k,).
    """
    # A Fibonacci lattice in float32 at 33 angles even in the root of the cosine, cubic between them: within 2e-4 of
    # 28,657 points at each angle.
    points, step, angles = 4181, 2584, 33
    number = np.arange(points)
    root = np.linspace(0, 1, angles)
    sine = np.sqrt(1 - root**4)

    def column(values: NDArray[np.float64], *, over_angles: bool) -> Floats:
        return (np.repeat(values, points) if over_angles else np.tile(values, angles)).astype(np.float32)

    flat = np.zeros(angles * points, np.float32)
    _, passed, at_facet = reflect_off_facets(
        flat + np.float32(roughness),
        (flat, flat, flat + 1),
        (column(sine, over_angles=True), flat, column(root * root, over_angles=True)),
        column((number + 0.5) / points, over_angles=False),
        column((number * step / points) % 1, over_angles=False),
    )
    reflected = np.interp(step_of(np.clip(at_facet, 0, 1)), np.linspace(0, 1, len(reflectance)), reflectance)
    at = np.sqrt(cosine_at(np.linspace(0, 1, len(reflectance))))
    return _cubic((passed * reflected).reshape(angles, points).mean(axis=1, dtype=float), at)


def _cubic(values: Column, at: Column) -> Column:
    """Values at even steps from 0 to 1 read at other places there, (k,), by cubics through four neighbours."""
    place = at * (len(values) - 1)
    i = np.clip(place.astype(int), 1, len(values) - 3)
    s = place - i
    weights = (-s * (s - 1) * (s - 2) / 6, (s * s - 1) * (s - 2) / 2, -(s + 1) * s * (s - 2) / 2, (s * s - 1) * s / 6)
    return np.asarray(sum(weight * values[i + shift] for weight, shift in zip(weights, (-1, 0, 1, 2), strict=True)))


def narrowness(half_value_angle: float) -> float:
    """q = 1 / (2 sigma^2) of the forward lobe whose intensity cos exp(-q sin^2) is half at this angle [degrees].

    0 at 60 degrees, where the lobe is Lambertian; infinite at 0. Derived here.
    """
    angle = np.radians(half_value_angle)
    if half_value_angle <= 0:
        return float("inf")
    return float(max(np.log(2 * np.cos(angle)), 0.0) / np.sin(angle) ** 2)


def peak(narrow: Floats) -> Floats:
    """Height of the lobe exp(-q d^2) whose integral over the unit disc about its own middle is 1, (n,)."""
    q = np.maximum(narrow, 1e-6)
    return q / (np.pi * -np.expm1(-q))


def offset_of_lobe(narrow: Floats, u: Floats, v: Floats) -> tuple[Floats, Floats]:
    """Steps across the direction cosines sampled from exp(-q d^2) within the unit disc, (n,) each."""
    q = np.maximum(narrow, 1e-6)
    radius = np.sqrt(np.maximum(-np.log1p(u * np.expm1(-q)) / q, 0.0))
    turn = (2 * np.pi) * v
    return radius * np.cos(turn), radius * np.sin(turn)


def outside(*, narrow: float, count: int) -> Column:
    """Share of the lobe's steps that leave the hemisphere, at the cosines of a table of count."""
    sine = _sine(count)
    u, weight = _gauss(400)
    radius, _ = offset_of_lobe(np.full(len(u), narrow), u, np.zeros(len(u)))
    # The part of a circle about sine that lies inside the unit disc, as an angle.
    reach = np.maximum(2 * sine[:, None] * radius[None, :], 1e-12)
    angle = np.arccos(np.clip((sine[:, None] ** 2 + radius[None, :] ** 2 - 1) / reach, -1, 1)) / np.pi
    return np.asarray(1 - angle @ weight)


def kept(*, narrow: float, let_out: Column) -> Column:
    """Share of the lobe that stays in the hemisphere where let_out of it may leave, at the cosines of a table of
    k, (k,) both. 1 at normal incidence if let_out is 1: no place keeps more of a lobe than the middle of the disc.
    """
    node, weight = _gauss(_NODES)
    count = len(let_out)
    passed = np.interp(step_of(np.sqrt(1 - node * node)), np.linspace(0, 1, count), let_out)
    return np.asarray(_around(narrow, _sine(count), node) @ (weight * node * passed))


def _sine(count: int) -> Column:
    return np.sqrt(np.maximum(1 - cosine_at(np.linspace(0, 1, count)) ** 2, 0))


def _around(narrow: float, sine: Column, other: Column) -> Column:
    """The lobe integrated over azimuth between directions of these sines, (k, j)."""
    a, b = sine[:, None], other[None, :]
    q = max(narrow, 1e-6)
    x = 2 * q * a * b
    # I0(x) exp(-x): numpy's I0 below 50, the asymptotic series above (Abramowitz & Stegun 9.7.1).
    small = np.i0(np.minimum(x, 50)) * np.exp(-np.minimum(x, 50))
    r = 1 / np.maximum(x, 50)
    large = np.sqrt(r / (2 * np.pi)) * (1 + r * (1 / 8 + r * (9 / 128 + r * 225 / 3072)))
    return np.asarray(2 * np.pi * peak(np.array(q)) * np.exp(-q * (a - b) ** 2) * np.where(x < 50, small, large))


@lru_cache(maxsize=8)
def _gauss(count: int) -> tuple[Column, Column]:
    """Gauss-Legendre nodes and weights on 0 to 1."""
    node, weight = np.polynomial.legendre.leggauss(count)
    return 0.5 * (node + 1), 0.5 * weight
