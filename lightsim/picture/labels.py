"""Names beside points, so that no name covers another, a point or an error bar."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product
from typing import cast

import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.text import Annotation
from numpy.typing import NDArray

from lightsim.picture.fit import SMALL
from lightsim.picture.style import GREY, figure_of

Boxes = NDArray[np.float64]  # (n, 4) left, bottom, right, top in pixels

_REACHES = (9.0, 15.0, 22.0, 32.0, 45.0, 60.0, 80.0)  # points from the mark
_WAYS = [(1, 0), (-1, 0), *((across, up) for across in (0, 1, -1, 0.5, -0.5) for up in (1, -1))]
_LINE_FROM = 12.0  # points; farther names get a line to their point
_GAP = 2.0  # points around a name


def place_names(
    axes: Axes, names: Sequence[str], places: NDArray[np.float64], reach: NDArray[np.float64]
) -> list[Annotation]:
    """Write names beside their points, each where it covers least; the figure's layout is fixed by then.

    places: (n, 2) in data; reach: (n, 2) half lengths of the error bars in data.
    """
    figure = figure_of(axes)
    figure.draw_without_rendering()
    renderer = cast(FigureCanvasAgg, figure.canvas).get_renderer()  # type: ignore[no-untyped-call]
    point = figure.dpi / 72
    spots = axes.transData.transform(places)
    low, high = axes.transData.transform(places - reach), axes.transData.transform(places + reach)
    half = 4.5 * point
    taken = np.concatenate(
        [
            np.column_stack([spots - half, spots + half]),
            np.column_stack([low[:, 0], spots[:, 1] - point, high[:, 0], spots[:, 1] + point]),
            np.column_stack([spots[:, 0] - point, low[:, 1], spots[:, 0] + point, high[:, 1]]),
        ]
    )
    inside = np.array(axes.get_window_extent(renderer).extents)
    written = []
    for name, spot, place in zip(names, spots, places, strict=True):
        text = axes.annotate(
            name,
            (float(place[0]), float(place[1])),
            (0, 0),
            textcoords="offset points",
            ha="center",
            va="center",
            fontsize=SMALL,
            annotation_clip=False,
        )
        extent = text.get_window_extent(renderer)
        size = np.array([extent.width, extent.height])
        best, middle, line = None, spot, False
        for far, way in product(_REACHES, _WAYS):
            aside = np.array(way) * (far * point) + np.sign(way) * size / 2 * np.abs(way)
            box = np.concatenate([spot + aside - size / 2, spot + aside + size / 2])
            cost = _covered(box, taken, _GAP * point) + _outside(box, inside) + _strange(box, spot, spots) + far
            if best is None or cost < best:
                best, middle, line = cost, spot + aside, far > _LINE_FROM
        offset = (middle - spot) / point
        text.set_position((float(offset[0]), float(offset[1])))
        taken = np.vstack([taken, np.concatenate([middle - size / 2, middle + size / 2])])
        if line:
            _line(axes, place, middle, size)
        written.append(text)
    return written


def _covered(box: NDArray[np.float64], taken: Boxes, gap: float) -> float:
    """Area of a box (with a gap around it) that is taken, much weighted."""
    wide = np.minimum(box[2] + gap, taken[:, 2]) - np.maximum(box[0] - gap, taken[:, 0])
    tall = np.minimum(box[3] + gap, taken[:, 3]) - np.maximum(box[1] - gap, taken[:, 1])
    area = np.maximum(wide, 0) * np.maximum(tall, 0)
    return float(20 * area.sum() + 100 * np.count_nonzero(area))


def _strange(box: NDArray[np.float64], spot: NDArray[np.float64], spots: NDArray[np.float64]) -> float:
    """How many other points a name is nearer to than to its own, much weighted."""
    apart = [np.hypot(*np.maximum(np.maximum(box[:2] - each, each - box[2:]), 0)) for each in (spot, *spots)]
    return float(60 * np.count_nonzero(np.array(apart[1:]) < apart[0] - 0.5))


def _outside(box: NDArray[np.float64], inside: NDArray[np.float64]) -> float:
    beyond = np.maximum(inside[:2] - box[:2], 0).sum() + np.maximum(box[2:] - inside[2:], 0).sum()
    return float(1e4 * beyond)


def _line(axes: Axes, place: NDArray[np.float64], middle: NDArray[np.float64], size: NDArray[np.float64]) -> None:
    """A thin line from a point to the nearest edge of its name."""
    spot = axes.transData.transform(place)
    end = np.clip(spot, middle - size / 2, middle + size / 2)
    point = figure_of(axes).dpi / 72
    axes.annotate(
        "",
        (float(place[0]), float(place[1])),
        tuple((end - spot) / point),
        textcoords="offset points",
        arrowprops={"arrowstyle": "-", "color": GREY, "linewidth": 0.7, "shrinkA": 0, "shrinkB": 4},
        annotation_clip=False,
    )
