"""Rings that stand for circles: machines cut a circle more smoothly than a polygon of many sides."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lightsim.pattern.piece import Place, Ring

LEAST_POINTS = 60  # a ring of no more is meant as a polygon
OFF_CIRCLE = 0.01  # mm, of a point
UNEVEN = 1.05  # longest side over the mean side


@dataclass(frozen=True)
class Circle:
    """A whole circle, mm."""

    centre: Place
    radius: float


def circle_of(ring: Ring) -> Circle | None:
    """The circle on which the points of a fine, regular ring lie within OFF_CIRCLE, or None.

    The points of half a disc lie on a circle too: only the even length of the sides tells them from a whole one.
    """
    if len(ring) <= LEAST_POINTS:
        return None
    centre = ring.mean(axis=0)
    radii = np.hypot(*(ring - centre).T)
    radius = 0.5 * float(radii.min() + radii.max())
    sides = np.hypot(*(ring - np.roll(ring, 1, axis=0)).T)
    even = sides.max() <= UNEVEN * sides.mean()
    return Circle(centre, radius) if even and np.abs(radii - radius).max() <= OFF_CIRCLE else None
