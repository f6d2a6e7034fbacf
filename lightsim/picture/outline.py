"""Triangles as a drawing: the area that a mesh covers, seen from far along an axis, and the lines that show its shape.

Only where triangles end, fold sharply or turn away from the eye is a line drawn, so that a curved sheet or a mesh of
many thousand triangles stays a drawing of a few lines.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lightsim.rig.mesh import Mesh

Points = NDArray[np.float64]  # (n, 2) mm

_SAME = 1e-3  # mm; corners nearer than that are one
_FOLD = np.cos(np.radians(30.0))  # sharper folds get a line; facets of curved sheets turn by less
_EDGE_ON = 1e-6  # of its area that a triangle shows; less is none
_TOLERANCE = 0.02  # mm that a drawn line may run beside the true one, and
_COARSE = 0.3  # where a rough mesh needs too many points
_MOST = 2_500  # points of one part's area, and of its lines


@dataclass(frozen=True)
class Outline:
    """What is drawn of a part, in the two directions of the drawing, mm."""

    area: tuple[Points, ...]  # closed loops; the part covers what they wind around (non-zero rule)
    lines: tuple[Points, ...]


def outline(mesh: Mesh, across: int, upward: int) -> Outline:
    """The drawing of a mesh whose world axes across and upward (0, 1 or 2) lie in the plane of the paper."""
    vertices, faces = _joined(mesh)
    flat = vertices[:, [across, upward]]
    corner, solid = flat[faces], vertices[faces]
    normal = np.cross(solid[:, 1] - solid[:, 0], solid[:, 2] - solid[:, 0])
    size = np.linalg.norm(normal, axis=1)
    faces, corner, normal, size = (each[size > 0] for each in (faces, corner, normal, size))
    one, two = corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]
    shown = one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0]
    facing = np.sign(np.where(np.abs(shown) > _EDGE_ON * size, shown, 0.0))
    edge = np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]])
    return Outline(
        area=_simpler(_loops(edge, np.tile(facing, 3), flat)),
        lines=_simpler(_lines(edge, normal / size[:, None], facing, flat)),
    )


def _joined(mesh: Mesh) -> tuple[NDArray[np.float64], NDArray[np.intp]]:
    """Vertices and faces with corners at one place made one."""
    _, first, number = np.unique(
        np.round(mesh.vertices / _SAME).astype(np.int64), axis=0, return_index=True, return_inverse=True
    )
    return mesh.vertices[first], number.reshape(-1)[mesh.faces]


def _loops(edge: NDArray[np.intp], facing: NDArray[np.float64], flat: Points) -> list[Points]:
    """Loops around the area that triangles cover: all turned to face the eye, edges inside it cancel.

    edge: (e, 2) of the triangles, end to end; facing: (e,) which way each one's triangle turns, 0 if it shows none.
    """
    low, high = edge.min(axis=1), edge.max(axis=1)
    sense = facing * np.where(edge[:, 0] == low, 1, -1)
    key, place = np.unique(low * len(flat) + high, return_inverse=True)
    net = np.bincount(place.reshape(-1), sense, len(key)).round().astype(int)
    onward: dict[int, list[int]] = {}
    for number in np.flatnonzero(net):
        a, b = divmod(int(key[number]), len(flat))
        start, end = (a, b) if net[number] > 0 else (b, a)
        onward.setdefault(start, []).extend([end] * abs(int(net[number])))
    loops = []
    while onward:
        # As many edges come to each corner as leave it, so a walk ends where it began.
        first = at = next(iter(onward))
        walk = [at]
        while at in onward:
            ends = onward[at]
            following = ends.pop()
            if not ends:
                del onward[at]
            at = following
            walk.append(at)
            if at == first:
                break
        loops.append(flat[walk])
    return loops


def _lines(
    edge: NDArray[np.intp], normal: NDArray[np.float64], facing: NDArray[np.float64], flat: Points
) -> list[Points]:
    """Edges that show the shape, joined end to end."""
    count = len(normal)
    low, high = edge.min(axis=1), edge.max(axis=1)
    key = low * len(flat) + high
    order = np.argsort(key, kind="stable")
    key, triangle = key[order], order % count
    first = np.flatnonzero(np.concatenate([[True], key[1:] != key[:-1]]))
    times = np.diff(np.append(first, len(key)))
    one, two = triangle[first], triangle[np.minimum(first + 1, len(key) - 1)]
    fold = (normal[one] * normal[two]).sum(axis=1) < _FOLD
    away = np.where(facing[one] < 0, -1, 1) != np.where(facing[two] < 0, -1, 1)
    chosen = times != 2
    # Of a rough mesh every edge is a fold: then only where it ends or turns away is drawn.
    chosen = chosen | away | (fold if np.count_nonzero(fold) < _MOST else False)
    segment = np.stack([flat[low[order][first][chosen]], flat[high[order][first][chosen]]], axis=1)
    return _chained(segment)


def _chained(segment: NDArray[np.float64]) -> list[Points]:
    """Segments (n, 2, 2) without those drawn twice or without length, joined to lines."""
    ends = segment.reshape(-1, 2)
    _, index, number = np.unique(
        np.round(ends / _SAME).astype(np.int64), axis=0, return_index=True, return_inverse=True
    )
    pair = np.unique(np.sort(number.reshape(-1, 2), axis=1), axis=0)
    points = ends[index]
    beside: dict[int, list[int]] = {}
    for a, b in pair[pair[:, 0] != pair[:, 1]].tolist():
        beside.setdefault(a, []).append(b)
        beside.setdefault(b, []).append(a)
    lines: list[Points] = []
    # From the ends of lines first, so that few are begun in their middle.
    for first in sorted(beside, key=lambda each: len(beside[each]) % 2 == 0):
        while beside[first]:
            walk = [first]
            while beside[walk[-1]]:
                at = walk[-1]
                following = beside[at].pop()
                beside[following].remove(at)
                walk.append(following)
            lines.append(points[walk])
    return lines


def _simpler(lines: Sequence[Points], tolerance: float = _TOLERANCE) -> tuple[Points, ...]:
    """Lines without points that make no difference, and without lines too short to see, where they are too many."""
    while True:
        if sum(map(len, lines)) > 2 * _MOST:
            tolerance = max(tolerance, _COARSE)
            lines = [line for line in lines if np.ptp(line, axis=0).max() > 4 * tolerance]
        lines = [_without_needless(line, tolerance) for line in lines]
        if sum(map(len, lines)) <= _MOST:
            return tuple(lines)
        tolerance *= 2
        lines = [line for line in lines if np.ptp(line, axis=0).max() > 4 * tolerance]


def _without_needless(line: Points, tolerance: float) -> Points:
    """Ramer (1972), Douglas & Peucker (1973): points farther than tolerance from the line between those kept."""
    keep = np.zeros(len(line), bool)
    keep[[0, -1]] = True
    spans = [(0, len(line) - 1)]
    while spans:
        first, last = spans.pop()
        if last - first < 2:
            continue
        chord, apart = line[last] - line[first], line[first + 1 : last] - line[first]
        square = float(chord @ chord)
        along = np.clip(apart @ chord / square, 0, 1) if square else np.zeros(len(apart))
        far = np.linalg.norm(apart - along[:, None] * chord, axis=1)
        if far.max() > tolerance:
            middle = first + 1 + int(far.argmax())
            keep[middle] = True
            spans += [(first, middle), (middle, last)]
    return line[keep]
