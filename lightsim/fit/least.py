"""The least value of a convex function on triangles, and how far a part has to move to be clear of a region."""

from __future__ import annotations

from itertools import combinations
from math import inf

import numpy as np

from lightsim.fit.regions import Floats, Region, shifted

TOLERANCE = 1e-3  # mm
_AT_ONCE = 20_000  # triangles
_PAIRS = np.array(list(combinations(range(4), 2)))  # of the three corners and the middle
_FEWEST_SLOPE = 1e-12
_MOST_STEPS = 400
_ROUGHLY = 0.1  # of the depth: how exactly a step on the way out is reckoned
FARTHEST = 1000.0  # mm: nobody moves a part by more


def least(region: Region, corner: Floats, *, below: float = inf, share: float = 0.0) -> tuple[float, Floats]:
    """Least value [mm] of a region's function on triangles (m, 3, 3), to TOLERANCE, and the point (3,) that has it.

    below: values from there on are not told apart; inf and no point stand for them. share: of the value by which it
    may be off as well, which is quicker. Branch and bound: a convex
    function lies above each of its tangents, and above every mean of two of them, whose least value on a triangle is
    at a corner. What may still go lower is cut into four.
    """
    best, where = below, np.full(3, np.nan)
    waiting = [corner[first : first + _AT_ONCE] for first in range(0, len(corner), _AT_ONCE)]
    while waiting:
        piece = waiting.pop()
        middle = piece.mean(axis=1)
        value, slope = region(middle)
        if value.min() < best:
            best, where = float(value.min()), middle[int(value.argmin())]
        lowest_there = value + ((piece - middle[:, None]) @ slope[:, :, None])[..., 0].min(axis=1)
        piece = piece[lowest_there < best - TOLERANCE]
        if not len(piece):
            continue
        spot = np.concatenate([piece, piece.mean(axis=1, keepdims=True)], axis=1)  # (n, 4, 3)
        value, slope = region(spot.reshape(-1, 3))
        value, slope = value.reshape(-1, 4), slope.reshape(-1, 4, 3)
        lowest = int(value.argmin())
        if value.flat[lowest] < best:
            best, where = float(value.flat[lowest]), spot.reshape(-1, 3)[lowest]
        enough = best - max(TOLERANCE, share * abs(best) if best < inf else 0.0)
        step = piece[:, None] - spot[:, :, None]  # (n, 4 tangents, 3 corners, 3)
        tangent = value[:, :, None] + (slope[:, :, None] * step).sum(axis=3)
        open_ones = np.flatnonzero(tangent.min(axis=2).max(axis=1) < enough)
        open_ones = open_ones[_joint(tangent[open_ones]) < enough]
        children = _quartered(piece[open_ones])
        waiting.extend(children[first : first + _AT_ONCE] for first in range(0, len(children), _AT_ONCE))
    return (best, where) if best < below else (inf, where)


def _joint(tangent: Floats) -> Floats:
    """The best lower bound (n,) that the means of two of the tangents give, which have values (n, 4, 3) at corners."""
    one, other = tangent[:, _PAIRS[:, 0]], tangent[:, _PAIRS[:, 1]]  # (n, 6, 3)
    change = other - one
    # The least of three linear functions of the weight is largest at an end or where two of them are equal.
    weights = [np.zeros(one.shape[:2]), np.ones(one.shape[:2])]
    for first, second in ((0, 1), (0, 2), (1, 2)):
        slope = change[..., first] - change[..., second]
        flat = np.abs(slope) < _FEWEST_SLOPE
        crossing = (one[..., second] - one[..., first]) / np.where(flat, 1.0, slope)
        weights.append(np.clip(np.where(flat, 0.0, crossing), 0, 1))
    bounds = [(one + weight[..., None] * change).min(axis=2).max(axis=1) for weight in weights]
    return np.asarray(np.max(bounds, axis=0)) if len(tangent) else np.empty(0)


def _quartered(corner: Floats) -> Floats:
    a, b, c = corner[:, 0], corner[:, 1], corner[:, 2]
    ab, bc, ca = (a + b) / 2, (b + c) / 2, (c + a) / 2
    quarters = ((a, ab, ca), (ab, b, bc), (ca, bc, c), (ab, bc, ca))
    return np.concatenate([np.stack(quarter, axis=1) for quarter in quarters])


def clipped(corner: Floats, *, low: float = -inf, high: float = inf, way: Floats | None = None) -> Floats:
    """The pieces, as triangles, of triangles (m, 3, 3) whose height along way (3,), by default z, is within bounds."""
    along = np.array([0.0, 0.0, 1.0]) if way is None else way
    for sign, bound in ((1.0, low), (-1.0, -high)):
        if bound > -inf:
            corner = _half(corner, sign * along, bound)
    return corner


def _half(corner: Floats, way: Floats, bound: float) -> Floats:
    height = corner @ way - bound  # (m, 3)
    inside = height >= 0
    count = inside.sum(axis=1)
    whole, one, two = corner[count == 3], count == 1, count == 2
    pieces = [whole]
    if one.any():
        tip, next_one, last = _turned(corner[one], height[one], inside[one].argmax(axis=1))
        pieces.append(np.stack([tip[0], _cut(tip, next_one), _cut(tip, last)], axis=1))
    if two.any():
        gone, next_one, last = _turned(corner[two], height[two], (~inside[two]).argmax(axis=1))
        first, second = _cut(gone, next_one), _cut(gone, last)
        pieces.append(np.stack([first, next_one[0], last[0]], axis=1))
        pieces.append(np.stack([first, last[0], second], axis=1))
    return np.concatenate(pieces)


_End = tuple[Floats, Floats]  # corners (n, 3) and their heights (n,)


def _turned(
    corner: Floats, height: Floats, first: np.ndarray[tuple[int], np.dtype[np.intp]]
) -> tuple[_End, _End, _End]:
    """Corners and heights of triangles, begun at the numbered corner of each."""
    row = np.arange(len(corner))
    one, two, three = ((corner[row, (first + k) % 3], height[row, (first + k) % 3]) for k in range(3))
    return one, two, three


def _cut(start: _End, end: _End) -> Floats:
    share = start[1] / (start[1] - end[1])
    return np.asarray(start[0] + share[:, None] * (end[0] - start[0]))


def way_out(region: Region, corner: Floats, direction: Floats, *, most: float = FARTHEST) -> float:
    """How far [mm] triangles must move along a unit vector (3,) to be clear of a region; inf if more than most.

    The least such distance: a part may come clear where a hole of it passes over the region. For a function that
    changes by at most 1 mm for each mm along that way, which a step of its depth, or less, cannot overshoot.
    """
    moved = 0.0
    for _ in range(_MOST_STEPS):
        value, _ = least(shifted(region, moved * direction), corner, below=0.0, share=_ROUGHLY)
        if value > -TOLERANCE:
            return moved
        moved -= value
        if moved > most:
            break
    return inf


def play(region: Region, corner: Floats, direction: Floats, *, most: float) -> float:
    """How far [mm] triangles can move along a unit vector (3,) until they touch a region; most if farther."""
    moved = 0.0
    for _ in range(_MOST_STEPS):
        value, _ = least(shifted(region, moved * direction), corner, below=most - moved + TOLERANCE)
        if value <= TOLERANCE:
            return moved
        moved += value
        if moved >= most:
            break
    return most
