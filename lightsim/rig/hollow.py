"""Triangles of hollow shapes. The front of every triangle is the inside, where a lining would be."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from lightsim.rig.flat import TOLERANCE, WIDEST_FACET, Outline, divide, facets
from lightsim.rig.mesh import Mesh, without_unused

# Corners are numbered round the back (left below, right below, right above, left above), then round the front.
WALLS = {
    "back": (0, 1, 2, 3),
    "front": (4, 5, 6, 7),
    "left": (4, 0, 3, 7),
    "right": (5, 1, 2, 6),
    "top": (7, 6, 2, 3),
    "bottom": (4, 5, 1, 0),
}


def cone(*, near: float, far: float, depth: float, start: float, sweep: float) -> Mesh:
    """Lateral surface between circles of radius near at z = 0 and far at z = -depth [mm], area kept.

    start, sweep : radians, clockwise from up as the camera sees it
    """
    count = facets(radius=max(near, far), angle=sweep)
    radii = np.array([near, far])
    heights = np.array([0.0, -depth])
    target = sweep / 2 * (near + far) * np.hypot(depth, near - far)
    return _lathe(radii, heights, start=start, sweep=sweep, count=count, target=target)


def dome(*, rim: float, depth: float, hole: float, toward_lens: bool) -> Mesh:
    """Cap of a sphere with its rim (radius [mm]) at z = 0 and its crown at a distance of depth, area kept.

    hole : radius of a round hole about the crown [mm]; toward_lens : the crown lies at +z, otherwise at -z
    """
    radius = (rim**2 + depth**2) / (2 * depth)
    edge = np.arctan2(rim, radius - depth)  # angles from the crown, seen from the middle of the sphere
    inner = np.arcsin(min(hole / radius, 1.0))
    # Sagittas of the two steps, each half of what is allowed: along a meridian, and round the widest circle.
    step = min(float(WIDEST_FACET), np.sqrt(4 * TOLERANCE / radius))
    bands = int(np.ceil((edge - inner) / step))
    widest = rim if depth <= rim else radius
    count = max(24, int(np.ceil(2 * np.pi / np.sqrt(4 * TOLERANCE / widest))))
    angle = np.linspace(inner, edge, bands + 1)
    radii = radius * np.sin(angle)
    # Height over the rim as a product: the cosines of a shallow cap nearly cancel.
    heights = 2 * radius * np.sin((edge + angle) / 2) * np.sin((edge - angle) / 2)
    radii[-1], heights[-1] = rim, 0.0
    if hole == 0:
        radii[0], heights[0] = 0.0, depth
    target = 2 * np.pi * radius * heights[0]
    if not toward_lens:
        radii, heights = radii[::-1], -heights[::-1]
    return _lathe(radii, heights, start=0.0, sweep=2 * np.pi, count=count, target=target)


def cone_reach(*, near: float, far: float, depth: float, start: float, sweep: float) -> NDArray[np.float64]:
    """Points (n, 3) mm of the true surface of a cone, among them the outermost in each direction of the frame."""
    quarter = np.pi / 2
    between = quarter * np.arange(np.ceil(start / quarter), np.floor((start + sweep) / quarter) + 1)
    turn = np.array([start, start + sweep, *between])
    rim = np.stack([np.sin(turn), np.cos(turn), np.zeros_like(turn)], axis=1)
    return np.concatenate([near * rim, far * rim - [0.0, 0.0, depth]])


def dome_reach(*, rim: float, depth: float, toward_lens: bool) -> NDArray[np.float64]:
    """Two corners (2, 3) mm of the upright box that just holds a dome; a hole in its crown changes nothing."""
    widest = rim if depth <= rim else (rim**2 + depth**2) / (2 * depth)
    return np.array([[-widest, -widest, 0.0], [widest, widest, depth if toward_lens else -depth]])


def _lathe(
    radii: NDArray[np.float64],
    heights: NDArray[np.float64],
    *,
    start: float,
    sweep: float,
    count: int,
    target: float,
) -> Mesh:
    """A profile, from the lens to the subject, turned about the z axis in count facets with an area of target."""
    push = _push(radii, heights, half=sweep / count / 2, count=count, target=target)
    closed = sweep > 2 * np.pi * (1 - 1e-12)
    turn = start + sweep / count * np.arange(count if closed else count + 1)
    direction = np.stack([np.sin(turn), np.cos(turn), np.zeros_like(turn)], axis=1)
    vertices, index = [], []
    used = 0
    for radius, height in zip(radii, heights, strict=True):
        ring = push * radius * direction + [0.0, 0.0, height] if radius > 0 else np.array([[0.0, 0.0, height]])
        vertices.append(ring)
        index.append(used + np.arange(len(ring)) if radius > 0 else np.full(len(turn), used))
        used += len(ring)
    this = np.arange(count)
    after = (this + 1) % len(turn)
    faces = []
    for k, (near, far) in enumerate(pairwise(index)):
        if radii[k] > 0:
            faces.append(np.stack([near[this], far[this], near[after]], axis=1))
        if radii[k + 1] > 0:
            faces.append(np.stack([near[after], far[this], far[after]], axis=1))
    return Mesh(np.concatenate(vertices), np.concatenate(faces).astype(np.int64))


def _push(radii: NDArray[np.float64], heights: NDArray[np.float64], *, half: float, count: int, target: float) -> float:
    """Factor on the radii that gives the facets the area of target.

    A facet between radii a and b, a drop d apart, is a plane trapezoid of area
    k sin(half) (a + b) sqrt(d^2 + k^2 (a - b)^2 cos^2(half)), which grows with k. Derived here.
    """
    total = radii[:-1] + radii[1:]
    drop = np.diff(heights) ** 2
    slope = (np.diff(radii) * np.cos(half)) ** 2
    low, high = 1.0, 1.1
    for _ in range(60):
        middle = (low + high) / 2
        reached = count * middle * np.sin(half) * (total * np.sqrt(drop + middle**2 * slope)).sum()
        low, high = (middle, high) if reached < target else (low, middle)
    return (low + high) / 2


def box_corners(
    *, back: tuple[float, float], front: tuple[float, float], depth: float, right: float, up: float
) -> NDArray[np.float64]:
    """Corners (8, 3) mm: the back about the origin, the front at z = -depth, its middle shifted right and up."""
    sign = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) / 2
    near = np.column_stack([sign * back, np.zeros(4)])
    far = np.column_stack([sign * front + [right, up], np.full(4, -depth)])
    return np.concatenate([near, far])


def box(corners: NDArray[np.float64], walls: Sequence[str], cuts: Mapping[str, Sequence[Outline]]) -> Mesh:
    """The named walls of a box with these corners (8, 3), each less its cuts (see wall_frame), edges shared."""
    inside = corners.mean(axis=0)
    vertices, faces, used = [corners], [], len(corners)
    for name in walls:
        number = np.array(WALLS[name])
        middle, axes = wall_frame(corners, name)
        outline = (corners[number] - middle) @ axes.T
        if cuts.get(name):
            flat, triangles = divide(outline, cuts[name])
            # What lies on a corner of the wall is that corner, to the last bit.
            index = used + np.arange(len(flat))
            for point, which in zip(outline, number, strict=True):
                index[np.abs(flat - point).max(axis=1) < 1e-9] = which
            vertices.append(flat @ axes + middle)
            used += len(flat)
            faces.append(index[triangles])
        else:
            faces.append(number[[[0, 1, 2], [0, 2, 3]]])
        if np.cross(*axes) @ (inside - middle) < 0:
            faces[-1] = faces[-1][:, ::-1]
    return Mesh(*without_unused(np.concatenate(vertices), np.concatenate(faces).astype(np.int64)))


def wall_frame(corners: NDArray[np.float64], name: str) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Middle (3,) of a wall and the directions (2, 3) in which its right and up are measured.

    Back and front: as the camera sees them. Top and bottom: right as the camera sees it, up toward the lens.
    Left and right walls: right toward the lens, up as the camera sees it.
    """
    quad = corners[list(WALLS[name])]
    across, upward = np.eye(3)[0], np.eye(3)[1]
    if name in ("left", "right"):
        across = quad[[1, 2]].mean(axis=0) - quad[[0, 3]].mean(axis=0)
        across[1] = 0.0
    elif name in ("top", "bottom"):
        upward = quad[[2, 3]].mean(axis=0) - quad[[0, 1]].mean(axis=0)
        upward[0] = 0.0
    axes = np.array([across / np.linalg.norm(across), upward / np.linalg.norm(upward)])
    return quad.mean(axis=0), axes
