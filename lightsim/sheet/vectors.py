"""Vectors by component, each (n,), which is how numpy is fast on them; and cosine-distributed directions."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.floating[Any]]
Vector = tuple[Floats, Floats, Floats]


def vector(rows: Floats) -> Vector:
    """The components of rows (n, 3)."""
    return rows[:, 0], rows[:, 1], rows[:, 2]


def taken(components: Vector, chosen: NDArray[Any] | slice) -> Vector:
    """The chosen ones of n vectors."""
    return components[0][chosen], components[1][chosen], components[2][chosen]


def scaled(factor: Floats, components: Vector) -> Vector:
    """n vectors times n factors."""
    return factor * components[0], factor * components[1], factor * components[2]


def dot(a: Vector, b: Vector) -> Floats:
    """Scalar products, (n,)."""
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def unit(x: Floats, y: Floats, z: Floats) -> Vector:
    """n vectors made one long."""
    scale = 1.0 / np.sqrt(np.maximum(x * x + y * y + z * z, 1e-20))
    return x * scale, y * scale, z * scale


def tangents(normal: Vector) -> tuple[Vector, Vector]:
    """Two unit vectors at right angles to normal and each other (Duff et al., JCGT 6(1), 2017)."""
    x, y, z = normal
    sign = np.where(z >= 0, 1.0, -1.0).astype(z.dtype)
    a = -1.0 / (sign + z)
    b = x * y * a
    return (1.0 + sign * x * x * a, sign * b, -sign * x), (b, sign + y * y * a, -y)


def lambertian(normal: Vector, u: Floats, v: Floats) -> Vector:
    """Cosine-distributed directions about normal, all (n,): the normal plus a point of the unit sphere, made unit."""
    # Not quite the pole: opposite to the normal it would leave a vector of no length.
    height = 1.0 - 2.0 * np.maximum(u, 1e-7)
    radius = np.sqrt(np.maximum(1.0 - height * height, 0.0))
    turn = (2 * np.pi) * v
    x = normal[0] + radius * np.cos(turn)
    y = normal[1] + radius * np.sin(turn)
    z = normal[2] + height
    return unit(x, y, z)
