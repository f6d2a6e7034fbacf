"""Laying folded patterns against the triangles of the rig, and saying what is off. Derived here unless said."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np
import shapely
from folding import SLIGHT, Face, Motion, Region, Unfoldable, folded, raised

from lightsim.pattern.piece import Piece, Tab
from lightsim.rig.mesh import Mesh, corners

NEAR = 0.1  # mm, promised between the folded pattern and the rig
CRUMB = 0.01  # mm^2, at the tips where a round hole, a polygon in the rig, runs into an edge
REACH = 15.0  # mm, from a letter on a wall to its edge, at which nobody mistakes it


@dataclass(frozen=True)
class Wall:
    """A flat wall of the rig, its coordinates as seen from its back."""

    name: str
    region: Region  # (along axes[0], along axes[1])
    origin: np.ndarray  # (3,) mm
    axes: np.ndarray  # (3, 3), the last towards whoever sees the back

    def local(self, points: np.ndarray) -> np.ndarray:
        return (points - self.origin) @ self.axes.T


@dataclass(frozen=True)
class Fit:
    """A folded piece laid against the rig."""

    motion: Motion
    cover: dict[str, Region]  # what of each wall it makes, in the wall's coordinates
    faults: tuple[str, ...]  # what is wrong with its tabs and labels


def walls(mesh: Mesh) -> list[Wall]:
    """Triangles of a box or funnel gathered by their planes, and what each is called."""
    triangle = corners(mesh)
    normal = np.cross(triangle[:, 1] - triangle[:, 0], triangle[:, 2] - triangle[:, 0])
    triangle, normal = triangle[np.linalg.norm(normal, axis=1) > 1e-9], normal[np.linalg.norm(normal, axis=1) > 1e-9]
    outward = -normal / np.linalg.norm(normal, axis=1)[:, None]
    names = np.array([called(each) for each in outward])
    found = []
    for name in dict.fromkeys(names.tolist()):
        mine = triangle[names == name]
        largest = np.argmax(np.linalg.norm(normal[names == name], axis=1))
        back = outward[names == name][largest]
        across = mine[largest, 1] - mine[largest, 0]
        across /= np.linalg.norm(across)
        axes, origin = np.array([across, np.cross(back, across), back]), mine[largest, 0]
        flat = (mine - origin) @ axes.T
        if np.abs(flat[..., 2]).max() > 1e-6:
            raise AssertionError(f"triangles of the {name} wall do not lie in one plane")
        parts = shapely.polygons(flat[..., :2])
        found.append(Wall(name, shapely.union_all(parts[shapely.area(parts) > 1e-9]), origin, axes))
    return found


def called(outward: np.ndarray) -> str:
    """Name of the wall of a box that looks outward (3,): left and right walls hold upright lines, top and bottom level
    ones, and the lens is at +z."""
    right, up, lens = outward
    if abs(right) > 1e-7:
        return "right" if right > 0 else "left"
    if abs(up) > 1e-7:
        return "top" if up > 0 else "bottom"
    return "back" if lens > 0 else "front"


def hull_corners(region: Region) -> np.ndarray:
    """Corners (n, 2) of the convex hull, anticlockwise, those on straight lines left out."""
    hull = shapely.convex_hull(region)
    ring = np.array(hull.exterior.coords)[:-1]
    ring = ring if hull.exterior.is_ccw else ring[::-1]
    k = 0
    while k < len(ring) and len(ring) > 3:
        before, here, after = ring[k - 1], ring[k], ring[(k + 1) % len(ring)]
        if shapely.LineString([before, after]).distance(shapely.Point(here)) < SLIGHT:
            ring = np.delete(ring, k, axis=0)
        else:
            k += 1
    return ring


def laid(points: np.ndarray, onto: np.ndarray) -> tuple[np.ndarray, np.ndarray, float]:
    """Turn (2, 2), shift (2,) and largest distance left when points (n, 2) are laid on others without turning over.

    W. Kabsch, Acta Cryst. A 32, 922 (1976), in the plane.
    """
    middle, target = points.mean(axis=0), onto.mean(axis=0)
    a, b = points - middle, onto - target
    angle = np.arctan2((a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]).sum(), (a * b).sum())
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    shift = target - turn @ middle
    return turn, shift, float(np.linalg.norm(points @ turn.T + shift - onto, axis=1).max())


def starts(made: Sequence[Face], there: Sequence[Wall]) -> list[Motion]:
    """Ways to lay a folded piece against the rig: one of its faces on a wall of the same corners, back on back."""
    for face in sorted((each for each in made if each.is_wall()), key=lambda each: -each.inner.area):
        mine, found = hull_corners(face.inner), []
        for wall in there:
            its = hull_corners(wall.region)
            if len(its) != len(mine):
                continue
            for step in range(len(its)):
                turn, shift, left = laid(mine, np.roll(its, step, axis=0))
                if left < NEAR:
                    # From (x, y, z) of the face on paper to the wall, and so from where the face was folded to.
                    spun = np.eye(3)
                    spun[:2, :2] = turn
                    back = Motion(face.motion.turn.T, -face.motion.turn.T @ face.motion.shift)
                    local = Motion(spun, np.append(shift, 0.0)).after(back)
                    found.append(Motion(wall.axes.T, wall.origin).after(local))
        if found:
            return found
    return []


def apart(one: Region, other: Region, most: float = NEAR) -> float:
    """Area of one that is farther than most from the other, mm^2."""
    return float(one.difference(other.buffer(most, quad_segs=32)).area) if not one.is_empty else 0.0


def same_within(one: Region, other: Region) -> bool:
    """Whether two regions lie within NEAR of each other."""
    return max(apart(one, other), apart(other, one)) < SLIGHT


def placed(face: Face, motion: Motion, wall: Wall) -> tuple[Region, np.ndarray]:
    """A face in the coordinates of a wall, and the heights of its corners above the wall's front, towards the back."""
    whole = Motion(wall.axes, -wall.axes @ wall.origin).after(motion).after(face.motion)
    region = shapely.transform(face.inner, lambda flat: whole(raised(flat))[:, :2])
    return region, whole(raised(shapely.get_coordinates(face.inner)))[:, 2]


