"""Which hole is for what: the flash head and the lens barrel in their holes, and with how much play."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import LinearRing, LineString, Point, Polygon, box

from lightsim.pattern.developed import Developed, Opening
from lightsim.pattern.piece import Label, Mark
from lightsim.pattern.sizes import told
from lightsim.rig.place import Head, PlacedRig
from lightsim.rig.units import INCH

_BEHIND, _BEFORE = 60.0, 20.0  # mm along a head's axis, from the window, within which a hole is for the head
_WORDS, _SMALL = 2.6, 1.8  # mm, height of words
_NARROW = 5.0  # mm of sheet beside a hole, below which it tears easily; common practice, no source
_PATCH = (20.0, 10.0)  # mm, of hook-and-loop
_LEAST_PATCH = 5.0  # mm


@dataclass(frozen=True)
class _Found:
    """What passes through a hole."""

    what: str
    size: str
    play: float  # mm, the least all round; negative where it does not go through
    fasten: bool  # whether hook-and-loop goes beside it


def with_openings(
    developed: Developed, placed: PlacedRig, origin: NDArray[np.float64], turned: NDArray[np.float64]
) -> Developed:
    """A piece on which it stands what each hole is for, and where hook-and-loop may go beside the head."""
    piece = developed.piece
    marks: list[Mark] = []
    labels: list[Label] = []
    notes: list[str] = []
    for opening in developed.openings:
        found = _through(opening, placed, origin, turned)
        if found is None:
            continue
        unit = placed.rig.unit
        room = (
            f"at least {told(found.play, unit)} of play"
            if found.play >= 0
            else f"TOO SMALL by {told(-found.play, unit)} where it is tightest: make it larger"
        )
        notes.append(f"The {'round ' if opening.round else ''}hole is for the {found.what} ({found.size}): {room}.")
        left = _left_beside(developed, opening)
        if left < _NARROW:
            notes.append(
                f"No more than {told(max(left, 0.0), unit)} of sheet stay beside it: back them with tape first."
            )
        # In the hole, which falls away: there is always room.
        labels.append(Label(found.what, opening.middle, min(_WORDS, opening.size[0] / len(found.what))))
        if found.fasten:
            patches = _patches(developed, opening)
            marks.extend(patches)
            labels.extend(Label("hook-and-loop", patch.points.mean(axis=0), _SMALL, np.pi / 2) for patch in patches)
    if not notes:
        return developed
    return replace(
        developed,
        piece=replace(
            piece,
            marks=(*piece.marks, *marks),
            labels=(*piece.labels, *labels),
            notes=(*piece.notes, *dict.fromkeys(notes)),
        ),
    )


def _through(
    opening: Opening, placed: PlacedRig, origin: NDArray[np.float64], turned: NDArray[np.float64]
) -> _Found | None:
    middle = turned @ opening.local + origin
    axes = opening.axes @ turned.T
    for head in placed.heads:
        found = _head_in(opening, middle, axes, head, placed)
        if found is not None:
            return found
    lens = placed.rig.lens
    barrel = lens.length + lens.extension
    turn = np.linspace(0, 2 * np.pi, 72, endpoint=False)
    rim = lens.diameter / 2 * np.stack([np.cos(turn), np.sin(turn), np.zeros(len(turn))], axis=1)
    play, where = _play(opening, middle, axes, rim, np.array([0.0, 0.0, 1.0]))
    if where is None or not -5.0 <= where - placed.working_distance <= barrel:
        return None
    return _Found("lens barrel", _told((lens.diameter,), placed), play, False)


def _head_in(
    opening: Opening, middle: NDArray[np.float64], axes: NDArray[np.float64], head: Head, placed: PlacedRig
) -> _Found | None:
    spec = next(each for each in placed.rig.head if each.name == head.name)
    width, height, length = spec.case
    sign = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) / 2
    rim = head.centre + sign[:, :1] * width * head.right + sign[:, 1:] * height * head.up
    play, where = _play(opening, middle, axes, rim, head.forward, start=head.centre)
    if where is None or not -min(length, _BEHIND) <= where <= _BEFORE:
        return None
    return _Found("flash head", _told((width, height), placed), play, True)


def _told(sizes: tuple[float, ...], placed: PlacedRig) -> str:
    inch = placed.rig.unit == "inch"
    numbers = " x ".join(f"{round(size / INCH, 2) if inch else round(size, 1):g}" for size in sizes)
    return f"{numbers} {'in' if inch else 'mm'}"


def _play(
    opening: Opening,
    middle: NDArray[np.float64],
    axes: NDArray[np.float64],
    rim: NDArray[np.float64],
    way: NDArray[np.float64],
    start: NDArray[np.float64] | None = None,
) -> tuple[float, float | None]:
    """Least play [mm] of a prism of rim (n, 3) along way in a hole, and how far along its axis [mm] the hole lies.

    The latter is None where the axis misses the hole or runs along its sheet.
    """
    normal = np.cross(axes[0], axes[1])
    slope = way @ normal
    if abs(slope) < 0.2:
        return 0.0, None
    start = np.zeros(3) if start is None else start
    where = float((middle - start) @ normal / slope)
    at = (start + where * way - middle) @ axes.T
    if (np.abs(at) > np.array(opening.size) / 2).any():
        return 0.0, None
    along = ((middle - rim) @ normal / slope)[:, None]
    across = (rim + along * way - middle) @ axes.T
    if opening.round:
        return float(opening.size[0] / 2 - np.linalg.norm(across, axis=1).max()), where
    return float((np.array(opening.size) / 2 - np.abs(across).max(axis=0)).min()), where


def _left_beside(developed: Developed, opening: Opening) -> float:
    """How much sheet is left between a hole and the next edge, fold or hole [mm]; 0 where it reaches over."""
    piece = developed.piece
    reach = np.array(opening.size) / 2
    hole = (
        Point(opening.middle).buffer(reach[0], quad_segs=32)
        if opening.round
        else box(*(opening.middle - reach), *(opening.middle + reach))
    )
    own = [ring for ring in piece.holes if not Polygon(ring).disjoint(hole)]
    others = [LinearRing(ring) for ring in piece.holes if Polygon(ring).disjoint(hole)]
    lines = [LinearRing(piece.outline), *others, *(LineString([fold.start, fold.end]) for fold in piece.folds)]
    return min(float(hole.distance(line)) for line in lines) if own else 0.0


def _patches(developed: Developed, opening: Opening) -> list[Mark]:
    """Two places for hook-and-loop, left and right of the hole, as wide as there is room."""
    piece = developed.piece
    sheet = Polygon(piece.outline, piece.holes)
    found = []
    for sign in (-1, 1):
        for width in np.arange(_PATCH[1], _LEAST_PATCH - 0.1, -1.0):
            centre = opening.middle + np.array([sign * (opening.size[0] / 2 + 1.0 + width / 2), 0.0])
            ring = (
                centre
                + np.array([[-width, -_PATCH[0]], [width, -_PATCH[0]], [width, _PATCH[0]], [-width, _PATCH[0]]]) / 2
            )
            crossed = any(
                Polygon(ring).distance(Polygon([fold.start, fold.end, fold.end])) < 0.5 for fold in piece.folds
            )
            lettered = any(Polygon(ring).distance(Point(label.place)) < 1 for label in piece.labels)
            if sheet.covers(Polygon(ring)) and not crossed and not lettered:
                found.append(Mark(ring, closed=True, text="hook-and-loop or tape"))
                break
    return found
