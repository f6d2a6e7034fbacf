"""Flat pieces: their outlines, what is cut out of them, and their division into triangles.

The division sweeps the piece in slabs between levels of the second coordinate. Each slab is a row of trapezoids with
corners on its two levels only, so neighbours share their vertices and no seam can open.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

Outline = NDArray[np.float64]  # (n, 2) mm, anticlockwise, convex
Triangles = NDArray[np.int64]  # (m, 3)

TOLERANCE = 0.08  # mm: furthest that triangles lie from the true surface or outline; 0.1 is what we promise
WIDEST_FACET = np.radians(15.0)  # so that small things look round too: 24 facets a turn
GRID = 1e-4  # mm: what is cut out is known to this; nobody cuts better, and slivers end here
_KEY = 2**31  # more than the grid steps across the largest piece


def facets(*, radius: float, angle: float) -> int:
    """How many equal facets stand in for an arc of this radius [mm] and angle [rad].

    Facets of step d with the area (or length) of the true arc lie within radius d^2 / 12 of it: pushed out by at most
    that at their corners (disc; half of it for a cylinder), inside by at most that at their middle. Derived here.
    As lengths end at 10 m, a full turn has at most 642 facets.
    """
    step = min(float(WIDEST_FACET), float(np.sqrt(12 * TOLERANCE / radius)))
    return max(1, int(np.ceil(angle / step - 1e-9)))


def rectangle(*, width: float, height: float, right: float = 0.0, up: float = 0.0) -> Outline:
    """Outline of an upright rectangle about its middle."""
    return np.array([[-width, -height], [width, -height], [width, height], [-width, height]]) / 2 + [
        right,
        up,
    ]


def circle(*, diameter: float, right: float = 0.0, up: float = 0.0) -> Outline:
    """Polygon of the same area as the circle; its number of corners is a multiple of four."""
    count = 4 * int(np.ceil(facets(radius=diameter / 2, angle=2 * np.pi) / 4))
    step = 2 * np.pi / count
    # area of the polygon: count / 2 r^2 sin(step) = pi r_true^2
    radius = diameter / 2 * np.sqrt(step / np.sin(step))
    turn = step * np.arange(count)
    return np.stack([right + radius * np.cos(turn), up + radius * np.sin(turn)], axis=1)


def strip(*, start: tuple[float, float], end: tuple[float, float], gap: float) -> Outline:
    """Outline of a straight strip with square ends from start to end, gap wide."""
    first, last = np.array(start), np.array(end)
    along = (last - first) / np.linalg.norm(last - first)
    across = gap / 2 * np.array([-along[1], along[0]])
    return np.array([first - across, last - across, last + across, first + across])


def rounded_rectangle(*, width: float, height: float, corner_radius: float) -> Outline:
    """Rectangle with round corners, area kept; the straight edges stay where they are."""
    if corner_radius <= 0:
        return rectangle(width=width, height=height)
    count = max(2, facets(radius=corner_radius, angle=np.pi / 2))
    step = np.pi / 2 / count
    # The corners end on the straight edges; only the points between are pushed out, to q times the radius. With r = 1:
    # (count - 2) q^2 sin(step) / 2 + 2 q sin(step) / 2 = pi / 4, solved for q without cancellation.
    target = np.pi / 2 / np.sin(step)
    pushed = target / (1 + np.sqrt(1 + (count - 2) * target))
    reach = np.full(count + 1, pushed)
    reach[[0, -1]] = 1.0
    turn = step * np.arange(count + 1)
    quarter = corner_radius * reach[:, None] * np.stack([np.cos(turn), np.sin(turn)], axis=1)
    middle = np.array([width, height]) / 2 - corner_radius
    outline = [quarter + middle]
    for _ in range(3):
        quarter = np.stack([-quarter[:, 1], quarter[:, 0]], axis=1)
        sign = np.sign(quarter.sum(axis=0))
        outline.append(quarter + sign * middle)
    joined = np.concatenate(outline)
    # Where the radius is half a side two corners meet in one point.
    same = np.linalg.norm(joined - np.roll(joined, 1, axis=0), axis=1) < GRID
    return np.asarray(joined[~same])


def divide(
    outline: Outline, cuts: Sequence[Outline] = (), *, lines: NDArray[np.float64] | None = None
) -> tuple[NDArray[np.float64], Triangles]:
    """Triangles of a piece with parts cut out.

    outline, cuts : convex, anticlockwise; cuts may overlap each other and the edge
    lines : levels of the second coordinate [mm] that no triangle may cross (where a sheet is bent)
    Returns vertices (n, 2) mm and anticlockwise triangles (m, 3), both empty if nothing is left. Vertices on the
    outline are exact, those on cuts rounded to GRID.
    """
    rings: list[Outline] = [outline]
    rings += [np.asarray(_grid(cut) * GRID, np.float64) for cut in cuts]
    edge, weight = _edges(rings)
    on_outline = np.arange(len(edge)) < len(outline)
    slanted = _grid(edge[:, 0, 1]) != _grid(edge[:, 1, 1])
    edge, weight, on_outline = edge[slanted], weight[slanted], on_outline[slanted]

    level, place = _levels(rings, np.empty(0) if lines is None else lines)
    first = np.searchsorted(level, _grid(edge[:, 0, 1]))
    last = np.minimum(np.searchsorted(level, _grid(edge[:, 1, 1])), len(level) - 1)
    count = np.maximum(last - first, 0)
    # One row for each slab that each edge passes.
    row = np.repeat(np.arange(len(edge)), count)
    slab = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count) + first[row]
    below, above = _across(edge[row], place[slab]), _across(edge[row], place[slab + 1])
    order = np.lexsort((below + above, slab))
    row, slab, below, above = row[order], slab[order], below[order], above[order]
    # From left to right the outline counts +1 from its left to its right edge, a cut -1: exactly 1 is where paper is.
    left = np.flatnonzero(np.cumsum(weight[row]) == 1)
    right = left + 1
    slab = slab[left]
    key_below, key_above = _grid(below), _grid(above)
    # Crossings are rounded to the grid, so that next to one two edges may stand in the wrong order by a step.
    ends = [
        slab * _KEY + key_below[left],
        slab * _KEY + np.maximum(key_below[right], key_below[left]),
        (slab + 1) * _KEY + key_above[left],
        (slab + 1) * _KEY + np.maximum(key_above[right], key_above[left]),
    ]
    # What is nowhere thicker than two steps, square to its edges, is rounding left between edges that coincide.
    slope = np.abs(above - below)[np.stack([left, right])].min(axis=0) / (place[slab + 1] - place[slab])
    wide = np.maximum(ends[1] - ends[0], ends[3] - ends[2]) > 2 * np.hypot(1, slope)
    corner = np.stack(ends)[:, wide]
    exact = np.stack([below[left], below[right], above[left], above[right]])[:, wide]
    on_edge = on_outline[row[np.stack([left, right, left, right])[:, wide]]]

    key, vertex = np.unique(corner.ravel(), return_inverse=True)
    vertex = vertex.reshape(corner.shape)
    of_level = (key + _KEY // 2) // _KEY
    step = key - of_level * _KEY
    x = step * GRID
    known = on_edge & (_grid(exact) == step[vertex])
    x[vertex[known]] = exact[known]
    return np.stack([x, place[of_level]], axis=1), _zip(x, vertex)


def _grid(value: NDArray[np.floating]) -> NDArray[np.int64]:
    return np.asarray(np.rint(value / GRID), np.int64)


def _edges(rings: Sequence[Outline]) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Edges (n, 2, 2) from their lower to their upper end, and what passing one from the left adds to the count."""
    edge = np.concatenate([np.stack([ring, np.roll(ring, -1, axis=0)], axis=1) for ring in rings])
    sign = np.concatenate([np.full(len(ring), -1 if k else 1) for k, ring in enumerate(rings)])
    falls = edge[:, 1, 1] < edge[:, 0, 1]  # anticlockwise: the left side falls
    edge[falls] = edge[falls, ::-1]
    return edge, np.where(falls, sign, -sign)