def fits(piece: Piece, there: Sequence[Wall]) -> list[Fit]:
    """All ways in which every face of a folded piece lies on a wall of the rig within NEAR, back outward.

    Raises Unfoldable with what is off by how much if there is none.
    """
    made, good, reasons = folded(piece), [], []
    for motion in starts(made, there):
        cover: dict[str, Region] = {}
        reason = ""
        for face in made:
            if not face.is_wall():
                continue
            facing = motion.turn @ face.motion.turn[:, 2]
            wall = max(there, key=lambda each, facing=facing: facing @ each.axes[2])
            region, height = placed(face, motion, wall)
            over = apart(region, wall.region)
            if np.abs(height).max() > NEAR or over > CRUMB:
                reason += f" face {face.name} on {wall.name}: {height.min():.3f} to {height.max():.3f} mm high, "
                reason += f"{over:.3f} mm^2 beside it;"
            cover[wall.name] = region.union(cover[wall.name]) if wall.name in cover else region
        if reason:
            reasons.append(reason)
            continue
        good.append(Fit(motion, cover, tuple(tab_faults(piece, made, motion, there))))
    if not good:
        best = min(reasons, key=len, default=" no wall has the corners of any face")
        raise Unfoldable(f"{piece.name} does not fold back to the rig:{best}")
    return good


def tab_faults(piece: Piece, made: Sequence[Face], motion: Motion, there: Sequence[Wall]) -> list[str]:
    """What is wrong with the glue tabs of a folded piece, and with labels that name walls."""
    known, faults, under = {wall.name: wall for wall in there}, [], {}
    for face in made:
        if face.tab is None:
            continue
        tab, wall = face.tab, known.get(face.tab.onto)
        if wall is None:
            faults.append(f"tab {tab.letter} is glued onto {tab.onto!r}, which is no wall")
            continue
        region, height = placed(face, motion, wall)
        if height.max() > NEAR or height.min() < -piece.thickness - NEAR:
            faults.append(f"tab {tab.letter} lies {height.min():.2f} to {height.max():.2f} mm from the {wall.name}")
        out = apart(region, wall.region)
        if out > CRUMB:
            faults.append(f"{out:.2f} mm^2 of tab {tab.letter} stick out of the {wall.name} or cover its holes")
        for letter, other in under.get(tab.onto, []):
            if region.intersection(other).area > SLIGHT * region.length:
                faults.append(f"tabs {tab.letter} and {letter} lie on each other under the {wall.name}")
        under.setdefault(tab.onto, []).append((tab.letter, region))
    return faults


def together(pieces: Sequence[Piece], there: Sequence[Wall]) -> list[Fit]:
    """Ways to lay all pieces of a box so that together they make each wall once. Raises Unfoldable if there is none."""
    choices = [fits(piece, there) for piece in pieces]
    faulty = [min((fit.faults for fit in choice), key=len) for choice in choices]
    if any(faulty):
        raise Unfoldable("; ".join(fault for faults in faulty for fault in faults))
    distinct = []
    for choice in choices:
        by_walls = {tuple(sorted(fit.cover)): fit for fit in choice if not fit.faults}
        distinct.append(list(by_walls.values()) if len(pieces) > 1 else [fit for fit in choice if not fit.faults])
    reason = ""
    for chosen in product(*distinct):
        reason = uncovered(chosen, there)
        if not reason:
            return list(chosen)
    raise Unfoldable(reason)


def uncovered(chosen: Sequence[Fit], there: Sequence[Wall]) -> str:
    """Which walls of the rig nobody makes, or two do; empty if all is well."""
    for wall in there:
        parts = [fit.cover[wall.name] for fit in chosen if wall.name in fit.cover]
        if not parts:
            return f"nothing makes the {wall.name}"
        whole = shapely.union_all(parts)
        if sum(part.area for part in parts) > whole.area + NEAR * whole.length:
            return f"the {wall.name} is made twice"
        missing = apart(wall.region, whole)
        if missing > CRUMB:
            return f"{missing:.3f} mm^2 of the {wall.name} are missing"
    return ""


