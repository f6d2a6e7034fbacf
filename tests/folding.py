"""Folding patterns back: what a cut sheet becomes in the hand, worked out from its drawing alone.

Nothing here knows how the pattern was made. A piece is cut along its score lines into faces (shapely), faces that share
a score line are turned against each other by the angle stated there (laying.py lays the whole against the
rig). All of it is derived here: rotations about a line, and a sheet of thickness d that folds by an angle t keeps the
length of the line in its middle, which bends on an arc of radius d / 2 and so uses up |t| d / 2 of the flat sheet, half
of it on either side of the score line; on the side towards which it folds the two faces then meet in a line.

Coordinates of a flat piece: x right and y up on paper, z towards whoever looks at it. The sheet lies between z = 0, its
front, which the rig measures, and z = thickness, its back, which is drawn on.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import shapely
from shapely import LineString, MultiPolygon, Point, Polygon

from lightsim.pattern.piece import Fold, Label, Mark, Piece, Tab

SLIGHT = 1e-3  # mm, nobody cuts better
SLIVER = 2e-3  # mm
KERF = 1e-5  # mm
Region = Polygon | MultiPolygon


class Unfoldable(AssertionError):
    """A drawing that cannot be cut and folded, and why."""


@dataclass(frozen=True)
class Motion:
    """Rigid motion p -> turn @ p + shift."""

    turn: np.ndarray = field(default_factory=lambda: np.eye(3))  # (3, 3)
    shift: np.ndarray = field(default_factory=lambda: np.zeros(3))  # (3,) mm

    def __call__(self, points: np.ndarray) -> np.ndarray:
        return points @ self.turn.T + self.shift

    def after(self, first: Motion) -> Motion:
        return Motion(self.turn @ first.turn, self.turn @ first.shift + self.shift)


@dataclass(frozen=True)
class Face:
    """What lies between score lines, and where its front goes."""

    flat: Polygon  # on paper
    inner: Region  # of it, what stays flat on the front when the folds take up their allowance
    motion: Motion  # of the front, from (x, y, 0)
    tab: Tab | None
    name: int  # for messages

    def is_wall(self) -> bool:
        """Whether it is more than a tab or what a fold takes up."""
        return self.tab is None and self.inner.area > SLIGHT

    def vertices(self) -> np.ndarray:
        return self.motion(raised(shapely.get_coordinates(self.inner)))


def raised(points: np.ndarray) -> np.ndarray:
    """Points of the flat (n, 2) in space (n, 3), on the front."""
    return np.column_stack([points, np.zeros(len(points))])


def sheet(piece: Piece) -> Polygon:
    """What is left of the sheet when a piece is cut. Raises Unfoldable where the lines make no sense."""
    ring, holes = Polygon(piece.outline), [Polygon(hole) for hole in piece.holes]
    if not ring.is_valid or not ring.exterior.is_ccw:
        raise Unfoldable(f"{piece.name}: outline crosses itself or runs clockwise: {shapely.is_valid_reason(ring)}")
    if any(not hole.is_valid or hole.exterior.is_ccw for hole in holes):
        raise Unfoldable(f"{piece.name}: a hole crosses itself or runs anticlockwise")
    whole = Polygon(piece.outline, piece.holes)
    if not whole.is_valid:
        raise Unfoldable(f"{piece.name}: holes and outline meet: {shapely.is_valid_reason(whole)}")
    return whole


def net(piece: Piece) -> Region:
    """The sheet without its glue tabs."""
    left = sheet(piece)
    for tab in piece.tabs:
        left = left.difference(Polygon(tab.outline))
    if not piece.tabs:
        return left
    # Without the slivers that rounding leaves where tabs end; mitres give all corners back as they were.
    corners = {"join_style": "mitre", "mitre_limit": 1000}
    return left.buffer(-SLIVER, **corners).buffer(SLIVER, **corners)


def faces(piece: Piece) -> list[Polygon]:
    """The sheet cut along its score lines, with a knife of the width 2 KERF."""
    whole = sheet(piece)
    cuts = []
    for fold in piece.folds:
        along = (fold.end - fold.start) / np.linalg.norm(fold.end - fold.start)
        for end in (fold.start, fold.end):
            if whole.boundary.distance(Point(end)) > SLIGHT:
                raise Unfoldable(f"{piece.name}: score line ends at {end.round(3)}, inside the sheet")
        score = LineString([fold.start, fold.end])
        if score.difference(whole.buffer(SLIGHT)).length > SLIGHT and not piece.holes:
            raise Unfoldable(f"{piece.name}: score line {fold.start.round(2)} to {fold.end.round(2)} leaves the sheet")
        # Longer by a hair, so that rounding leaves no bridge.
        longer = LineString([fold.start - SLIGHT * along, fold.end + SLIGHT * along])
        cuts.append(longer.buffer(KERF, cap_style="flat"))
    return [part for part in shapely.get_parts(whole.difference(shapely.union_all(cuts))) if part.area > SLIGHT]


def turned(fold: Fold, onward: np.ndarray, thickness: float) -> Motion:
    """Motion of the face beyond a fold, onward (2,) being the direction in which it lies on paper."""
    away, allowance = np.append(onward, 0.0), abs(fold.angle) * thickness / 2
    # What bends inward is the side towards which it folds: front for positive angles, back for others.
    pivot = np.append(fold.start - onward * allowance / 2, 0.0 if fold.angle >= 0 else thickness)
    axis = np.cross([0.0, 0.0, 1.0], away)  # turns onward into -z, away from the eye
    cross = np.array([[0, -axis[2], axis[1]], [axis[2], 0, -axis[0]], [-axis[1], axis[0], 0]])
    turn = np.eye(3) + np.sin(fold.angle) * cross + (1 - np.cos(fold.angle)) * cross @ cross
    return Motion(turn, pivot - turn @ (pivot + allowance * away))


def normal_of(fold: Fold) -> np.ndarray:
    """Unit vector (2,) to the left of a fold on paper."""
    along = (fold.end - fold.start) / np.linalg.norm(fold.end - fold.start)
    return np.array([-along[1], along[0]])


def links(piece: Piece, cut: Sequence[Polygon]) -> dict[tuple[int, int], tuple[int, np.ndarray]]:
    """Which faces a fold joins: (one, other) -> (number of the fold, direction from one to other)."""
    found: dict[tuple[int, int], tuple[int, np.ndarray]] = {}
    tree = shapely.STRtree(cut)
    for number, fold in enumerate(piece.folds):
        share = (np.arange(41) + 0.5)[:, None] / 41
        line, left = fold.start + share * (fold.end - fold.start), normal_of(fold)
        beside: list[dict[int, int]] = []
        for sign in (-1, 1):
            point, face = tree.query(shapely.points(line + sign * SLIGHT * left), predicate="intersects")
            beside.append(dict(zip(point.tolist(), face.tolist(), strict=True)))
        for point in beside[0].keys() & beside[1].keys():
            one, other = beside[0][point], beside[1][point]
            if one == other:
                raise Unfoldable(f"{piece.name}: fold {number} does not part two faces")
            found[one, other], found[other, one] = (number, left), (number, -left)
    return found


def folded(piece: Piece) -> list[Face]:
    """All faces of a piece after folding; the largest that is no tab stays where it is, front down on z = 0."""
    cut = faces(piece)
    tabs = [tab_of(part, piece.tabs) for part in cut]
    missing = [tab.letter for tab in piece.tabs if all(tab is not each for each in tabs)]
    if missing:
        raise Unfoldable(f"{piece.name}: no fold parts tab {', '.join(missing)} from the rest")
    joined = links(piece, cut)
    walls = [k for k in range(len(cut)) if tabs[k] is None]
    if not walls:
        raise Unfoldable(f"{piece.name}: nothing but a tab")
    root = max(walls, key=lambda k: cut[k].area)
    motion, todo = {root: Motion()}, [root]
    while todo:
        one = todo.pop()
        for (first, other), (number, onward) in joined.items():
            if first != one:
                continue
            step = motion[one].after(turned(piece.folds[number], onward, piece.thickness))
            if other not in motion:
                motion[other] = step
                todo.append(other)
            elif not (np.allclose(step.turn, motion[other].turn) and np.allclose(step.shift, motion[other].shift)):
                raise Unfoldable(f"{piece.name}: faces {one} and {other} cannot both follow their folds")
    if len(motion) < len(cut):
        raise Unfoldable(f"{piece.name}: {len(cut) - len(motion)} of {len(cut)} faces hang on no fold")
    made = []
    for k, part in enumerate(cut):
        mine = [piece.folds[number] for (one, _), (number, _) in joined.items() if one == k]
        made.append(Face(part, cut_back(part, mine, piece.thickness), motion[k], tabs[k], k))
        if tabs[k] is not None and not same(made[-1].inner, Polygon(tabs[k].outline)):
            raise Unfoldable(f"{piece.name}: tab {tabs[k].letter} is not what its score line leaves of the sheet")
    if not any(face.is_wall() for face in made):
        raise Unfoldable(f"{piece.name}: nothing but a tab")
    return made


def tab_of(part: Polygon, tabs: Sequence[Tab]) -> Tab | None:
    """The glue tab that a face is, if it is one."""
    return next((tab for tab in tabs if Polygon(tab.outline).intersection(part).area > part.area / 2), None)


def same(one: Region, other: Region) -> bool:
    """Whether two regions differ by no more than rounding."""
    return one.symmetric_difference(other).area < SLIGHT * (one.length + other.length)


def cut_back(part: Polygon, folds: Iterable[Fold], thickness: float) -> Region:
    """A convex face with holes, less what its folds take up on its side of their score lines."""
    inside = np.array(part.representative_point().coords[0])
    for fold in folds:
        allowance = abs(fold.angle) * thickness / 4
        if allowance == 0:
            continue
        onward = normal_of(fold)
        onward = onward if (inside - fold.start) @ onward < 0 else -onward
        along, far = fold.end - fold.start, 10 * part.length
        along = far * along / np.linalg.norm(along)
        edge = fold.start - allowance * onward
        part = part.difference(
            Polygon([edge - along, edge + along, edge + along + far * onward, edge - along + far * onward])
        )
    return part


def mirrored(piece: Piece) -> Piece:
    """The piece as its front would be seen: left and right changed, everything else as it was."""
    flip = np.array([-1.0, 1.0])
    return replace(
        piece,
        outline=(piece.outline * flip)[::-1],
        holes=tuple((hole * flip)[::-1] for hole in piece.holes),
        folds=tuple(Fold(fold.start * flip, fold.end * flip, fold.angle) for fold in piece.folds),
        tabs=tuple(Tab((tab.outline * flip)[::-1], tab.letter, tab.onto) for tab in piece.tabs),
        marks=tuple(Mark(mark.points * flip, mark.closed, mark.text) for mark in piece.marks),
        labels=tuple(Label(each.text, each.place * flip, each.height, -each.angle) for each in piece.labels),
    )
