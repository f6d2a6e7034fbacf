"""The walls of a box, each seen from outside, and how they are laid flat beside each other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from lightsim.pattern.piece import Ring
from lightsim.rig import hollow

Pair = tuple[int, int]  # corners of the box at the ends of an edge


@dataclass(frozen=True)
class Wall:
    """A wall by itself, seen from outside."""

    name: str
    middle: NDArray[np.float64]  # (3,)
    axes: NDArray[np.float64]  # (2, 3) unit: right and up of its own drawing
    normal: NDArray[np.float64]  # (3,) unit, outward, toward the eye
    ring: Ring  # (4, 2), anticlockwise
    corners: tuple[int, ...]  # of the box, in the order of ring


@dataclass(frozen=True)
class Set:
    """A wall in its place on the net: place = turn @ own + shift."""

    wall: Wall
    turn: NDArray[np.float64]  # (2, 2)
    shift: NDArray[np.float64]  # (2,)

    @property
    def ring(self) -> Ring:
        """Its corners (4, 2) on the net."""
        return self.wall.ring @ self.turn.T + self.shift

    def corner(self, number: int) -> NDArray[np.float64]:
        """A corner of the box, (2,) on the net."""
        return np.asarray(self.ring[self.wall.corners.index(number)])


def wall_of(corners: NDArray[np.float64], name: str) -> Wall:
    middle, (across, upward) = hollow.wall_frame(corners, name)
    number = list(hollow.WALLS[name])
    normal = np.cross(across, upward)
    if normal @ (middle - corners.mean(axis=0)) < 0:
        # Seen from outside, right and left change sides.
        across, normal = -across, -normal
    axes = np.array([across, upward])
    ring = (corners[number] - middle) @ axes.T
    if (ring[:, 0] * np.roll(ring[:, 1], -1) - ring[:, 1] * np.roll(ring[:, 0], -1)).sum() < 0:
        ring, number = ring[::-1].copy(), number[::-1]
    return Wall(name, middle, axes, normal, ring, tuple(number))


def shared_edges(walls: dict[str, Wall]) -> dict[tuple[str, str], Pair]:
    """The edges that two walls have in common."""
    found = {}
    for one, other in combinations(walls, 2):
        common = [corner for corner in walls[one].corners if corner in walls[other].corners]
        if len(common) == 2:
            found[one, other] = (common[0], common[1])
    return found


def fold_angle(one: Wall, other: Wall) -> float:
    """Radians by which the sheet turns from one wall to the other."""
    return float(np.arccos(np.clip(one.normal @ other.normal, -1.0, 1.0)))


def allowance(angle: float, thickness: float) -> float:
    """How much longer the flat is for a fold, mm."""
    return abs(angle) * thickness / 2


def trees_of(names: Sequence[str], chosen: Sequence[tuple[str, str]]) -> list[list[str]]:
    """Groups of walls joined by the chosen folds, in order; too few of them where folds go round."""
    group = {name: k for k, name in enumerate(names)}
    for one, other in chosen:
        if group[one] == group[other]:
            return []
        old, new = group[other], group[one]
        group = {name: new if k == old else k for name, k in group.items()}
    return [[name for name in names if group[name] == k] for k in dict.fromkeys(group.values())]


def unfolded(
    walls: dict[str, Wall],
    shared: dict[tuple[str, str], Pair],
    chosen: Sequence[tuple[str, str]],
    tree: Sequence[str],
    thickness: float,
) -> dict[str, Set]:
    """The walls of one tree in the plane, the first as it is."""
    sets = {tree[0]: Set(walls[tree[0]], np.eye(2), np.zeros(2))}
    waiting = [tree[0]]
    while waiting:
        here = waiting.pop(0)
        for pair in chosen:
            if here not in pair:
                continue
            there = pair[1] if pair[0] == here else pair[0]
            if there in sets:
                continue
            sets[there] = _beside(sets[here], walls[there], shared[pair], thickness)
            waiting.append(there)
    return _straightened(sets)


def _straightened(sets: dict[str, Set]) -> dict[str, Set]:
    """The same turned so that the upright rectangle about it is smallest; one of its sides lies along some edge."""
    points = np.concatenate([placed.ring for placed in sets.values()])
    edges = np.concatenate([np.roll(placed.ring, -1, axis=0) - placed.ring for placed in sets.values()])
    angle = np.concatenate([[0.0], np.mod(np.arctan2(edges[:, 1], edges[:, 0]), np.pi / 2)])
    turns = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]]).transpose(2, 0, 1)
    area = np.ptp(points @ turns.transpose(0, 2, 1), axis=1).prod(axis=1)
    # The first that is smallest but for rounding, which is as it stands if nothing is to be won.
    turn = turns[int(np.argmax(area < area.min() * (1 + 1e-9)))]
    return {name: Set(placed.wall, turn @ placed.turn, turn @ placed.shift) for name, placed in sets.items()}


def _beside(placed: Set, wall: Wall, pair: Pair, thickness: float) -> Set:
    """A wall laid beside one that is in its place, across their common edge and its bend allowance."""
    start, end = placed.corner(pair[0]), placed.corner(pair[1])
    own_start, own_end = (wall.ring[wall.corners.index(corner)] for corner in pair)
    along, own = end - start, own_end - own_start
    cosine, sine = own @ along, own[0] * along[1] - own[1] * along[0]
    turn = np.array([[cosine, -sine], [sine, cosine]]) / np.hypot(cosine, sine)
    gap = allowance(fold_angle(placed.wall, wall), thickness) * _outward(placed, pair)
    return Set(wall, turn, start - turn @ own_start + gap)


def _outward(placed: Set, pair: Pair) -> NDArray[np.float64]:
    along = placed.corner(pair[1]) - placed.corner(pair[0])
    normal = np.array([along[1], -along[0]]) / np.linalg.norm(along)
    return np.asarray(normal if normal @ (placed.ring.mean(axis=0) - placed.corner(pair[0])) < 0 else -normal)
