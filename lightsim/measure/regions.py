"""Bright regions of a picture: smoothing, edges, islands and gaps on an equal grid of cells."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from lightsim.light.estimate import jackknife_error

Maps = NDArray[np.float64]
Masks = NDArray[np.bool_]


def smoothed(maps: Maps, passes: Sequence[int]) -> Maps:
    """Mean over squares of so many cells each way (odd), one pass after another, maps (..., rows, columns).

    Dark outside.
    """
    for window in passes:
        beyond = window // 2
        for axis in (-1, -2):
            pad = [(0, 0)] * maps.ndim
            pad[axis] = (beyond, beyond)
            padded = np.moveaxis(np.pad(maps, pad), axis, 0)
            count = maps.shape[axis]
            total = padded[:count].copy()
            for shift in range(1, window):
                total += padded[shift : shift + count]
            maps = np.moveaxis(total / window, 0, axis)
    return maps


def grown(lit: Masks, cells: int) -> Masks:
    """The lit cells (rows, columns) and all within so many cells of them."""
    return smoothed(lit.astype(float), (2 * cells + 1,)) > 0.5 / (2 * cells + 1) ** 2


def outer_edges(maps: Maps, level: NDArray[np.float64]) -> tuple[Maps, Maps]:
    """First and last crossing of the level in each row, each (m, rows), in cells (0: middle of the first).

    maps: (m, rows, columns), dark in the first and last column; level: (m,). Linear between the cells'
    middles, NaN in rows that stay below.
    """
    columns = maps.shape[-1]
    lit = maps >= level[:, None, None]
    some = lit.any(axis=-1)
    edges = []
    for first, step in (
        (np.argmax(lit, axis=-1), -1),
        (columns - 1 - np.argmax(lit[..., ::-1], axis=-1), 1),
    ):
        inside = np.take_along_axis(maps, first[..., None], -1)[..., 0]
        beyond = np.clip(first + step, 0, columns - 1)
        outside = np.take_along_axis(maps, beyond[..., None], -1)[..., 0]
        rise = np.where(inside > outside, inside - outside, 1)
        edges.append(np.where(some, first + step * np.clip((inside - level[:, None]) / rise, 0, 1), np.nan))
    return edges[0], edges[1]


def extent(maps: Maps, level: NDArray[np.float64], *, lost: float, tip: float) -> NDArray[np.float64]:
    """From the leftmost to the rightmost crossing of the level in maps (m, rows, columns) [cells], (m,).

    level: (m,); tip: rows that end within so much of the width of the outermost one say where the edge is;
    lost: cells^2, what smoothing has taken from an edge, per curvature. Places are chosen on the first map,
    the others being the same without one replicate each.
    """
    left, right = outer_edges(maps, level)
    if np.isnan(left[0]).all():
        return np.zeros(len(maps))
    span = float(np.nanmax(right[0]) - np.nanmin(left[0]))
    return _outermost(right, tip * span, lost) + _outermost(-left, tip * span, lost)


def _outermost(edge: NDArray[np.float64], tip: float, lost: float) -> NDArray[np.float64]:
    """Greatest of the edges (m, rows), (m,): of a smooth curve through the tip, lest noise add up."""
    filled = np.where(np.isnan(edge[0]), -np.inf, edge[0])
    top = int(np.argmax(filled))
    off = np.flatnonzero(filled < filled[top] - tip)
    first = int(off[off < top].max(initial=-1)) + 1
    last = int(off[off > top].min(initial=len(filled)))
    rows = np.arange(first, last)
    values = np.where(np.isnan(edge[:, first:last]), edge[0, first:last], edge[:, first:last])
    if len(rows) < 5:
        return np.asarray(values.mean(axis=1))
    place = (rows - rows.mean()) / (len(rows) / 2)
    flat, slope, bend = np.linalg.pinv(np.stack([np.ones_like(place), place, place**2], axis=1)) @ values.T
    vertex = np.clip(-slope[0] / min(2 * bend[0], -1e-9), place[0], place[-1])
    tips = np.array([place[0], vertex, place[-1]])
    tip_place = tips[np.argmax(slope[0] * tips + bend[0] * tips**2)]
    more = slope * tip_place + bend * tip_place**2
    # The farthest place of a straight edge is a matter of noise: believe it only as far as it stands out.
    believed = max(0.0, 1 - (2 * jackknife_error(more[1:]) / more[0]) ** 2) if more[0] > 0 else 0.0
    return np.asarray(flat + believed * more - lost * bend * 8 / len(rows) ** 2)


def lit_area(maps: Maps, level: NDArray[np.float64]) -> NDArray[np.float64]:
    """Area at or above the level [cells], (m,): linear between cells' middles, mean of rows and columns."""
    above = maps - level[:, None, None]
    areas = np.zeros(len(maps))
    for here, there in ((above[:, :, :-1], above[:, :, 1:]), (above[:, :-1], above[:, 1:])):
        gain = np.maximum(here, 0) + np.maximum(there, 0)
        size = np.maximum(np.abs(here) + np.abs(there), 1e-300)
        same = (here >= 0) == (there >= 0)
        areas += np.where(same, here >= 0, gain / size).sum(axis=(1, 2)) / 2
    return areas


