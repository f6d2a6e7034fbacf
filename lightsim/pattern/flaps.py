"""Glue tabs of nets: where two walls meet without a fold, one of them gets a tab that lies inside the other."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.affinity import translate
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from lightsim.pattern.developed import Stock
from lightsim.pattern.piece import Fold, Label, Ring, Tab
from lightsim.pattern.rings import GRID, ROOT, middle, polygons, reading_angle, rings, roomiest
from lightsim.pattern.walls import Set

LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
LETTER = 4.0  # mm, height of the letters of joints
_INSET = 0.5  # mm: tabs stop short of the corners of the box
_ROUND_HOLES = 1.0  # mm: and of the holes of the wall that they lie under
_STEEPEST = np.pi / 4  # of the ends of a tab against its fold
# Where there is no room: shares of the width asked for, and of the edge that is left free at both ends. What is in the
# way mostly stands at one end of the edge, where two walls of the net part at a narrow angle.
_SHRINK = ((1.0, 0.0), (1.0, 0.1), (0.7, 0.15), (0.5, 0.25), (0.35, 0.35))
_LEAST = 2.5  # mm: a narrower tab holds no glue
_CLEAR = 0.25  # mm, between a tab and what lies beside it
_TOUCH = 1e-5  # mm^2, of rounding


@dataclass(frozen=True)
class Joint:
    """An edge of the box where two walls meet that are not folded from one another."""

    one: str
    other: str
    pair: tuple[int, int]  # corners of the box
    angle: float  # radians between the walls' outward normals


@dataclass(frozen=True)
class _Flap:
    tree: int
    shape: BaseGeometry  # with its bend allowance
    tab: Tab
    fold: Fold
    share: float  # where along the edge its middle lies, from the first corner of the joint
    under: Polygon  # where it lies once it is folded, in the drawing of the wall that it is glued to


def closed(
    joints: Sequence[Joint],
    sets: Sequence[dict[str, Set]],
    faces: Sequence[BaseGeometry],
    holes: dict[str, list[Ring]],
    stock: Stock,
) -> tuple[list[BaseGeometry], list[tuple[Tab, ...]], list[tuple[Fold, ...]], list[tuple[Label, ...]]]:
    """Shapes, tabs, folds and letters of each tree of walls.

    Where no tab finds room, the edges bear their letter alone, to be taped.
    """
    shapes = list(faces)
    tabs: list[list[Tab]] = [[] for _ in sets]
    folds: list[list[Fold]] = [[] for _ in sets]
    labels: list[list[Label]] = [[] for _ in sets]
    taken: dict[str, list[Polygon]] = {}  # by tabs, of each wall
    for letter, joint in zip(LETTERS, joints, strict=False):
        found = _flap(joint, letter, sets, shapes, holes, taken, stock) if stock.tab > 0 else None
        if found is not None:
            taken.setdefault(found.tab.onto, []).append(found.under)
            shapes[found.tree] = shapely.union(shapes[found.tree], found.shape, grid_size=GRID)
            tabs[found.tree].append(found.tab)
            folds[found.tree].append(found.fold)
            height = min(LETTER, 0.6 * _height(found.tab.outline, found.fold))
            labels[found.tree].append(
                Label(letter, middle(found.tab.outline), height, reading_angle(found.fold.start, found.fold.end))
            )
        for name in (joint.one, joint.other):
            if found is None or name == found.tab.onto:
                tree = _tree_of(name, sets)
                labels[tree].append(_at_edge(sets[tree][name], joint, letter, holes[name], found))
    return shapes, [tuple(each) for each in tabs], [tuple(each) for each in folds], [tuple(each) for each in labels]


def _tree_of(name: str, sets: Sequence[dict[str, Set]]) -> int:
    return next(k for k, of_tree in enumerate(sets) if name in of_tree)


def _height(outline: Ring, fold: Fold) -> float:
    along = (fold.end - fold.start) / np.linalg.norm(fold.end - fold.start)
    return float(np.ptp((outline - fold.start) @ np.array([-along[1], along[0]])))


def _flap(
    joint: Joint,
    letter: str,
    sets: Sequence[dict[str, Set]],
    shapes: Sequence[BaseGeometry],
    holes: dict[str, list[Ring]],
    taken: Mapping[str, Sequence[Polygon]],
    stock: Stock,
) -> _Flap | None:
    """The widest tab that has room, on one of the two walls."""
    for share, back in _SHRINK:
        for host, onto in ((joint.one, joint.other), (joint.other, joint.one)):
            if share * stock.tab < min(_LEAST, stock.tab):
                return None
            tree = _tree_of(host, sets)
            goal = sets[_tree_of(onto, sets)][onto]
            flap = _try(
                joint,
                letter,
                sets[tree][host],
                goal,
                holes[onto],
                width=share * stock.tab,
                back=back,
                thickness=stock.thickness,
                tree=tree,
            )
            if flap is None or any(flap.under.distance(other) < _CLEAR for other in taken.get(onto, ())):
                continue
            if _free(flap, shapes[tree]):
                return flap
    return None


def _free(flap: _Flap, shape: BaseGeometry) -> bool:
    """Whether a tab, but for its foot, keeps away from everything else on its net."""
    foot = (flap.fold.start + flap.fold.end) / 2
    along = (flap.fold.end - flap.fold.start) / np.linalg.norm(flap.fold.end - flap.fold.start)
    away = np.array([-along[1], along[0]])
    if away @ (roomiest(flap.tab.outline) - foot) < 0:
        away = -away
    moved = translate(flap.shape, *((_CLEAR + 0.05) * away))
    # Lifted by as much as it is rooted in its wall, it touches nothing at all.
    lifted = translate(flap.shape, *(2 * ROOT * away))
    meets = shapely.intersection(lifted, shape, grid_size=GRID).area
    return bool(moved.buffer(_CLEAR).disjoint(shape)) and meets < _TOUCH


def _try(
    joint: Joint,
    letter: str,
    host: Set,
    goal: Set,
    holes: Sequence[Ring],
    *,
    width: float,
    back: float,
    thickness: float,
    tree: int,
) -> _Flap | None:
    """A tab of this width on a wall, cut to what it lies under once it is folded; None if little is left of it.

    back : share of the edge that stays free at both ends
    """
    first, last = joint.pair
    start, end = host.corner(first), host.corner(last)
    length = float(np.linalg.norm(end - start))
    inset = _INSET + thickness / 2
    if length < 4 * inset:
        return None
    along = (end - start) / length
    outward = np.array([along[1], -along[0]])
    if outward @ (host.ring.mean(axis=0) - start) > 0:
        outward = -outward
    own, depth_way = _frame(goal, joint.pair)
    goal_ring = np.stack([(goal.wall.ring - own) @ depth_way[0], (goal.wall.ring - own) @ depth_way[1]], axis=1)
    under = shapely.intersection(
        _trapezoid(goal_ring, length, width, inset + back * length), Polygon(goal_ring), grid_size=GRID
    )
    for hole in holes:
        ring = np.stack([(hole - own) @ depth_way[0], (hole - own) @ depth_way[1]], axis=1)
        # And nothing beyond a hole, which would be a hole in the tab.
        near = Polygon(ring).buffer(_ROUND_HOLES)
        beyond = shapely.union(near, translate(near, 0.0, 2 * width)).convex_hull
        under = shapely.difference(under, beyond, grid_size=GRID)
    base = [part for part in polygons(under) if part.bounds[1] < 1e-6]
    # What is not even as wide as its bend does not lie down.
    gap = joint.angle * thickness / 2
    if not base or base[0].bounds[3] < max(min(_LEAST, width), 2 * gap) - 1e-9:
        return None
    ring, _ = rings(base[0])
    ring[ring[:, 1] < 1e-6, 1] = 0.0
    low, high = ring[ring[:, 1] < 1e-6, 0].min(), ring[ring[:, 1] < 1e-6, 0].max()
    if high - low < 4 * inset:
        return None
    outline = start + ring[:, :1] * along + (gap + ring[:, 1:]) * outward
    foot, top = start + low * along, start + high * along
    # Rooted in the wall by a hair, so that rounding leaves no gap between them.
    root, over = -ROOT * outward, gap * outward
    strip = Polygon([foot + root, top + root, top + over, foot + over])
    fold = Fold(foot + gap / 2 * outward, top + gap / 2 * outward, joint.angle)
    shape = shapely.union(Polygon(outline), strip, grid_size=GRID)
    folded = Polygon(own + ring @ depth_way)
    tab = Tab(outline, letter, goal.wall.name)
    return _Flap(tree, shape, tab, fold, float((low + high) / 2 / length), folded)


def _frame(goal: Set, pair: tuple[int, int]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Origin (2,) and axes (2, 2), along an edge and into the wall, in the wall's own drawing."""
    ring, corners = goal.wall.ring, goal.wall.corners
    start, end = ring[corners.index(pair[0])], ring[corners.index(pair[1])]
    along = (end - start) / np.linalg.norm(end - start)
    into = np.array([-along[1], along[0]])
    if into @ (ring.mean(axis=0) - start) < 0:
        into = -into
    return start, np.array([along, into])


