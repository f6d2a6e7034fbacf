"""How far two sets of triangles are apart, exactly, and how far one must move to be clear of the other.

Two triangles are nearest at a corner of one over the face of the other, or at an edge of each, unless an edge of one
runs through the other (Ericson, Real-Time Collision Detection, section 5.1, from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from math import inf

import numpy as np
from numpy.typing import NDArray

from lightsim.fit.regions import Floats

_BRANCHES = 4
_GROUP = 64  # triangles that are set aside together
_RETURNS = 4
_AT_ONCE = 40_000  # pairs of triangles
_TINY = 1e-30
_FLAT = 1e-9  # of the way's share square to a triangle: it is taken as seen edge-on
_ASIDE = 1e-4  # mm: how far from a touch along the way still counts as one


@dataclass(frozen=True)
class _Groups:
    """Balls and upright boxes round groups of triangles: 4^k neighbours each, at one level."""

    low: Floats  # (g, 3)
    high: Floats
    middle: Floats
    radius: Floats  # (g,)


def distance(one: Floats, other: Floats) -> float:
    """Least distance [mm] between triangles (m, 3, 3) and triangles (k, 3, 3); 0 where they touch or cut."""
    one, other = _in_order(one), _in_order(other)
    least = _first_guess(one, other)
    trees = _tree(one), _tree(other)
    top = max(len(tree) for tree in trees) - 1
    waiting = [(top, np.zeros((1, 2), np.intp))]
    while waiting:
        level, pairs = waiting.pop()
        if level:
            pairs = _children(pairs, trees, level - 1)
        gap = _gap(_level(trees[0], level - 1), pairs[:, 0], _level(trees[1], level - 1), pairs[:, 1])
        order = np.argsort(gap)
        order = order[gap[order] < least]
        pairs, gap = pairs[order], gap[order]
        if level > 1:
            # The nearest are looked at first: what comes of them may spare the others.
            blocks = [pairs[first : first + _AT_ONCE] for first in range(0, len(pairs), _AT_ONCE)]
            waiting.extend((level - 1, block) for block in reversed(blocks))
            continue
        for first, last in _blocks(len(pairs)):
            block = pairs[first:last][gap[first:last] < least]
            if len(block):
                least = min(least, float(pair_distances(one[block[:, 0]], other[block[:, 1]]).min()))
    return least


def _tree(corner: Floats) -> list[_Groups]:
    """Groups of 1, 4, 16 ... triangles that follow each other, up to one group of all."""
    low, high = _boxes(corner)
    middle = (low + high) / 2
    radius = np.sqrt(((corner - middle[:, None]) ** 2).sum(axis=2)).max(axis=1)
    tree = [_Groups(low, high, middle, radius)]
    while len(tree[-1].low) > 1:
        last = tree[-1]
        start = np.arange(0, len(last.low), _BRANCHES)
        low, high = np.minimum.reduceat(last.low, start), np.maximum.reduceat(last.high, start)
        middle = (low + high) / 2
        owner = np.arange(len(last.low)) // _BRANCHES
        reach = np.sqrt(((last.middle - middle[owner]) ** 2).sum(axis=1)) + last.radius
        tree.append(_Groups(low, high, middle, np.maximum.reduceat(reach, start)))
    return tree


def _level(tree: list[_Groups], level: int) -> _Groups:
    return tree[min(max(level, 0), len(tree) - 1)]


def _children(pairs: NDArray[np.intp], trees: tuple[list[_Groups], list[_Groups]], level: int) -> NDArray[np.intp]:
    """Pairs of groups one level down; a tree that has but one group there keeps it."""
    numbers = []
    for column, tree in enumerate(trees):
        number = pairs[:, column, None]
        if level < len(tree) - 1:
            number = number * _BRANCHES + np.arange(_BRANCHES)
        numbers.append(np.where(number < len(_level(tree, level).low), number, -1))
    one, other = np.broadcast_arrays(numbers[0][:, :, None], numbers[1][:, None, :])
    there = (one >= 0) & (other >= 0)
    return np.column_stack([one[there], other[there]])


def _gap(one: _Groups, mine: NDArray[np.intp], other: _Groups, theirs: NDArray[np.intp]) -> Floats:
    """What groups are apart at the least, (n,) mm, by their balls and their boxes."""
    apart = one.middle[mine] - other.middle[theirs]
    balls = np.sqrt((apart * apart).sum(axis=1)) - one.radius[mine] - other.radius[theirs]
    boxes = _box_gap(one.low[mine], one.high[mine], other.low[theirs], other.high[theirs])
    return np.asarray(np.maximum(balls, boxes))


def _blocks(count: int) -> list[tuple[int, int]]:
    """Beginnings and ends of blocks that grow: the first ones tell what the others need not look at."""
    ends = [0]
    while ends[-1] < count:
        ends.append(min(count, max(64, 4 * ends[-1]), ends[-1] + _AT_ONCE))
    return list(pairwise(ends))


def pair_distances(one: Floats, other: Floats) -> Floats:
    """Distance [mm] of each triangle of one (n, 3, 3) to that of the other in the same place, (n,)."""
    edge1, edge2 = np.roll(one, -1, axis=1) - one, np.roll(other, -1, axis=1) - other
    found = [_edges_apart(one, edge1, other, edge2), _corners_apart(one, other), _corners_apart(other, one)]
    nearest = np.sqrt(np.min(found, axis=0))
    crossing = _runs_through(one, edge1, other) | _runs_through(other, edge2, one)
    return np.where(crossing, 0.0, nearest)


def way_clear(moving: Floats, still: Floats, direction: Floats) -> float:
    """How far [mm] triangles must move along a unit vector (3,) until they no longer cut others, the least such way.

    Each pair of triangles is in touch for one stretch of the way, as both are convex; the way ends at the end of the
    stretches that follow each other without a gap from 0 on.
    """
    low, high = _touching(moving, still, direction)
    end = 0.0
    for first, last in sorted(zip(low, high, strict=True)):
        if first > end + _ASIDE:
            break
        end = max(end, last)
    return end


def _edges_apart(one: Floats, edge1: Floats, other: Floats, edge2: Floats) -> Floats:
    """Least squared distance between the edges of two triangles, all nine pairs. Ericson, section 5.1.9."""
    p, d = one[:, :, None], edge1[:, :, None]
    q, e = other[:, None], edge2[:, None]
    r = p - q
    a, b, c = (d * d).sum(axis=-1), (d * e).sum(axis=-1), (d * r).sum(axis=-1)
    f, g = (e * e).sum(axis=-1), (e * r).sum(axis=-1)
    spread = a * f - b * b
    s = np.clip(np.where(spread > 1e-14 * a * f, (b * g - c * f) / np.maximum(spread, _TINY), 0.0), 0, 1)
    t = np.clip((b * s + g) / np.maximum(f, _TINY), 0, 1)
    s = np.clip((b * t - c) / np.maximum(a, _TINY), 0, 1)
    gap = r + s[..., None] * d - t[..., None] * e
    return np.asarray((gap * gap).sum(axis=-1).min(axis=(1, 2)))


def _corners_apart(corner: Floats, face: Floats) -> Floats:
    """Least squared distance of the corners of triangles to the planes of others, if their foot is inside; or inf."""
    edge = np.roll(face, -1, axis=1) - face
    normal = np.cross(edge[:, 0], edge[:, 1])
    square = (normal * normal).sum(axis=1)
    from_face = corner[:, :, None] - face[:, None]  # (n, corners, corners of the face, 3)
    side = (np.cross(edge[:, None], from_face) * normal[:, None, None]).sum(axis=-1)
    inside = (side >= 0).all(axis=2) & (square > _TINY)[:, None]
    height = (from_face[:, :, 0] * normal[:, None]).sum(axis=-1)
    return np.asarray(np.where(inside, height**2 / np.maximum(square, _TINY)[:, None], inf).min(axis=1))


def _runs_through(corner: Floats, edge: Floats, face: Floats) -> NDArray[np.bool_]:
    """Whether an edge of a triangle meets the face of another, (n,)."""
    border = np.roll(face, -1, axis=1) - face
    normal = np.cross(border[:, 0], border[:, 1])
    start = ((corner - face[:, :1]) * normal[:, None]).sum(axis=-1)  # (n, 3)
    fall = -(edge * normal[:, None]).sum(axis=-1)
    share = np.where(fall != 0, start / np.where(fall == 0, 1.0, fall), -1.0)
    meeting = corner + share[..., None] * edge
    side = (np.cross(border[:, None], meeting[:, :, None] - face[:, None]) * normal[:, None, None]).sum(axis=-1)
    return np.asarray(((share >= 0) & (share <= 1) & (side >= 0).all(axis=2) & (fall != 0)).any(axis=1))


def _in_order(corner: Floats) -> Floats:
    """The same triangles, neighbours near each other: along a curve that fills space (Morton, 1966, from memory)."""
    middle = corner.mean(axis=1)
    low, high = middle.min(axis=0), middle.max(axis=0)
    cell = ((middle - low) / np.maximum(high - low, 1e-9) * 1023).astype(np.int64)
    key = np.zeros(len(corner), np.int64)
    for bit in range(10):
        for axis in range(3):
            key |= ((cell[:, axis] >> bit) & 1) << (3 * bit + axis)
    return np.asarray(corner[np.argsort(key, kind="stable")])


def _first_guess(one: Floats, other: Floats) -> float:
    """A distance between two corners, a little more than the least one: from corner to nearest corner and back."""
    mine, theirs = one.reshape(-1, 3), other.reshape(-1, 3)
    some, others = mine[:: max(1, len(mine) // 300)], theirs[:: max(1, len(theirs) // 300)]
    apart = ((some[:, None] - others) ** 2).sum(axis=2)
    point = some[int(apart.argmin()) // len(others)]
    for cloud in (theirs, mine) * _RETURNS:
        gap = ((cloud - point) ** 2).sum(axis=1)
        point = cloud[int(gap.argmin())]
    return float(np.sqrt(gap.min()) * (1 + 1e-9) + 1e-9)


def _boxes(corner: Floats) -> tuple[Floats, Floats]:
    return corner.min(axis=1), corner.max(axis=1)


def _box_gap(low1: Floats, high1: Floats, low2: Floats, high2: Floats) -> Floats:
    apart = np.maximum(np.maximum(low1 - high2, low2 - high1), 0)
    return np.asarray(np.sqrt((apart * apart).sum(axis=-1)))


def _touching(moving: Floats, still: Floats, direction: Floats) -> tuple[Floats, Floats]:
    """Stretches of the way along which pairs of triangles touch, as their beginnings and ends (n,) mm from 0 on.

    Seen along the way the two are flat figures; the stretch ends where corner lies on face or edge on edge, as the
    height of each over that picture is linear.
    """
    moving, still = _in_order(moving), _in_order(still)
    reach = float(np.linalg.norm(np.ptp(np.concatenate([moving, still]).reshape(-1, 3), axis=0)))
    low1, high1 = _boxes(moving)
    low2, high2 = _boxes(still)
    # The boxes of what moves, drawn out along the whole way.
    drawn = reach * direction
    low1, high1 = np.minimum(low1, low1 + drawn), np.maximum(high1, high1 + drawn)
    group = np.arange(0, len(still), _GROUP)
    group_low, group_high = np.minimum.reduceat(low2, group), np.maximum.reduceat(high2, group)
    starts, ends = [np.empty(0)], [np.empty(0)]
    for first in range(0, len(moving), _GROUP):
        block = slice(first, first + _GROUP)
        low, high = low1[block], high1[block]
        met = _box_gap(low.min(axis=0), high.max(axis=0), group_low, group_high) <= _ASIDE
        theirs = np.flatnonzero(np.repeat(met, _GROUP)[: len(still)])
        near1, near2 = np.nonzero(_box_gap(low[:, None], high[:, None], low2[theirs], high2[theirs]) <= _ASIDE)
        near2 = theirs[near2]
        one, other = moving[block][near1], still[near2]
        times = [_to_faces(one, other, direction), -_to_faces(other, one, direction), _to_edges(one, other, direction)]
        time = np.concatenate(times, axis=1)
        known = np.isfinite(time)
        some = known.any(axis=1)
        begun = np.where(known, time, inf).min(axis=1)[some]
        ended = np.where(known, time, -inf).max(axis=1)[some]
        later = ended > 0
        starts.append(begun[later])
        ends.append(ended[later])
    return np.concatenate(starts), np.concatenate(ends)


def _to_faces(corner: Floats, face: Floats, way: Floats) -> Floats:
    """How far each corner (n, 3, 3) is from the face along the way, (n, 3); nan where it passes beside it."""
    border = np.roll(face, -1, axis=1) - face
    normal = np.cross(border[:, 0], border[:, 1])
    fall = normal @ way
    steep = np.abs(fall) > _FLAT * np.sqrt((normal * normal).sum(axis=1))
    height = ((face[:, :1] - corner) * normal[:, None]).sum(axis=-1)
    time = height / np.where(steep, fall, 1.0)[:, None]
    meeting = corner + time[..., None] * way
    side = (np.cross(border[:, None], meeting[:, :, None] - face[:, None]) * normal[:, None, None]).sum(axis=-1)
    inside = (side >= -_FLAT * (normal * normal).sum(axis=1)[:, None, None]).all(axis=2)
    return np.where(inside & steep[:, None], time, np.nan)


def _to_edges(one: Floats, other: Floats, way: Floats) -> Floats:
    """How far each edge of one is from each edge of the other along the way, (n, 9); nan where they pass."""
    d, e = (np.roll(each, -1, axis=1) - each for each in (one, other))
    p, d, q, e = one[:, :, None], d[:, :, None], other[:, None], e[:, None]
    across = np.cross(d, e)  # (n, 3, 3, 3)
    spread = across @ way
    steep = np.abs(spread) > _FLAT * np.sqrt((across * across).sum(axis=-1)).clip(_TINY)
    safe = np.where(steep, spread, 1.0)
    gap = q - p
    s = (np.cross(gap, e) @ way) / safe
    t = (np.cross(gap, d) @ way) / safe
    time = (gap * across).sum(axis=-1) / safe
    meeting = steep & (s >= -_FLAT) & (s <= 1 + _FLAT) & (t >= -_FLAT) & (t <= 1 + _FLAT)
    return np.where(meeting, time, np.nan).reshape(len(one), 9)
