"""Patterns of boxes and funnels: a net of walls, folded along score lines, closed by glue tabs.

Of all ways to leave walls joined, the one is taken that needs the fewest pieces for the sheet, and then the smallest
rectangle. The inside keeps its measures: at a fold of angle t in a sheet of thickness d the flat grows by t d / 2 (bend
allowance of an inside radius of 0 with the neutral line in the middle, Machinery's Handbook, from memory).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.affinity import affine_transform
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from lightsim.pattern.developed import Developed, Edge, Flat, Opening, Stock, made
from lightsim.pattern.flaps import Joint, closed
from lightsim.pattern.panels import opening_size
from lightsim.pattern.piece import Fold, Label, Ring, Tab
from lightsim.pattern.rings import GRID, cut_out, polygons, reading_angle
from lightsim.pattern.sizes import has_room
from lightsim.pattern.walls import Pair, Set, Wall, fold_angle, shared_edges, trees_of, unfolded, wall_of
from lightsim.rig import hollow
from lightsim.rig.holes import RoundHole
from lightsim.rig.shells import SIDES, WALLS, Box, Funnel, shell_corners

_NAME = 3.0  # mm, height of the names of walls
_TOUCH = 1e-3  # mm^2: neighbours share a line, not an area
_KNIFE = 0.05  # mm: half of what lies between walls that can be cut apart
_BESIDE = 5.0  # mm: walls that run closer than that for longer are too close
_TRIES = 40  # nets to which tabs are put before a box is cut in more pieces


def net(shape: Box | Funnel, stock: Stock) -> list[Developed]:
    """Pieces of a box or funnel, seen from outside."""
    corners = shell_corners(shape)
    present: list[str] = list(WALLS if isinstance(shape, Box) else SIDES)
    if isinstance(shape, Box):
        present = [name for name in present if name not in shape.open]
    walls = {name: wall_of(corners, name) for name in present}
    shared = shared_edges(walls)
    flats: list[Flat] = []
    for count in range(1, len(walls) + 1):
        for choice in _best(walls, shared, stock, count):
            flats = _flats(shape, corners, walls, shared, choice, stock)
            if all(_fits(flat.shape, stock.sheet) for flat in flats):
                return _pieces(flats, stock)
    return _pieces(flats, stock)  # wall by wall, though one of them is too large: whoever packs it says so


def _pieces(flats: Sequence[Flat], stock: Stock) -> list[Developed]:
    names = [stock.part] if len(flats) == 1 else [f"{stock.part}, {' and '.join(flat.walls[:2])}" for flat in flats]
    return [each for flat, name in zip(flats, names, strict=True) for each in made(flat, stock, name=name)]


def _best(
    walls: dict[str, Wall], shared: dict[tuple[str, str], Pair], stock: Stock, count: int
) -> Iterator[tuple[tuple[str, str], ...]]:
    """Ways to fold the walls in so many pieces: without overlap, those with room for tabs first, then
    those that a knife can cut, then the smallest."""
    found = []
    for chosen in combinations(shared, len(walls) - count):
        trees = trees_of(list(walls), chosen)
        if len(trees) != count:
            continue  # a circle of folds
        size, short, close = 0.0, 0, 0
        for tree in trees:
            rings = np.array(
                [placed.ring for placed in unfolded(walls, shared, chosen, tree, stock.thickness).values()]
            )
            nearness = _nearness(rings)
            if nearness == 2:
                break
            close = max(close, nearness)
            extent = np.ptp(rings.reshape(-1, 2), axis=0)
            size += float(extent.prod())
            short = max(short, _short_ofhas_room(extent, stock))
        else:
            found.append((short, close, round(size, 3), chosen))
    for short, *_, chosen in sorted(found)[:_TRIES]:
        if short < 2 or count == len(walls):
            yield chosen


def _short_ofhas_room(extent: NDArray[np.float64], stock: Stock) -> int:
    """0 where a net fits its sheet with tabs on all sides, 1 with tabs on some perhaps, 2 not at all."""
    return 0 if has_room(extent + 2 * stock.tab, stock.sheet) else 1 if has_room(extent, stock.sheet) else 2


def _nearness(rings: NDArray[np.float64]) -> int:
    """2 where walls of a net lie on each other, 1 where a knife could not part two that are not folded, 0 otherwise.

    Each fold brings two walls side by side; more such pairs than folds are too many.
    """
    if len(rings) < 3:
        return 0
    faces = shapely.polygons(rings)
    one, other = np.triu_indices(len(faces), 1)
    if (shapely.area(shapely.intersection(faces[one], faces[other])) > _TOUCH).any():
        return 2
    wide = shapely.buffer(faces, _KNIFE)
    side_by_side = shapely.area(shapely.intersection(wide[one], wide[other])) > _KNIFE * _BESIDE
    return int(side_by_side.sum() > len(rings) - 1)


def _fits(shape: BaseGeometry, sheet: tuple[float, float]) -> bool:
    low_x, low_y, high_x, high_y = shape.bounds
    return has_room(np.array([high_x - low_x, high_y - low_y]), sheet)


def _flats(
    shape: Box | Funnel,
    corners: NDArray[np.float64],
    walls: dict[str, Wall],
    shared: dict[tuple[str, str], Pair],
    chosen: Sequence[tuple[str, str]],
    stock: Stock,
) -> list[Flat]:
    """Each tree with its bend allowances, holes and glue tabs; letters run on from tree to tree."""
    trees = trees_of(list(walls), chosen)
    sets = [unfolded(walls, shared, chosen, tree, stock.thickness) for tree in trees]
    holes = {name: _holes(shape, corners, wall) for name, wall in walls.items()}
    faces = [_faces(of_tree, shared, chosen, holes, stock.thickness) for of_tree in sets]
    joints = [
        Joint(one, other, pair, fold_angle(walls[one], walls[other]))
        for (one, other), pair in shared.items()
        if (one, other) not in chosen
    ]
    shapes, tabs, folds, labels = closed(joints, sets, [face for face, _ in faces], holes, stock)
    flats = []
    for k, of_tree in enumerate(sets):
        flats.append(
            Flat(
                shapes[k],
                folds=(*faces[k][1], *folds[k]),
                tabs=tabs[k],
                labels=(*labels[k], *_names(shape, of_tree, holes)),
                edges=_free(of_tree, shared),
                walls=tuple(of_tree),
                openings=_openings(shape, corners, of_tree),
                notes=_notes(faces[k][1], tabs[k], labels[k], glued=any(tabs)),
                grain=_grain((*faces[k][1], *folds[k])),
            )
        )
    return flats


def _grain(folds: Sequence[Fold]) -> tuple[float, float] | None:
    """The way that most of the folding runs: paper folds cleanly along its grain (common practice, no source)."""
    if not folds:
        return None
    ways = np.array([fold.end - fold.start for fold in folds])
    # Lines have no sign: twice their angle has, so that opposite ways add up.
    turn = np.arctan2(ways[:, 1], ways[:, 0])
    length = np.linalg.norm(ways, axis=1)
    angle = np.arctan2((length * np.sin(2 * turn)).sum(), (length * np.cos(2 * turn)).sum()) / 2
    return float(np.cos(angle)), float(np.sin(angle))


def _notes(folds: Sequence[Fold], tabs: Sequence[Tab], letters: Sequence[Label], *, glued: bool) -> tuple[str, ...]:
    """What to do with what is drawn on a piece; glued: whether the box has tabs at all."""
    notes = ["Walls are named as the camera sees them."]
    if folds:
        notes.append("Crease the dashed lines on this side and fold them away from you.")
    if tabs:
        notes.append("Glue each tab inside, under the edge with the same letter.")
    elif letters and glued:
        notes.append("Edges with a letter go over the tab with the same letter.")
    elif letters:
        notes.append("Edges with the same letter meet: tape or glue them edge to edge.")
    return tuple(notes)


def _names(shape: Box | Funnel, sets: dict[str, Set], holes: dict[str, list[Ring]]) -> list[Label]:
    """The name of each wall on it, and where a funnel's end toward the camera is."""
    found = []
    for name, placed in sets.items():
        face = Polygon(placed.wall.ring).difference(shapely.union_all([Polygon(hole) for hole in holes[name]]))
        largest = polygons(face)
        if not largest:
            continue
        circle = shapely.maximum_inscribed_circle(largest[0], tolerance=0.5)
        middle, room = np.array(circle.coords[0]), float(circle.length)
        height = min(_NAME, 2 * room / len(name))
        along = placed.turn @ np.array([1.0, 0.0])
        angle = reading_angle(np.zeros(2), along)
        found.append(Label(name, placed.turn @ middle + placed.shift, height, angle))
        if isinstance(shape, Funnel) and name in ("top", "bottom"):
            near = placed.wall.ring[[placed.wall.corners.index(k) for k in hollow.WALLS[name] if k < 4]]
            foot = near.mean(axis=0) + 0.12 * (placed.wall.ring.mean(axis=0) - near.mean(axis=0))
            found.append(Label("end toward the camera", placed.turn @ foot + placed.shift, 0.7 * _NAME, angle))
    return found