def _levels(rings: Sequence[Outline], lines: NDArray[np.float64]) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Grid steps of all levels where something begins, ends or crosses, and their places in mm."""
    ends = _grid(rings[0][:, 1])
    found = np.concatenate([*(_grid(ring[:, 1]) for ring in rings), _grid(lines), _grid(_crossings(rings))])
    level = np.unique(found[(found >= ends.min()) & (found <= ends.max())])
    place = level * GRID
    for exact in (lines, rings[0][:, 1]):
        index = np.searchsorted(level, _grid(exact))
        inside = (index < len(level)) & (_grid(exact) >= ends.min())
        place[index[inside]] = exact[inside]
    return level, place


def _crossings(rings: Sequence[Outline]) -> NDArray[np.float64]:
    """Second coordinates at which edges of different rings cross."""
    low, high = np.array([ring.min(axis=0) for ring in rings]), np.array([ring.max(axis=0) for ring in rings])
    meet = ((low[:, None] <= high) & (low <= high[:, None])).all(axis=2)
    found = [np.empty(0)]
    for one, other in zip(*np.nonzero(np.triu(meet, 1)), strict=True):
        p, q = rings[one][:, None], rings[other][None]
        d, e = np.roll(rings[one], -1, axis=0)[:, None] - p, np.roll(rings[other], -1, axis=0)[None] - q
        cross = d[..., 0] * e[..., 1] - d[..., 1] * e[..., 0]
        between = q - p
        parallel = np.abs(cross) < 1e-12
        divisor = np.where(parallel, 1.0, cross)
        t = (between[..., 0] * e[..., 1] - between[..., 1] * e[..., 0]) / divisor
        u = (between[..., 0] * d[..., 1] - between[..., 1] * d[..., 0]) / divisor
        hit = ~parallel & (t >= 0) & (t <= 1) & (u >= 0) & (u <= 1)
        found.append((p[..., 1] + t * d[..., 1])[hit])
    return np.concatenate(found)


def _across(edge: NDArray[np.float64], level: NDArray[np.float64]) -> NDArray[np.float64]:
    """First coordinate of edges (n, 2, 2) at levels (n,)."""
    (x0, y0), (x1, y1) = edge[:, 0].T, edge[:, 1].T
    share = np.clip((level - y0) / (y1 - y0), 0.0, 1.0)
    return np.asarray(np.where(share == 1.0, x1, x0 + share * (x1 - x0)))


def _zip(x: NDArray[np.float64], vertex: NDArray[np.int64]) -> Triangles:
    """Triangles of trapezoids: vertex (4, n) holds their lower left, lower right, upper left and upper right ends.

    Vertices are numbered along each level, so that all between two ends lie on that side, those of neighbours too.
    """
    triangles: list[tuple[int, int, int]] = []
    along = x.tolist()
    for low, low_end, high, high_end in vertex.T.tolist():
        while low < low_end or high < high_end:
            if high == high_end or (low < low_end and along[low + 1] <= along[high + 1]):
                triangles.append((low, low + 1, high))
                low += 1
            else:
                triangles.append((low, high + 1, high))
                high += 1
    return np.array(triangles, np.int64).reshape(-1, 3)
