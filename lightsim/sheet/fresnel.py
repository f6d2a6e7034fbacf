"""Fresnel's equations for unpolarised light: clear coats and metals.

Source: Born & Wolf, Principles of Optics, 1.5.2 (clear) and 14.2 (metals), from memory.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray


def fresnel(*, refractive_index: float, cosine: ArrayLike) -> NDArray[np.float64]:
    """Share of unpolarised light that a clear surface reflects, 0 to 1; cosine: of the angle of incidence,
    any shape.

    refractive_index: of the body, in air.
    """
    cos_in = np.clip(np.asarray(cosine, float), 0, 1)
    # Snell: the cosine inside; an index below 1 reflects everything beyond the critical angle.
    cos_inside = np.sqrt(np.maximum(1 - (1 - cos_in**2) / refractive_index**2, 0))
    across = (cos_in - refractive_index * cos_inside) / (cos_in + refractive_index * cos_inside)
    within = (refractive_index * cos_in - cos_inside) / (refractive_index * cos_in + cos_inside)
    return np.asarray((across**2 + within**2) / 2, float)


def metal_fresnel(*, refractive_index: float, extinction: float, cosine: ArrayLike) -> NDArray[np.float64]:
    """Share of unpolarised light that a metal of complex index n + i k reflects, 0 to 1; cosine of any shape."""
    cos2 = np.clip(np.asarray(cosine, float), 0, 1) ** 2
    sin2 = 1 - cos2
    n2, k2 = refractive_index**2, extinction**2
    inner = n2 - k2 - sin2
    size = np.sqrt(inner * inner + 4 * n2 * k2)  # a^2 + b^2
    twice = 2 * np.sqrt(np.maximum(size + inner, 0) / 2 * cos2)  # 2 a cos
    across = (size + cos2 - twice) / (size + cos2 + twice)
    end = cos2 * size + sin2 * sin2
    within = across * (end - twice * sin2) / (end + twice * sin2)
    return np.asarray((across + within) / 2, float)


def index_of_coat(reflectance: float) -> float:
    """Refractive index of the clear surface that reflects this share at normal incidence, below 1."""
    root = np.sqrt(reflectance)
    return float((1 + root) / (1 - root))


def extinction_of_metal(reflectance: float) -> float:
    """k of the metal 1 + i k that reflects this share at normal incidence: R = k^2 / (4 + k^2).

    With n near 1 it turns with the angle as aluminium does (n = 0.96, k = 6.7 at 550 nm, from memory): down by two
    hundredths about 80 degrees, then up to 1.
    """
    most = min(reflectance, 1 - 1e-9)
    return float(2 * np.sqrt(most / (1 - most)))
