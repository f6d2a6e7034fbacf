"""Where parts of a rig meet: hinges between sheets, flaps by which a sheet closes a box, and marks for both.

Two parts meet where free straight edges of theirs lie on one line, as the rig file places them at its first
magnification. Everything else about fastening is left to the builder.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from lightsim.pattern.developed import Developed, Edge
from lightsim.pattern.piece import Fold, Label, Mark, Tab, signed_area
from lightsim.pattern.rings import GRID, ROOT, reading_angle, rings
from lightsim.pattern.sizes import told
from lightsim.rig.shapes import Shape
from lightsim.rig.shells import Box, Funnel

_APART = 1.5  # mm: edges farther from one line do not meet
_LEAST = 10.0  # mm of common edge
_HINGE = 6.0  # mm from the edge to the line up to which tape goes
_TICK = 4.0  # mm
_WORDS = 2.6  # mm, height of words along an edge


@dataclass(frozen=True)
class Member:
    """A part in its place: its pieces, and its frame in the world."""

    name: str
    shape: Shape
    thickness: float
    tab: float
    origin: NDArray[np.float64]  # (3,) mm
    turned: NDArray[np.float64]  # (3, 3)
    developed: tuple[Developed, ...]


@dataclass(frozen=True)
class _Meeting:
    """The stretch of an edge along which another part meets it."""

    edge: Edge
    start: NDArray[np.float64]  # (2,) on the piece
    end: NDArray[np.float64]
    inward: NDArray[np.float64]  # (3,) in the world, into the sheet


@dataclass(frozen=True)
class _Addition:
    shape: BaseGeometry | None = None
    tabs: tuple[Tab, ...] = ()
    folds: tuple[Fold, ...] = ()
    marks: tuple[Mark, ...] = ()
    labels: tuple[Label, ...] = ()
    notes: tuple[str, ...] = ()


def joined(members: Sequence[Member], *, unit: str) -> list[tuple[Developed, ...]]:
    """The pieces of each part with what joins it to the others; unit : "mm" or "inch", in which notes tell lengths."""
    added: dict[tuple[int, int], list[_Addition]] = {}
    for (i, one), (j, other) in combinations(enumerate(members), 2):
        for (a, first), (b, second) in _pairs(one, other):
            found = _meeting(one, first, other, second)
            if found is None:
                continue
            here, there = found
            added.setdefault((i, a), []).append(_addition(one, here, other, there, unit))
            added.setdefault((j, b), []).append(_addition(other, there, one, here, unit))
    return [
        tuple(_with(each, added.get((i, a), [])) for a, each in enumerate(member.developed))
        for i, member in enumerate(members)
    ]


def _pairs(one: Member, other: Member) -> list[tuple[tuple[int, Edge], tuple[int, Edge]]]:
    mine = [(a, edge) for a, each in enumerate(one.developed) for edge in each.edges]
    theirs = [(b, edge) for b, each in enumerate(other.developed) for edge in each.edges]
    return [(first, second) for first in mine for second in theirs]


def _meeting(one: Member, first: Edge, other: Member, second: Edge) -> tuple[_Meeting, _Meeting] | None:
    mine, theirs = (edge.local @ part.turned.T + part.origin for part, edge in ((one, first), (other, second)))
    length = float(np.linalg.norm(mine[1] - mine[0]))
    along = (mine[1] - mine[0]) / length
    place = (theirs - mine[0]) @ along
    low, high = max(0.0, place.min()), min(length, place.max())
    if high - low < _LEAST:
        return None
    apart = np.linalg.norm(theirs - mine[0] - place[:, None] * along, axis=1)
    share = (np.array([low, high]) - place[0]) / (place[1] - place[0])
    if np.interp(share if share[0] < share[1] else share[::-1], [0, 1], apart).max() > _APART:
        return None
    return (
        _Meeting(first, *_between(first, np.array([low, high]) / length), one.turned @ first.inward),
        _Meeting(second, *_between(second, np.sort(share)), other.turned @ second.inward),
    )


def _between(edge: Edge, share: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    return edge.start + share[0] * (edge.end - edge.start), edge.start + share[1] * (edge.end - edge.start)


def _hollow(part: Member) -> bool:
    return isinstance(part.shape, Box | Funnel)


def _addition(part: Member, here: _Meeting, other: Member, there: _Meeting, unit: str) -> _Addition:
    """What a piece gets along the edge where another part meets it."""
    if not _hollow(part) and not _hollow(other):
        return _hinge(part, here, other, there)
    if not _hollow(part) and part.tab > 0:
        return _closing(part, here, other, there, unit)
    return _beside(here, other)


def _inside(here: _Meeting) -> NDArray[np.float64]:
    """Unit (2,) on the piece, from the edge into the sheet: pieces run anticlockwise."""
    along = (here.edge.end - here.edge.start) / np.linalg.norm(here.edge.end - here.edge.start)
    return np.array([-along[1], along[0]])


def _tick(here: _Meeting) -> Mark:
    middle = (here.start + here.end) / 2
    return Mark(np.array([middle, middle + _TICK * _inside(here)]), text="middle of the joint")


def _words(here: _Meeting, text: str, inset: float) -> Label:
    # Beside the tick, so that neither crosses the other.
    place = here.start + 0.25 * (here.end - here.start) + inset * _inside(here)
    return Label(text, place, _WORDS, reading_angle(here.start, here.end))


def _hinge(part: Member, here: _Meeting, other: Member, there: _Meeting) -> _Addition:
    """A hinge of tape, and how far it is bent."""
    angle = np.degrees(np.arccos(np.clip(-here.inward @ there.inward, -1.0, 1.0)))
    side = "toward the drawn side" if there.inward @ part.turned[:, 2] > 0 else "away from the drawn side"
    bent = f", bent by {angle:.0f} degrees {side}" if angle > 1 else ", flat"
    line = Mark(np.array([here.start, here.end]) + _HINGE * _inside(here), text="tape up to here")
    return _Addition(
        marks=(line, _tick(here)),
        labels=(_words(here, f"hinge: {other.name}", 0.5 * _HINGE),),
        notes=(f'Hinge of tape to "{other.name}"{bent}, ticks together; leave a gap as wide as the sheets are thick.',),
    )


def _beside(here: _Meeting, other: Member) -> _Addition:
    """No flap here: the other part brings it, or both are taped."""
    return _Addition(
        marks=(_tick(here),),
        labels=(_words(here, f"meets: {other.name}", 1.5 * _WORDS),),
        notes=() if other.tab > 0 and not _hollow(other) else (f'Edges that meet "{other.name}" are taped to it.',),
    )


def _closing(part: Member, here: _Meeting, other: Member, there: _Meeting, unit: str) -> _Addition:
    """A flap that folds over the outside of a wall."""
    out = -_inside(here)
    wall = there.inward
    angle = float(np.arccos(np.clip(-here.inward @ wall, -1.0, 1.0)))
    back = part.turned[:, 2]
    gap = other.thickness + angle * part.thickness / 2
    length = float(np.linalg.norm(here.end - here.start))
    along = (here.end - here.start) / length
    width = min(part.tab, 0.4 * length)
    foot, top = here.start, here.end
    flap = np.array(
        [
            foot + gap * out,
            top + gap * out,
            top + (gap + width) * out - width * along,
            foot + (gap + width) * out + width * along,
        ]
    )
    line = other.thickness + angle * part.thickness / 4
    # The drawing shows the back: a flap that goes to the back folds toward the eye.
    fold = Fold(foot + line * out, top + line * out, -angle if wall @ back > 0 else angle)
    # Rooted in the sheet by a hair, so that rounding leaves no gap between them.
    root, end = -ROOT * out, gap * out
    shape = shapely.union(Polygon(flap), Polygon([foot + root, top + root, top + end, foot + end]), grid_size=GRID)
    side = "toward you" if fold.angle < 0 else "away from you"
    middle = (flap[0] + flap[1]) / 2 + 0.5 * width * out
    return _Addition(
        shape=shape,
        tabs=(Tab(flap[::-1] if signed_area(flap) < 0 else flap, "", f"the outside of {other.name}"),),
        folds=(fold,),
        marks=(_tick(here),),
        labels=(Label(f"{side}, onto {other.name}", middle, min(_WORDS, 0.4 * width), reading_angle(foot, top)),),
        notes=(
            f'Fold the flaps {side} over the outside of "{other.name}" and tape them, or use hook-and-loop to take it '
            f"off again. The folds lie {told(line, unit)} outside the stated edge, so that the wall goes between.",
        ),
    )


def _with(developed: Developed, additions: Sequence[_Addition]) -> Developed:
    """A piece with its additions; flaps become part of the outline."""
    if not additions:
        return developed
    piece = developed.piece
    shapes = [each.shape for each in additions if each.shape is not None]
    outline, holes = piece.outline, piece.holes
    if shapes:
        whole = shapely.union_all([Polygon(piece.outline, piece.holes), *shapes], grid_size=GRID)
        outline, holes = rings(max(shapely.get_parts(whole), key=lambda each: float(each.area)))
    notes = dict.fromkeys([*piece.notes, *(note for each in additions for note in each.notes)])
    return replace(
        developed,
        piece=replace(
            piece,
            outline=outline,
            holes=holes,
            tabs=(*piece.tabs, *(tab for each in additions for tab in each.tabs)),
            folds=(*piece.folds, *(fold for each in additions for fold in each.folds)),
            marks=(*piece.marks, *(mark for each in additions for mark in each.marks)),
            labels=(*piece.labels, *(label for each in additions for label in each.labels)),
            notes=tuple(notes),
        ),
    )