def _holes(shape: Box | Funnel, corners: NDArray[np.float64], wall: Wall) -> list[Ring]:
    """Outlines of the holes of a wall, in its own drawing."""
    if isinstance(shape, Funnel):
        return []
    middle, axes = hollow.wall_frame(corners, wall.name)
    found = []
    for hole in shape.holes:
        if hole.wall == wall.name:
            ring = cut_out(hole)
            own = (ring @ axes + middle - wall.middle) @ wall.axes.T
            found.append(own)
    return found


def _faces(
    sets: dict[str, Set],
    shared: dict[tuple[str, str], Pair],
    chosen: Sequence[tuple[str, str]],
    holes: dict[str, list[Ring]],
    thickness: float,
) -> tuple[BaseGeometry, tuple[Fold, ...]]:
    """The walls of a tree joined over their folds, holes cut out, and the folds."""
    parts: dict[tuple[str, str], BaseGeometry] = {}
    folds = []
    for pair in chosen:
        if pair[0] not in sets:
            continue
        one, other = sets[pair[0]], sets[pair[1]]
        first, last = shared[pair]
        quad = np.array([one.corner(first), one.corner(last), other.corner(last), other.corner(first)])
        if thickness > 0:
            parts[pair] = Polygon(quad)
        folds.append(Fold((quad[0] + quad[3]) / 2, (quad[1] + quad[2]) / 2, fold_angle(one.wall, other.wall)))
    whole = shapely.union_all([*parts.values(), *(Polygon(placed.ring) for placed in sets.values())], grid_size=GRID)
    for name, placed in sets.items():
        # A hole that reaches over its wall's edge cuts into the bend, not into the next wall.
        bends = [part for pair, part in parts.items() if name in pair]
        near = shapely.union_all([Polygon(placed.ring), *bends], grid_size=GRID).buffer(GRID)
        for ring in holes[name]:
            cut = shapely.intersection(moved(Polygon(ring), placed), near, grid_size=GRID)
            whole = shapely.difference(whole, cut, grid_size=GRID)
    return whole, tuple(folds)


