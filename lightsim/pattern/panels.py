"""Patterns of sheets, discs and bent sheets: they are flat already."""

from __future__ import annotations

import numpy as np

from lightsim.pattern.developed import Developed, Edge, Flat, Opening, Stock, made
from lightsim.pattern.piece import Mark, Ring
from lightsim.pattern.rings import circle, cut_out, less, rounded_rectangle
from lightsim.rig.flat import rectangle
from lightsim.rig.holes import RoundHole, SquareHole
from lightsim.rig.panels import CurvedSheet, Disc, FlatSheet


def panel(shape: FlatSheet | Disc | CurvedSheet, stock: Stock) -> list[Developed]:
    """A sheet as it lies flat: right and up as the camera sees it before it is turned, its back toward the eye.

    Lengths of a curved sheet are stated flat, so the pattern has them whatever its thickness.
    """
    cuts = [cut_out(hole) for hole in (*shape.holes, *shape.slits)]
    if isinstance(shape, Disc):
        outline: Ring = circle(diameter=shape.diameter)
    elif isinstance(shape, FlatSheet):
        outline = rounded_rectangle(width=shape.width, height=shape.height, corner_radius=shape.corner_radius)
    else:
        width, height = (shape.width, shape.length) if shape.bend == "up-down" else (shape.length, shape.width)
        outline = rectangle(width=width, height=height)
    flat = Flat(
        less(outline, cuts),
        marks=_bend(shape) if isinstance(shape, CurvedSheet) else (),
        edges=_edges(shape) if isinstance(shape, FlatSheet) else (),
        openings=_openings(shape) if not isinstance(shape, CurvedSheet) else (),
        notes=_notes(shape),
        grain=_grain(shape),
        side="outside" if isinstance(shape, CurvedSheet) else "back",
    )
    return made(flat, stock, name=stock.part)


def _edges(shape: FlatSheet) -> tuple[Edge, ...]:
    """The straight stretches of the four edges, anticlockwise from below."""
    x, y = shape.width / 2, shape.height / 2
    a, b = x - shape.corner_radius, y - shape.corner_radius
    ends = [((-a, -y), (a, -y)), ((x, -b), (x, b)), ((a, y), (-a, y)), ((-x, b), (-x, -b))]
    edges = []
    for start, end in ends:
        start_, end_ = np.array(start), np.array(end)
        length = float(np.linalg.norm(end_ - start_))
        if length > 0:
            along = (end_ - start_) / length
            local = np.array([[*start_, 0.0], [*end_, 0.0]])
            edges.append(Edge(start_, end_, local, np.array([-along[1], along[0], 0.0])))
    return tuple(edges)


def _openings(shape: FlatSheet | Disc) -> tuple[Opening, ...]:
    return tuple(
        Opening(
            middle=np.array([hole.right, hole.up]),
            size=opening_size(hole),
            round=isinstance(hole, RoundHole),
            local=np.array([hole.right, hole.up, 0.0]),
            axes=np.eye(3)[:2],
        )
        for hole in shape.holes
    )


def opening_size(hole: RoundHole | SquareHole) -> tuple[float, float]:
    """Width and height of a hole, mm."""
    return (hole.diameter, hole.diameter) if isinstance(hole, RoundHole) else (hole.width, hole.height)


def _bend(shape: CurvedSheet) -> tuple[Mark, ...]:
    """Short marks on the edges, at the middle of the bend."""
    reach = min(5.0, shape.width / 4)
    side = shape.width / 2
    lines = [np.array([[sign * side, 0.0], [sign * (side - reach), 0.0]]) for sign in (1, -1)]
    if shape.bend == "left-right":
        lines = [line[:, ::-1].copy() for line in lines]
    return tuple(Mark(line, text="middle of the bend") for line in lines)


def _grain(shape: FlatSheet | Disc | CurvedSheet) -> tuple[float, float] | None:
    """Paper bends most willingly about its grain: it runs along the straight edges of a bend."""
    if not isinstance(shape, CurvedSheet):
        return None
    return (1.0, 0.0) if shape.bend == "up-down" else (0.0, 1.0)


def _notes(shape: FlatSheet | Disc | CurvedSheet) -> tuple[str, ...]:
    if not isinstance(shape, CurvedSheet):
        return ()
    way = "up and down" if shape.bend == "up-down" else "left and right"
    return (f"Bend it {way}, away from the drawn side, through {np.degrees(shape.arc_angle):.0f} degrees.",)
