"""Names of the parts of a drawing, each where it covers least, with a line to its part."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from matplotlib.axes import Axes
from matplotlib.text import Annotation
from numpy.typing import NDArray

from lightsim.picture.fit import SMALL
from lightsim.picture.style import INK, figure_of

Points = NDArray[np.float64]  # (n, 2)

_CELL = 3.0  # points, of the grid on which the drawing's lines are counted
_STEP = 9.0  # points between the places that a name may take
_GAP = np.array([7.0, 3.0])  # points beside a name, and above and below it
_LINES, _FAR = 1.0, 0.25  # cost of a cell with a line in it, and of a point of distance
_ALONE = 8.0  # points; where other parts are nearer, a line to a part might mean them
_MOST_SPOTS = 40  # of a part, and
_LIKELY = 400  # best places and spots that are looked at closely


@dataclass(frozen=True)
class Callout:
    """A name and the places of its part that a line may lead to, (n, 2) in data."""

    name: str
    spots: Points


def place_callouts(axes: Axes, callouts: Sequence[Callout], lines: Sequence[Points]) -> list[Annotation]:
    """Write names into a drawing, none over another, over lines (n, 2, in data) only where there is no other place.

    The axes' limits and the layout of the figure are fixed by then. Names without a spot inside the axes are left out.
    """
    figure = figure_of(axes)
    figure.draw_without_rendering()
    point = figure.dpi / 72
    window = axes.get_window_extent()
    corner, size = np.array([window.x0, window.y0]), np.array([window.width, window.height])

    def in_window(places: Points) -> Points:
        return np.asarray((axes.transData.transform(places) - corner) / point)

    size = size / point
    busy = _busy([in_window(line) for line in lines], size)
    spots = [_inside(in_window(each.spots), size) for each in callouts]
    taken = np.zeros((0, 4))
    written = []
    # Names with few places first.
    for number in sorted(range(len(callouts)), key=lambda each: len(spots[each])):
        own = spots[number]
        if not len(own):
            continue
        text = axes.annotate(
            callouts[number].name,
            (0.0, 0.0),
            (0.0, 0.0),
            ha="center",
            va="center",
            fontsize=SMALL,
            color=INK,
            annotation_clip=False,
            zorder=8,
            bbox={"facecolor": "white", "edgecolor": "none", "alpha": 0.8, "pad": 1.0},
            arrowprops={
                "arrowstyle": "-",
                "color": INK,
                "linewidth": 0.8,
                "shrinkA": 0.0,
                "shrinkB": 0.0,
                "relpos": (0.5, 0.5),
            },
        )
        extent = text.get_window_extent()
        half = np.array([extent.width, extent.height]) / point / 2
        strange = [each for other, each in enumerate(spots) if other != number and len(each)]
        middle, spot = _best(half, own, np.concatenate(strange) if strange else np.zeros((0, 2)), taken, busy, size)
        place, to = axes.transData.inverted().transform(np.array([middle, spot]) * point + corner)
        text.set_position((float(place[0]), float(place[1])))
        text.xy = (float(to[0]), float(to[1]))
        text.set_in_layout(False)
        taken = np.vstack([taken, np.concatenate([middle - half, middle + half])])
        written.append(text)
        # The next name keeps off this one's line.
        _count(busy, np.linspace(spot, middle, 40), 4.0)
    return written


def _inside(places: Points, size: NDArray[np.float64]) -> Points:
    inner = places[((places > 2) & (places < size - 2)).all(axis=1)]
    return inner[:: max(1, len(inner) // _MOST_SPOTS)]


def _busy(lines: Sequence[Points], size: NDArray[np.float64]) -> NDArray[np.float64]:
    """How many cells of a grid hold something drawn, (columns, rows)."""
    grid = np.zeros(tuple((size // _CELL).astype(int) + 1))
    for line in lines:
        for start, end in pairwise(line):
            steps = int(min(np.abs(end - start).max() / _CELL, 2000)) + 1
            _count(grid, np.linspace(start, end, steps + 1), 1.0)
    return grid


def _count(grid: NDArray[np.float64], places: Points, worth: float) -> None:
    cell = np.floor(places / _CELL).astype(int)
    own = ((cell >= 0) & (cell < grid.shape)).all(axis=1)
    column, row = cell[own].T
    grid[column, row] = np.maximum(grid[column, row], worth)


def _best(
    half: NDArray[np.float64],
    own: Points,
    strange: Points,
    taken: NDArray[np.float64],
    busy: NDArray[np.float64],
    size: NDArray[np.float64],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Middle of a name and the spot that its line leads to, points from the lower left corner."""
    axes = [
        np.arange(reach + gap, max(whole - reach - gap, reach + gap) + 1, _STEP)
        for reach, gap, whole in zip(half, _GAP, size, strict=True)
    ]
    middle = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, 2)
    low, high = middle - half - _GAP, middle + half + _GAP
    total = np.pad(busy.cumsum(axis=0).cumsum(axis=1), ((1, 0), (1, 0)))
    first = np.clip(np.floor(low / _CELL).astype(int), 0, busy.shape)
    last = np.clip(np.ceil(high / _CELL).astype(int), 0, busy.shape)
    covered = total[last[:, 0], last[:, 1]] - total[first[:, 0], last[:, 1]]
    covered = covered - total[last[:, 0], first[:, 1]] + total[first[:, 0], first[:, 1]]
    cost = _LINES * covered
    for box in taken:
        wide = np.minimum(high[:, 0], box[2]) - np.maximum(low[:, 0], box[0])
        tall = np.minimum(high[:, 1], box[3]) - np.maximum(low[:, 1], box[1])
        cost = cost + 1e4 * ((wide > 0) & (tall > 0))
    apart = np.maximum(np.maximum(low[:, None] - own[None], own[None] - high[:, None]), 0)
    way = np.hypot(apart[..., 0], apart[..., 1])
    lonely = np.full(len(own), np.inf)
    if len(strange):
        lonely = np.linalg.norm(own[:, None] - strange[None], axis=2).min(axis=1)
    whole = cost[:, None] + _FAR * way + 2.0 * np.maximum(_ALONE - lonely, 0)[None]
    # A name over its own spot would hide what it names.
    whole = whole + 30.0 * (way == 0)
    likely = np.argsort(whole, axis=None)[:_LIKELY]
    place, spot = np.unravel_index(likely, whole.shape)
    least = whole[place, spot]
    for box in taken:
        least = least + 1e3 * _crosses(middle[place], own[spot], box)
    best = int(least.argmin())
    return middle[place[best]], own[spot[best]]


def _crosses(start: Points, end: Points, box: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Whether lines run through a box; slabs, Kay & Kajiya (1986)."""
    way = end - start
    way = np.where(np.abs(way) < 1e-9, 1e-9, way)
    one, two = (box[:2] - start) / way, (box[2:] - start) / way
    enters, leaves = np.minimum(one, two).max(axis=-1), np.maximum(one, two).min(axis=-1)
    return np.asarray((enters < leaves) & (leaves > 0) & (enters < 1))