def moved(shape: BaseGeometry, placed: Set) -> BaseGeometry:
    """From a wall's own drawing to its place on the net."""
    (a, b), (c, d) = placed.turn
    return affine_transform(shape, [a, b, c, d, *placed.shift])


def _free(sets: dict[str, Set], shared: dict[tuple[str, str], Pair]) -> tuple[Edge, ...]:
    """Edges of walls on which no other wall stands."""
    taken = {frozenset(pair) for pair in shared.values()}
    edges = []
    for placed in sets.values():
        wall = placed.wall
        for first, last in zip(wall.corners, (*wall.corners[1:], wall.corners[0]), strict=True):
            if frozenset((first, last)) in taken:
                continue
            own = wall.ring[[wall.corners.index(first), wall.corners.index(last)]]
            local = own @ wall.axes + wall.middle
            along = (local[1] - local[0]) / np.linalg.norm(local[1] - local[0])
            edges.append(
                Edge(placed.corner(first), placed.corner(last), local, np.asarray(np.cross(wall.normal, along)))
            )
    return tuple(edges)


def _openings(shape: Box | Funnel, corners: NDArray[np.float64], sets: dict[str, Set]) -> tuple[Opening, ...]:
    if isinstance(shape, Funnel):
        return ()
    found = []
    for hole in shape.holes:
        if hole.wall in sets:
            middle, axes = hollow.wall_frame(corners, hole.wall)
            local = middle + np.array([hole.right, hole.up]) @ axes
            placed = sets[hole.wall]
            own = (local - placed.wall.middle) @ placed.wall.axes.T
            found.append(
                Opening(
                    middle=placed.turn @ own + placed.shift,
                    size=opening_size(hole),
                    round=isinstance(hole, RoundHole),
                    local=local,
                    axes=axes,
                )
            )
    return tuple(found)
