"""Spaces that must stay free, as convex functions of a point: its distance to them, negative inside.

A region takes points (n, 3) mm and gives the values (n,) mm and a slope (n, 3) of each: a subgradient, so that
f(q) >= f(p) + slope(p) . (q - p) for all q. The distance to a convex set, counted negative inside, is the largest of
u . p - h(u) over all unit vectors u, h the set's support function (Rockafellar, Convex Analysis, sections 13 and 16,
from memory); as the largest of functions that are linear in p it is convex, and the u that wins is its slope.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Region = Callable[[Floats], tuple[Floats, Floats]]


def beyond(over: Floats) -> tuple[Floats, Floats]:
    """Distance to a box whose sides are passed by over (n, k) mm, negative inside, and its slopes by over (n, k).

    Both are those of the signed distance to a quadrant, which rises with each of its arguments.
    """
    outside = np.maximum(over, 0)
    far = np.sqrt((outside * outside).sum(axis=1))
    nearest = over.argmax(axis=1)
    inner = over[np.arange(len(over)), nearest]
    facing = np.zeros_like(over)
    facing[np.arange(len(over)), nearest] = 1
    apart = far > 0
    return (
        np.where(apart, far, inner),
        np.where(apart[:, None], outside / np.maximum(far, 1e-300)[:, None], facing),
    )


def box(*, centre: Floats, axes: Floats, half: Floats) -> Region:
    """A box: centre (3,), its three unit axes as rows (3, 3), half of its size along each (3,), all mm."""

    def region(point: Floats) -> tuple[Floats, Floats]:
        local = (point - centre) @ axes.T
        value, slope = beyond(np.abs(local) - half)
        return value, (slope * _sign(local)) @ axes

    return region


def upright_box(*, low: Floats, high: Floats) -> Region:
    """A box along the axes of the world between two corners (3,)."""
    return box(centre=(low + high) / 2, axes=np.eye(3), half=(high - low) / 2)


def tube(*, radius: float, start: float, end: float) -> Region:
    """A cylinder about the lens axis from z = start to z = end."""
    middle, half = (start + end) / 2, (end - start) / 2

    def region(point: Floats) -> tuple[Floats, Floats]:
        away, out = _radial(point)
        along = point[:, 2] - middle
        value, slope = beyond(np.stack([away - radius, np.abs(along) - half], axis=1))
        return value, np.column_stack([slope[:, :1] * out, slope[:, 1] * _sign(along)])

    return region


def ball(*, centre: Floats, radius: float) -> Region:
    """A ball."""

    def region(point: Floats) -> tuple[Floats, Floats]:
        apart = point - centre
        far = np.sqrt((apart * apart).sum(axis=1))
        return far - radius, apart / np.maximum(far, 1e-300)[:, None]

    return region


def stretch(*, start: float, end: float) -> Region:
    """A line along the lens axis from z = start to z = end: a box without width and height."""
    return upright_box(low=np.array([0.0, 0.0, start]), high=np.array([0.0, 0.0, end]))


def shadow(*, radius: float, distance: float) -> Region:
    """What a disc about the axis at z = distance hides from the subject: how far a point is beside that cone, across
    the axis. Convex: the distance from the axis less a multiple of z. For z above 0."""

    def region(point: Floats) -> tuple[Floats, Floats]:
        away, out = _radial(point)
        spread = radius / distance
        return away - spread * point[:, 2], np.column_stack([out, np.full(len(point), -spread)])

    return region


def shifted(region: Region, step: Floats) -> Region:
    """The region as a part sees it that is moved by step (3,)."""
    return lambda point: region(point + step)


def _radial(point: Floats) -> tuple[Floats, Floats]:
    """Distance from the lens axis (n,) and the unit vector away from it (n, 2)."""
    away = np.hypot(point[:, 0], point[:, 1])
    return away, point[:, :2] / np.maximum(away, 1e-300)[:, None]


def _sign(value: Floats) -> Floats:
    return np.where(value < 0, -1.0, 1.0)