def outlines(lit: Masks) -> int:
    """Islands less holes of lit (rows, columns), corners touch: Euler's number."""
    padded = np.pad(lit, 1)
    pairs = (padded[:-1] | padded[1:]).sum() + (padded[:, :-1] | padded[:, 1:]).sum()
    fours = (padded[:-1, :-1] | padded[1:, :-1] | padded[:-1, 1:] | padded[1:, 1:]).sum()
    return int(fours) - int(pairs) + int(lit.sum())


def labelled(lit: Masks) -> tuple[NDArray[np.intp], int]:
    """Number of each lit cell's island, from 1 (0: dark), (rows, columns), and how many islands there are.

    Cells that touch at a side or a corner belong together.
    """
    edge = np.diff(np.pad(lit, ((0, 0), (1, 1))).astype(np.int8), axis=1)
    rows, starts = np.nonzero(edge == 1)
    ends = np.nonzero(edge == -1)[1]
    parent = list(range(len(rows)))

    def root(run: int) -> int:
        while parent[run] != run:
            parent[run] = parent[parent[run]]
            run = parent[run]
        return run

    first_of_row = np.searchsorted(rows, np.arange(lit.shape[0] + 1)).tolist()
    begins, stops = starts.tolist(), ends.tolist()
    for row in range(1, lit.shape[0]):
        below, last_below, here, last = (
            first_of_row[row - 1],
            first_of_row[row],
            first_of_row[row],
            first_of_row[row + 1],
        )
        while below < last_below and here < last:
            if begins[below] <= stops[here] and begins[here] <= stops[below]:
                parent[root(here)] = root(below)
            if stops[below] < stops[here]:
                below += 1
            else:
                here += 1
    roots = [root(run) for run in range(len(rows))]
    names = {number: name for name, number in enumerate(dict.fromkeys(roots), start=1)}
    label = np.zeros(lit.shape, np.intp)
    for row, begin, stop, number in zip(rows.tolist(), begins, stops, roots, strict=True):
        label[row, begin:stop] = names[number]
    return label, len(names)


def enclosed(lit: Masks, seam: int) -> Masks:
    """Dark cells between lit ones along row and column, or along one of them in a run of at most seam cells.

    The first is a hole; the second a seam from edge to edge. lit: (m, rows, columns).
    """
    runs = []
    for axis in (1, 2):
        count = lit.shape[axis]
        place = np.arange(count).reshape((-1, 1) if axis == 1 else (1, -1))
        before = np.maximum.accumulate(np.where(lit, place, -2 * count), axis=axis)
        after = np.flip(np.minimum.accumulate(np.flip(np.where(lit, place, 4 * count), axis), axis=axis), axis)
        runs.append(after - before - 1)
    across, upright = runs
    size = max(lit.shape[1:])
    hole = (across < size) & (upright < size)
    return np.asarray(~lit & (hole | (np.minimum(across, upright) <= seam)), bool)


def dark_gaps(smooth: Maps, level: float, seam: int) -> Masks:
    """Gaps of one map (rows, columns): enclosed, below the level, somewhere below half of it."""
    dark = enclosed((smooth >= level)[None], seam)[0]
    # A seam has full light on both sides; a notch that noise leaves in an outline has not.
    deep = (smooth < level / 2) & (
        enclosed((smooth >= level)[None], 0) | enclosed((smooth >= 1.5 * level)[None], seam)
    )[0]
    label, _ = labelled(dark)
    found = np.unique(label[dark & deep])
    return np.asarray(np.isin(label, found), bool)


def separate(smooth: Maps, *, peak: float, faintest: float, least_share: float) -> int:
    """How many separate bright regions a map (rows, columns) shows, at least 1.

    Regions count apart if they reach faintest x peak, hold at least the least share of the light each, and
    every way from one to the other crosses cells below half of the smaller one's peak. The map is cut at
    levels a quarter of a stop apart; an island of one cut is split if two or more of its islands in a higher
    cut count.
    """
    total = float(smooth.sum())
    steps = int(np.ceil(-np.log2(faintest) * 4))
    cuts = []
    for step in range(steps + 1):
        level = peak * faintest / 2 * 2 ** (step / 4)
        label, found = labelled(smooth >= level)
        flat = label.ravel()
        light = np.bincount(flat, smooth.ravel(), found + 1)
        top = np.zeros(found + 1)
        np.maximum.at(top, flat, smooth.ravel())
        worthy = (light >= least_share * total) & (top >= max(2 * level, faintest * peak))
        cuts.append((label, np.flatnonzero(worthy[1:]) + 1))
    count: dict[int, int] = {}
    for step in range(steps, -1, -1):
        label, worthy_here = cuts[step]
        here: dict[int, int] = {int(island): 0 for island in worthy_here}
        if step < steps:
            above, worthy_above = cuts[step + 1]
            for island in worthy_above:
                owner = int(label[above == island][0])
                if owner in here:
                    here[owner] += count[int(island)]
        count = {island: max(1, children) for island, children in here.items()}
    return max(1, sum(count.values()))
