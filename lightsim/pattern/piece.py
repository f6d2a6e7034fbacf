"""What is cut: flat pieces of sheet with their holes, folds, glue tabs and marks, at full size.

A piece is drawn as its back is seen: from the camera for sheets that are not turned, from outside for bent and hollow
parts. Marks then land on the side that the subject does not see, and every wall of a box folds away from the eye.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

Ring = NDArray[np.float64]  # (n, 2) mm, a closed line whose first point is not repeated
Place = NDArray[np.float64]  # (2,) mm


class Layer(StrEnum):
    """What is done along a line."""

    CUT = "cut"  # through the sheet
    SCORE = "score"  # half through, to fold
    MARK = "mark"  # drawn in pencil, not cut


@dataclass(frozen=True)
class Fold:
    """A straight score line from edge to edge."""

    start: Place
    end: Place
    angle: float  # radians by which the sheet turns there, positive away from whoever looks at the drawing


@dataclass(frozen=True)
class Tab:
    """A flap along a fold, glued under the edge that bears the same letter."""

    outline: Ring
    letter: str
    onto: str  # what it is glued to, such as "top"


@dataclass(frozen=True)
class Mark:
    """A line to draw, and a word beside it."""

    points: NDArray[np.float64]  # (n, 2) mm
    closed: bool = False
    text: str = ""


@dataclass(frozen=True)
class Label:
    """Words on a piece."""

    text: str
    place: Place  # middle of the words
    height: float  # mm, of capital letters and what hangs below them
    angle: float = 0.0  # radians, anticlockwise


@dataclass(frozen=True)
class Piece:
    """A flat piece of sheet, drawn as its back is seen, mm."""

    part: str  # the part of the rig that it is cut for
    name: str  # what it is called on the pattern, such as "box" or "bowl, gore"
    material: str
    outline: Ring  # anticlockwise, tabs included
    thickness: float = 0.0  # mm, 0 where it is not known
    grammage: float | None = None  # g/m^2
    holes: tuple[Ring, ...] = ()  # clockwise
    folds: tuple[Fold, ...] = ()
    tabs: tuple[Tab, ...] = ()
    marks: tuple[Mark, ...] = ()
    labels: tuple[Label, ...] = ()
    notes: tuple[str, ...] = ()  # sentences for whoever builds it
    grain: tuple[float, float] | None = None  # unit, along which the grain of paper should run
    side: str = "back"  # what the drawn side is called: "back", or "outside" of a bent or hollow part
    copies: int = 1  # how many are cut


@dataclass(frozen=True)
class Refused:
    """A part that no flat pattern can make, and why."""

    part: str
    reason: str


@dataclass(frozen=True)
class Pattern:
    """All pieces of a rig's diffuser, and the parts that have none."""

    title: str
    unit: str  # "mm" or "inch", in which lengths are told
    pieces: tuple[Piece, ...]
    refused: tuple[Refused, ...]


def extent(piece: Piece) -> NDArray[np.float64]:
    """Least and greatest coordinates of a piece, (2, 2) mm."""
    return np.array([piece.outline.min(axis=0), piece.outline.max(axis=0)])


def sides(piece: Piece) -> tuple[float, float]:
    """Width and height of the box about a piece as drawn, mm."""
    width, height = np.ptp(piece.outline, axis=0).tolist()
    return width, height


def signed_area(ring: Ring) -> float:
    """Area within a ring, mm^2, positive if it runs anticlockwise."""
    x, y = ring.T
    return float(0.5 * (x * np.roll(y, -1) - y * np.roll(x, -1)).sum())


def area(piece: Piece) -> float:
    """Area of sheet in one copy of a piece, tabs included, mm^2."""
    return signed_area(piece.outline) + sum(signed_area(hole) for hole in piece.holes)