def _trapezoid(goal: Ring, length: float, width: float, inset: float) -> Polygon:
    """A tab along the base y = 0, its ends cut back so that two tabs at a corner of the goal do not meet."""
    angles = [_corner_angle(goal, np.array(corner)) for corner in ([0.0, 0.0], [length, 0.0])]
    run = [1 / np.tan(min(_STEEPEST, angle / 2)) for angle in angles]
    base = length - 2 * inset
    height = min(width, 0.8 * base / sum(run))
    return Polygon(
        [
            (inset, 0.0),
            (length - inset, 0.0),
            (length - inset - run[1] * height, height),
            (inset + run[0] * height, height),
        ]
    )


def _corner_angle(ring: Ring, corner: NDArray[np.float64]) -> float:
    """Angle [rad] of a polygon at the corner nearest to a point."""
    k = int(np.argmin(np.linalg.norm(ring - corner, axis=1)))
    before, after = ring[k - 1] - ring[k], ring[(k + 1) % len(ring)] - ring[k]
    cosine = before @ after / np.linalg.norm(before) / np.linalg.norm(after)
    return float(np.arccos(np.clip(cosine, -1.0, 1.0)))


def _at_edge(placed: Set, joint: Joint, letter: str, holes: Sequence[Ring], flap: _Flap | None) -> Label:
    """A letter just inside an edge, where its tab comes, or elsewhere along it if a hole is in the way."""
    pair = joint.pair
    own, axes = _frame(placed, pair)
    length = float(np.linalg.norm(placed.corner(pair[1]) - placed.corner(pair[0])))
    inside = Polygon(placed.wall.ring)
    cut = shapely.union_all([Polygon(hole) for hole in holes]) if holes else Polygon()
    for share in (flap.share if flap else 0.5, 0.5, 0.3, 0.7, 0.15, 0.85):
        place = own + share * length * axes[0] + 0.9 * LETTER * axes[1]
        if inside.covers(Point(place)) and cut.distance(Point(place)) > LETTER / 2:
            break
    else:
        place = np.array(LineString([own, own + length * axes[0]]).centroid.coords[0])
        place = place + 0.1 * (placed.wall.ring.mean(axis=0) - place)
    turned = placed.turn @ place + placed.shift
    return Label(letter, turned, LETTER, reading_angle(placed.corner(pair[0]), placed.corner(pair[1])))
