"""Patterns of cones, parts of cones and tubes.

The lateral surface of a cone unrolls to a sector about its apex: a point at slant distance s keeps s, and the angle
round the axis shrinks by r / s = sin(half angle) (a full turn to 360 degrees r / s). A tube unrolls to a rectangle.
Source: any textbook of pattern drafting; derived here.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.affinity import rotate, translate
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from lightsim.pattern.developed import Developed, Flat, Stock, made
from lightsim.pattern.piece import Label, Mark, Ring, Tab
from lightsim.pattern.rings import GRID, ROOT, arc, polygons, reading_angle, rings
from lightsim.pattern.rings import middle as centre
from lightsim.pattern.sizes import has_room
from lightsim.rig.shells import Cone

_MOST_SECTORS = 24
_LEEWAY = 0.01  # mm
_SHARE = 0.95  # of a sector: a tab ends before it comes out at the other side
_TOUCH = 0.01  # mm^2
_LETTER = "A"


@dataclass(frozen=True)
class _Sector:
    """A part of the ring between two rims, flat."""

    outline: Ring
    first: NDArray[np.float64]  # (2, 2) its straight edge on the right
    last: NDArray[np.float64]  # (2, 2) its straight edge on the left, where a glue tab goes
    angle: float = 0.0  # radians about the apex, which is the origin; 0 for a tube


def cone(shape: Cone, stock: Stock) -> list[Developed]:
    """A cone unrolled at the middle of its thickness, in as few equal sectors as fit the sheet.

    The inside keeps the stated diameters: the middle of the sheet lies half its thickness farther out.
    """
    closed = shape.sweep > 360 - 1e-9
    for count in range(1, _MOST_SECTORS + 1):
        sector = _sector(shape, stock.thickness, np.radians(shape.sweep) / count)
        joints = count if closed else count - 1
        flat = _flat(shape, stock, sector, count=count, joints=joints)
        low, high = np.array(flat.shape.bounds).reshape(2, 2)
        if has_room(high - low, stock.sheet) and (count > 1 or _simple(sector)):
            break
    found = made(flat, stock, name=stock.part if count == 1 else f"{stock.part}, sector")
    if count > 1 and not closed and stock.tab > 0:
        # The last of an open row has nothing to be glued to.
        last = _flat(shape, stock, sector, count=count, joints=0)
        covering = replace(last, copies=1, labels=(_beside(sector, sector.first, _LETTER),))
        found = made(replace(flat, copies=count - 1), stock, name=f"{stock.part}, sector")
        found += made(covering, stock, name=f"{stock.part}, last sector")
    return found


def _sector(shape: Cone, thickness: float, sweep: float) -> _Sector:
    near, far = shape.near_diameter / 2, shape.far_diameter / 2
    slant = float(np.hypot(shape.depth, near - far))
    sine, cosine = abs(near - far) / slant, shape.depth / slant
    out = thickness / 2 * cosine
    near, far = near + out, far + out
    if sine * max(near, far) < 1e-9 or sine < 1e-6:
        half = sweep * (near + far) / 4
        outline = np.array([[-half, -slant], [half, -slant], [half, 0.0], [-half, 0.0]])
        return _Sector(outline, outline[[1, 2]], outline[[0, 3]])
    small = min(near, far)
    # The apex points up where the narrow end is toward the lens, so that the lens always lies above.
    inner = small / sine
    outer = inner + slant
    middle = -np.pi / 2 if near < far else np.pi / 2
    half = sweep * sine / 2
    rim = arc(radius=outer, start=middle - half, end=middle + half)
    hole = arc(radius=inner, start=middle + half, end=middle - half) if inner > 0 else np.zeros((1, 2))
    outline = np.concatenate([rim, hole])
    start = np.array([rim[0], hole[-1]])
    end = np.array([rim[-1], hole[0]])
    # Seen from outside with the lens above, the angle round the axis grows to the left.
    return _Sector(outline, *((end, start) if near < far else (start, end)), angle=2 * half)


def _simple(sector: _Sector) -> bool:
    return bool(Polygon(sector.outline).is_valid)


def _flat(shape: Cone, stock: Stock, sector: _Sector, *, count: int, joints: int) -> Flat:
    whole: BaseGeometry = Polygon(sector.outline)
    tabs: tuple[Tab, ...] = ()
    marks: list[Mark] = []
    labels: list[Label] = []
    notes = [_roll(shape)]
    if joints:
        found = _overlap(sector, stock.tab) if stock.tab > 0 else None
        if found is not None:
            flap, rooted = found
            whole = shapely.union(whole, rooted, grid_size=GRID)
            tabs = (Tab(flap, _LETTER, "its other edge" if count == 1 else "the next sector"),)
            marks.append(Mark(sector.last, text="the other edge comes here"))
            labels.append(Label(_LETTER, centre(flap), 4.0, reading_angle(*sector.last)))
            notes.append("Glue the overlap under the edge with the same letter.")
        else:
            notes.append("The edges with the same letter meet: tape or glue them edge to edge.")
            labels.append(_beside(sector, sector.last, _LETTER))
        labels.append(_beside(sector, sector.first, _LETTER))
    middle = sector.outline.mean(axis=0)
    along = middle / np.linalg.norm(middle) if np.linalg.norm(middle) > 0 else np.array([0.0, 1.0])
    tube = shape.near_diameter == shape.far_diameter
    grain = (0.0, 1.0) if tube else (float(along[0]), float(along[1]))
    return Flat(
        whole, tabs=tabs, marks=tuple(marks), labels=tuple(labels), notes=tuple(notes), grain=grain, copies=count
    )


def _overlap(sector: _Sector, width: float) -> tuple[Ring, BaseGeometry] | None:
    """A strip along the left edge that ends within the rims, and the same rooted in the sector by a hair.

    None where it would lie on the sector itself, as with a nearly flat cone.
    """
    low, high = sector.last
    length = float(np.linalg.norm(high - low))
    along = (high - low) / length
    outward = np.array([-along[1], along[0]])
    if outward @ (sector.outline.mean(axis=0) - low) > 0:
        outward = -outward
    width, back = min(width, 0.8 * length), min(2.0, length / 8) * along
    strip = Polygon([low, low + back + width * outward, high - back + width * outward, high])
    # What it goes under begins where this sector ends; a little more room keeps rounding from nibbling at the edge.
    strip = shapely.intersection(strip, _next(sector, outward).buffer(_LEEWAY), grid_size=GRID)
    found = polygons(strip)
    if not found or shapely.intersection(found[0], Polygon(sector.outline), grid_size=GRID).area > _TOUCH:
        return None
    root = Polygon([low - ROOT * outward, high - ROOT * outward, high, low])
    return rings(found[0])[0], shapely.union(found[0], root, grid_size=GRID)


def _next(sector: _Sector, outward: NDArray[np.float64]) -> Polygon:
    """The sector laid on beyond its left edge, short of its own end."""
    whole = Polygon(sector.outline)
    if not sector.angle:
        return translate(whole, *(_SHARE * np.ptp(sector.outline[:, 0]) * outward))
    x, y = sector.last.mean(axis=0)
    sign = np.sign(x * outward[1] - y * outward[0])
    return rotate(whole, sign * _SHARE * sector.angle, origin=(0, 0), use_radians=True)


def _beside(sector: _Sector, edge: NDArray[np.float64], letter: str) -> Label:
    """A letter just inside an edge."""
    middle = edge.mean(axis=0)
    along = edge[1] - edge[0]
    inward = np.array([-along[1], along[0]]) / np.linalg.norm(along)
    if inward @ (sector.outline.mean(axis=0) - middle) < 0:
        inward = -inward
    inset = min(5.0, 0.2 * float(np.linalg.norm(along)))
    return Label(_LETTER, middle + inset * inward, min(4.0, inset), reading_angle(*edge))


def _roll(shape: Cone) -> str:
    if shape.near_diameter == shape.far_diameter:
        return "Roll it up, drawn side out."
    end = "lens" if shape.near_diameter < shape.far_diameter else "subject"
    return f"Roll it up, drawn side out; the narrow end points to the {end}."
