"""The scattering function of thin sheets: one set of formulae, evaluated, sampled and integrated.

Diffuse lobes are Lambertian times the chance s(cos) that light interacts at all, at both ends:
f = X s(in) s(out) / (pi s_mean), which keeps energy and reciprocity (docs/theory.md, Sheets).
The metal lobe is the GGX microfacet model of Walter, Marschner, Li & Torrance (EGSR 2007), single scattering.
Vectors are given by component, each (n,), which is how numpy is fast on them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lightsim.sheet.sheet import Sheet

Floats = NDArray[np.floating[Any]]
Vector = tuple[Floats, Floats, Floats]


@dataclass(frozen=True)
class Sheets:
    """The materials of m parts as arrays; where there are two sides, entry 2 p is part p's front, 2 p + 1 its back.

    float32, which is what the ray caster counts in and twice as fast.
    """

    straight: Floats  # (m,) regular transmittance at normal incidence
    transmittance: Floats  # (m,) diffuse
    reflectance: Floats  # (2 m,) diffuse
    metal: Floats  # (2 m,)
    roughness: Floats  # (m,) GGX alpha
    mean_interaction: Floats  # (m,) s(cos) averaged over Lambertian light

    def __post_init__(self) -> None:
        for array in vars(self).values():
            array.flags.writeable = False


def tabulate(sheets: Sequence[Sheet]) -> Sheets:
    """Sheets as arrays, in the given order."""
    straight = np.array([sheet.straight for sheet in sheets])
    return Sheets(
        straight=straight.astype(np.float32),
        transmittance=np.array([sheet.diffuse_transmittance for sheet in sheets], np.float32),
        reflectance=np.array([sheet.reflectance_by_side for sheet in sheets], np.float32).ravel(),
        metal=np.array([sheet.metal_by_side for sheet in sheets], np.float32).ravel(),
        roughness=np.array([sheet.roughness for sheet in sheets], np.float32),
        mean_interaction=mean_interaction(straight).astype(np.float32),
    )


def straight_through(straight: Floats, cosine: Floats) -> Floats:
    """Regular transmittance at an angle, T^(1/cos): exp(-tau / cos) with tau = -ln T. All (n,)."""
    return np.power(straight, 1.0 / np.maximum(np.abs(cosine), 1e-6))


def interaction(straight: Floats, cosine: Floats) -> Floats:
    """Chance of not going straight through, relative to normal incidence. All (n,), 1 where straight is 0."""
    scattered = 1.0 - straight
    return np.where(
        scattered > 1e-9,
        (1.0 - straight_through(straight, cosine)) / np.maximum(scattered, 1e-9),
        1.0,
    )


def mean_interaction(straight: Floats) -> Floats:
    """interaction averaged over Lambertian light, (n,)."""
    # 2 int s(cos) cos dcos by Gauss-Legendre on cos = t^2, which tames the kink of exp(-tau / cos) at grazing.
    if not straight.any():
        return np.ones_like(straight)
    node, weight = np.polynomial.legendre.leggauss(64)
    t = 0.5 * (node + 1)
    cosine = t * t
    s = interaction(straight[:, None], cosine[None, :])
    return np.asarray((s * (weight * cosine * 2 * t)).sum(axis=1))


def ggx(roughness: Floats, cosine: Floats) -> Floats:
    """GGX distribution of facet normals D [1/sr] at an angle of this cosine to the surface normal."""
    square = roughness * roughness
    return square / (np.pi * (cosine * cosine * (square - 1.0) + 1.0) ** 2)


def shadowing(roughness: Floats, cosine: Floats) -> Floats:
    """Smith shadowing G1 = 2 / (1 + sqrt(1 + alpha^2 tan^2)) of the same paper."""
    c2 = np.maximum(cosine * cosine, 1e-12)
    return 2.0 / (1.0 + np.sqrt(1.0 + roughness * roughness * (1.0 - c2) / c2))


def metal_lobe(metal: Floats, roughness: Floats, normal: Vector, towards_light: Vector, leaving: Vector) -> Floats:
    """Scattering function of rough metal times the cosine at which light leaves [1/sr], (n,).

    normal is on the lit side; towards_light and leaving are unit vectors away from the surface.
    """
    cos_in = dot(normal, towards_light)
    cos_out = dot(normal, leaving)
    hx, hy, hz = (a + b for a, b in zip(towards_light, leaving, strict=True))
    length = np.sqrt(np.maximum(hx * hx + hy * hy + hz * hz, 1e-20))
    cos_facet = (normal[0] * hx + normal[1] * hy + normal[2] * hz) / length
    value = (
        metal
        * ggx(roughness, cos_facet)
        * shadowing(roughness, cos_in)
        * shadowing(roughness, cos_out)
        / (4.0 * np.maximum(cos_in, 1e-6))
    )
    return np.where((cos_in > 0) & (cos_out > 0), value, 0.0)


def reflect_off_metal(
    roughness: Floats, normal: Vector, towards_light: Vector, u: Floats, v: Floats
) -> tuple[Vector, Floats]:
    """Direction sampled from the metal lobe by visible facets, and its weight (0 where it points into the metal).

    normal on the lit side, u and v in [0, 1), all (n,).
    Source: Heitz, Sampling the GGX Distribution of Visible Normals, JCGT 7(4), 2018.
    """
    (tx, ty, tz), (bx, by, bz) = tangents(normal)
    wx = tx * towards_light[0] + ty * towards_light[1] + tz * towards_light[2]
    wy = bx * towards_light[0] + by * towards_light[1] + bz * towards_light[2]
    wz = np.maximum(dot(normal, towards_light), 1e-6)
    sx, sy, sz = _unit(roughness * wx, roughness * wy, wz)
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
    fx, fy, fz = _unit(roughness * fx, roughness * fy, np.maximum(fz, 0.0))
    twice = 2.0 * (wx * fx + wy * fy + wz * fz)
    ox, oy, oz = twice * fx - wx, twice * fy - wy, twice * fz - wz
    weight = np.where(oz > 0, shadowing(roughness, oz), 0.0)
    nx, ny, nz = normal
    direction = (ox * tx + oy * bx + oz * nx, ox * ty + oy * by + oz * ny, ox * tz + oy * bz + oz * nz)
    return direction, weight


def lambertian(normal: Vector, u: Floats, v: Floats) -> Vector:
    """Cosine-distributed directions about normal, all (n,): the normal plus a point of the unit sphere, made unit."""
    # Not quite the pole: opposite to the normal it would leave a vector of no length.
    height = 1.0 - 2.0 * np.maximum(u, 1e-7)
    radius = np.sqrt(np.maximum(1.0 - height * height, 0.0))
    turn = (2 * np.pi) * v
    x = normal[0] + radius * np.cos(turn)
    y = normal[1] + radius * np.sin(turn)
    z = normal[2] + height
    return _unit(x, y, z)


def vector(rows: Floats) -> Vector:
    """The components of rows (n, 3)."""
    return rows[:, 0], rows[:, 1], rows[:, 2]


def taken(components: Vector, chosen: NDArray[Any] | slice) -> Vector:
    """The chosen ones of n vectors."""
    return components[0][chosen], components[1][chosen], components[2][chosen]


def scaled(factor: Floats, components: Vector) -> Vector:
    """n vectors times n factors."""
    return factor * components[0], factor * components[1], factor * components[2]


def tangents(normal: Vector) -> tuple[Vector, Vector]:
    """Two unit vectors at right angles to normal and each other (Duff et al., JCGT 6(1), 2017)."""
    x, y, z = normal
    sign = np.where(z >= 0, 1.0, -1.0).astype(z.dtype)
    a = -1.0 / (sign + z)
    b = x * y * a
    return (1.0 + sign * x * x * a, sign * b, -sign * x), (b, sign + y * y * a, -y)


def dot(a: Vector, b: Vector) -> Floats:
    """Scalar products, (n,)."""
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def _unit(x: Floats, y: Floats, z: Floats) -> Vector:
    scale = 1.0 / np.sqrt(np.maximum(x * x + y * y + z * z, 1e-20))
    return x * scale, y * scale, z * scale
