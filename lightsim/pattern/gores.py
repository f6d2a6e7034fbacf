"""Patterns of domes: a sphere does not unroll, so it is made of gores.

A gore is a strip from rim to crown, bent along its middle only. At arc length s along the middle it is as wide as the
circumference of the sphere there, divided by the number of gores: 2 pi r(s) / n. Source: globe and balloon gores,
textbooks of pattern drafting; derived here.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon

from lightsim.pattern.developed import Developed, Flat, Stock, made
from lightsim.pattern.piece import Label, Mark, Ring, Tab
from lightsim.pattern.rings import GRID, ROOT, roomiest
from lightsim.rig.shells import Dome

DEPARTURE = 2.0  # mm: furthest that the middle of a gore stands off the sphere, unless a number of gores is given
LEAST, MOST = 4, 36
FEWEST = 3  # that close round an axis
_NOTCH = 0.18  # of the width of a flap: cut back at each side of a notch
_TICK = 5.0  # mm, of the marks at the middle of rim and crown
_FLAP = 15.0  # mm, of the flaps into which the tab along a curved edge is cut


def gore_count(shape: Dome, *, thickness: float = 0.0) -> int:
    """The least even number of gores whose departure is at most DEPARTURE, from LEAST to MOST."""
    for count in range(LEAST, MOST, 2):
        if departure(shape, count, thickness=thickness) <= DEPARTURE:
            return count
    return MOST


def departure(shape: Dome, count: int, *, thickness: float = 0.0) -> float:
    """What gores, straight across, lie at most from the sphere on which their middles lie [mm].

    Their edges stand out most at the widest circle, of radius r: by no more than r (1 / cos(pi / n) - 1), for thick
    sheets at the angle that half of a gore's width in the middle of the sheet takes up inside. Derived here.
    """
    radius = _radius(shape)
    widest = shape.diameter / 2 if shape.depth <= shape.diameter / 2 else radius
    return float(widest * (1 / np.cos(np.pi / count * (1 + thickness / 2 / radius)) - 1))


def gores(shape: Dome, stock: Stock, *, count: int | None = None) -> list[Developed]:
    """One gore, and how many of it are cut; the crown points up."""
    number = gore_count(shape, thickness=stock.thickness) if count is None else count
    if number < FEWEST:
        raise ValueError(f"{number} gores make no dome. Allowed: at least {FEWEST}. Try 12")
    along, half = _profile(shape, stock.thickness, number)
    right = np.column_stack([half, along])
    left = np.column_stack([-half, along])[::-1]
    whole = Polygon(_without_doubles(np.concatenate([right, left])))
    labels: list[Label] = []
    marks: list[Mark] = []
    tabs: tuple[Tab, ...] = ()
    notes = [
        f"{number} pieces alike; bend each along its length, drawn side out. Gores stay straight across, so the bowl "
        f"stands off the sphere at the seams by up to {departure(shape, number, thickness=stock.thickness):.1f} mm."
    ]
    middle = float(along[len(along) // 2])
    reach = float(half[len(half) // 2])
    if stock.tab > 0:
        outlines, rooted = _flaps(right, stock.tab)
        whole = shapely.union_all([whole, *rooted], grid_size=GRID)
        tabs = tuple(Tab(outline, "A", "the next gore") for outline in outlines)
        marks.append(Mark(right, text="the next gore's edge comes here"))
        notes.append("Glue the flaps A under the edge A of the next gore.")
        tallest = max(outlines, key=lambda outline: Polygon(outline).area)
        labels.append(Label("A", roomiest(tallest), min(4.0, 0.5 * float(np.ptp(tallest[:, 0])))))
    else:
        notes.append("The edges meet: tape or glue them edge to edge.")
        if reach > 6.0:
            labels.append(Label("A", np.array([reach - 5.0, middle]), 4.0))
    if reach > 6.0:
        labels.append(Label("A", np.array([5.0 - reach, middle]), 4.0))
    tick = min(_TICK, along[-1] / 8)
    marks += [
        Mark(np.array([[0.0, end], [0.0, end + way]]), text="middle") for end, way in ((0.0, tick), (along[-1], -tick))
    ]
    flat = Flat(
        whole, tabs=tabs, marks=tuple(marks), labels=tuple(labels), notes=tuple(notes), grain=(1.0, 0.0), copies=number
    )
    return made(flat, stock, name=f"{stock.part}, gore")


def _radius(shape: Dome) -> float:
    rim = shape.diameter / 2
    return (rim**2 + shape.depth**2) / (2 * shape.depth)


def _profile(shape: Dome, thickness: float, count: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Arc length from the rim (n,) and half of the width there (n,), mm, in the middle of the thickness."""
    radius = _radius(shape)
    edge = np.arctan2(shape.diameter / 2, radius - shape.depth)
    inner = np.arcsin(min(shape.crown_hole / 2 / radius, 1.0))
    angle = np.linspace(edge, inner, max(48, int(np.ceil((edge - inner) / 0.01))) + 1)
    middle = radius + thickness / 2
    half = np.pi * middle * np.sin(angle) / count
    if shape.crown_hole == 0:
        half[-1] = 0.0
    return middle * (edge - angle), half


def _without_doubles(ring: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(ring[np.linalg.norm(ring - np.roll(ring, 1, axis=0), axis=1) > 1e-9])


def _flaps(edge: NDArray[np.float64], width: float) -> tuple[list[Ring], list[Polygon]]:
    """Flaps beside an edge (n, 2), short enough to lie down on its curve, and the same rooted in the gore by a hair."""
    way = np.gradient(edge, axis=0)
    outward = np.stack([way[:, 1], -way[:, 0]], axis=1) / np.linalg.norm(way, axis=1)[:, None]
    place = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(edge, axis=0), axis=1))])
    length = float(place[-1])
    width = min(width, length / 4)
    ends = np.linspace(0.0, length, max(1, round(length / _FLAP)) + 1)

    def beside(low: float, high: float, reach: float) -> NDArray[np.float64]:
        at = np.concatenate([[low], place[(place > low + 1e-6) & (place < high - 1e-6)], [high]])
        points = [np.interp(at, place, edge[:, k]) + reach * np.interp(at, place, outward[:, k]) for k in (0, 1)]
        return np.stack(points, axis=1)

    outlines, rooted = [], []
    for low, high in pairwise(ends):
        # Cut back at 45 degrees at rim and crown, where nothing may stand out, and by a notch between flaps.
        start = low + (width if low == 0 else _NOTCH * width)
        end = high - (width if high == length else _NOTCH * width)
        outer = beside(start, max(end, start + 0.1), width)[::-1]
        foot = beside(low, high, 0.0)
        outlines.append(np.concatenate([foot, outer]))
        rooted.append(Polygon(np.concatenate([foot[:1], beside(low, high, -ROOT), foot[-1:], outer])))
    return outlines, rooted