def off(points: np.ndarray, made: Sequence[Face], fit: Fit) -> np.ndarray:
    """Distance (n,) of points (n, 3) of the rig from the nearest face that is no tab, mm."""
    least = np.full(len(points), np.inf)
    for face in made:
        if face.is_wall():
            whole = fit.motion.after(face.motion)
            local = (points - whole.shift) @ whole.turn
            beside = shapely.distance(shapely.points(local[:, :2]), face.inner)
            least = np.minimum(least, np.hypot(beside, local[:, 2]))
    return least


def letter_faults(
    pieces: Sequence[Piece], made: Sequence[Sequence[Face]], chosen: Sequence[Fit], there: Sequence[Wall]
) -> list[str]:
    """Letters that do not stand on their tab and once more on the wall above it, within reach of the tab.

    Edges that have room for no tab are taped together: there too each letter stands twice, side by side.
    """
    faults = []
    places: dict[str, list[tuple[np.ndarray, Tab | None]]] = {}
    for piece, faces, fit in zip(pieces, made, chosen, strict=True):
        for label in piece.labels:
            if not re.fullmatch("[A-Z]{1,2}", label.text):
                continue
            mine = [one for one in faces if one.flat.distance(shapely.Point(label.place)) < SLIGHT]
            if not mine:
                faults.append(f"letter {label.text} stands beside the sheet")
                continue
            place = fit.motion(mine[0].motion(raised(label.place[None])))[0]
            places.setdefault(label.text, []).append((place, mine[0].tab))
    known = {wall.name: wall for wall in there}
    tabs = {face.tab.letter: (face, fit) for faces, fit in zip(made, chosen, strict=True) for face in faces if face.tab}
    for letter in sorted({*places, *tabs}):
        found = places.get(letter, [])
        if len(found) != 2:
            faults.append(f"letter {letter} stands {len(found)} times")
        elif letter not in tabs:
            if np.linalg.norm(found[0][0] - found[1][0]) > 2 * REACH:
                faults.append(f"the edges {letter} are far from each other")
        else:
            face, fit = tabs[letter]
            wall = known[face.tab.onto]
            under, _ = placed(face, fit.motion, wall)
            other = [wall.local(place) for place, tab in found if tab is not face.tab]
            if len(other) != 1:
                faults.append(f"letter {letter} does not stand on its tab and elsewhere")
            elif abs(other[0][2]) > NEAR or under.distance(shapely.Point(other[0][:2])) > REACH:
                faults.append(f"letter {letter} does not stand on the {wall.name} where its tab comes")
    return faults


def samples(mesh: Mesh, steps: int = 6) -> np.ndarray:
    """Points spread over every triangle of a mesh, its corners and edges included, (n, 3)."""
    share = np.array([(i, j, steps - i - j) for i in range(steps + 1) for j in range(steps + 1 - i)]) / steps
    return (share @ corners(mesh)).reshape(-1, 3)


def spread(region: Region, count: int = 400) -> np.ndarray:
    """Points (n, 2) spread over a region, its edge included."""
    step = np.sqrt(region.area / count)
    low, high = np.array(region.bounds).reshape(2, 2)
    grid = np.stack(np.meshgrid(*(np.arange(a + step / 2, b, step) for a, b in zip(low, high, strict=True))), axis=-1)
    grid = grid.reshape(-1, 2)
    inside = grid[shapely.contains_xy(region, *grid.T)] if len(grid) else grid
    return np.concatenate([inside, shapely.get_coordinates(shapely.segmentize(region.boundary, max(step, SLIGHT)))])


def to_triangles(points: np.ndarray, mesh: Mesh) -> np.ndarray:
    """Distance (n,) of points (n, 3) from the nearest triangle of a mesh, mm.

    C. Ericson, Real-Time Collision Detection (2005), 5.1.5: nearest in the plane if inside, else nearest on an edge.
    """
    triangle = corners(mesh)
    least = np.full(len(points), np.inf)
    for block in np.array_split(np.arange(len(points)), max(1, len(points) * len(triangle) // 400_000)):
        p = points[block][:, None]
        a, b, c = triangle.transpose(1, 0, 2)
        normal = np.cross(b - a, c - a)
        size = np.linalg.norm(normal, axis=1)
        unit = normal / np.where(size > 0, size, 1.0)[:, None]
        inside = np.ones((len(block), len(triangle)), bool) & (size > 1e-12)
        edge = np.full((len(block), len(triangle)), np.inf)
        for start, end in ((a, b), (b, c), (c, a)):
            along = end - start
            length = (along**2).sum(axis=1)
            inside &= ((p - start) * np.cross(unit, along)).sum(axis=2) >= 0
            share = np.clip(((p - start) * along).sum(axis=2) / np.where(length > 0, length, 1.0), 0, 1)
            edge = np.minimum(edge, np.linalg.norm(p - start - share[..., None] * along, axis=2))
        height = np.abs(((p - a) * unit).sum(axis=2))
        least[block] = np.where(inside, np.minimum(height, edge), edge).min(axis=1)
    return least
