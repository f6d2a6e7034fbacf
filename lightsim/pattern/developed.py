"""What development makes: a piece, and which of its edges lie where on the shape, so that parts can be joined."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from lightsim.pattern.piece import Fold, Label, Mark, Piece, Place, Tab
from lightsim.pattern.rings import folds_in, polygons, rings, roomiest


@dataclass(frozen=True)
class Stock:
    """What pieces are cut from, and how they are joined."""

    part: str
    material: str
    thickness: float = 0.0  # mm
    grammage: float | None = None  # g/m^2
    tab: float = 10.0  # mm, width of glue tabs; 0 for none
    sheet: tuple[float, float] = (2000.0, 2000.0)  # mm, the sheet that it is cut from
    grained: bool = True  # whether it bends more willingly one way, as paper does

    def __post_init__(self) -> None:
        for name, length in (("thickness", self.thickness), ("tab", self.tab)):
            if not 0 <= length < inf:
                raise ValueError(f"{name} = {length:g} mm. Allowed: 0 or more. Try 0")


@dataclass(frozen=True)
class Edge:
    """A free straight edge: where it is drawn, and where it is on the shape."""

    start: Place
    end: Place
    local: NDArray[np.float64]  # (2, 3) mm, its ends in the frame of the shape
    inward: NDArray[np.float64]  # (3,) unit, from the edge into the sheet, square to the edge


@dataclass(frozen=True)
class Opening:
    """A hole as it was asked for: where it is drawn, where its middle is on the shape, which way it looks."""

    middle: Place
    size: tuple[float, float]  # mm, across and up
    round: bool
    local: NDArray[np.float64]  # (3,) mm
    axes: NDArray[np.float64]  # (2, 3) unit: across and up in the frame of the shape


@dataclass(frozen=True)
class Developed:
    """A piece with its free straight edges and its openings."""

    piece: Piece
    edges: tuple[Edge, ...] = ()
    openings: tuple[Opening, ...] = ()


@dataclass(frozen=True)
class Flat:
    """A development before it is made into pieces: what stays of the sheet, and what is drawn on it."""

    shape: BaseGeometry
    folds: tuple[Fold, ...] = ()
    tabs: tuple[Tab, ...] = ()
    marks: tuple[Mark, ...] = ()
    labels: tuple[Label, ...] = ()
    edges: tuple[Edge, ...] = ()
    openings: tuple[Opening, ...] = ()
    notes: tuple[str, ...] = ()
    grain: tuple[float, float] | None = None
    side: str = "outside"
    copies: int = 1
    walls: tuple[str, ...] = ()  # of a box, that lie on it


def made(flat: Flat, stock: Stock, *, name: str) -> list[Developed]:
    """Pieces of a development: one, or several where holes and slits divide it."""
    parts = polygons(flat.shape)
    found = []
    for number, polygon in enumerate(parts, 1):
        outline, holes = rings(polygon)
        near = polygon.buffer(1e-3)
        inside = _Within(near)
        piece = Piece(
            part=stock.part,
            name=name if len(parts) == 1 else f"{name}, {number} of {len(parts)}",
            material=stock.material,
            outline=outline,
            thickness=stock.thickness,
            grammage=stock.grammage,
            holes=holes,
            folds=folds_in(polygon, flat.folds),
            tabs=tuple(tab for tab in flat.tabs if inside(roomiest(tab.outline))),
            marks=tuple(mark for mark in flat.marks if inside(mark.points.mean(axis=0))),
            labels=tuple(label for label in flat.labels if inside(label.place)),
            notes=flat.notes,
            grain=flat.grain if stock.grained else None,
            side=flat.side,
            copies=flat.copies,
        )
        edges = tuple(edge for edge in flat.edges if inside((edge.start + edge.end) / 2))
        found.append(Developed(piece, edges, flat.openings if number == 1 else ()))
    return found


class _Within:
    def __init__(self, shape: Polygon) -> None:
        from shapely import prepare

        prepare(shape)
        self.shape = shape

    def __call__(self, place: Place) -> bool:
        from shapely.geometry import Point

        return bool(self.shape.covers(Point(place)))
