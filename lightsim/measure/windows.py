"""Squares of a sampled density, on a plane and on a line; the equivalent areas and lengths made of them.

A sum of squares over the cells of a map errs twice. Cells blur bright and dark together (the sum comes out
too low), and noise adds its own square (too high). So here:

- Only products of different replicates count: their noise is independent, the products are unbiased. They may
  come out negative, and stay so.
- Sliding windows of w, 2w and 4w cells, summed by doubling, give the square of the blurred density at three
  widths. Edges make it err in proportion to w, corners and smooth slopes to w^2:
  8/3 Q(w) - 2 Q(2w) + 1/3 Q(4w) has neither (Richardson's extrapolation, twice).
- Wide windows have less noise, narrow ones less bias. So windows are narrowed until enough of them fit into
  the equivalent area and the next narrower ones agree.
- The standard error comes from the table of all pairs of replicates. The plain jackknife counts twice what is
  peculiar to a pair (Efron & Stein, Ann. Statist. 9, 586, 1981): for an evenly bright source, where nothing
  else is left, that overstates the error by a factor of up to 1.4.

Source: derived here; sums over pairs after Hoeffding, Ann. Math. Statist. 19, 293 (1948).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lightsim.light.estimate import Estimate, by_replicate

Floats = NDArray[np.float64]

LEAST_REPLICATES = 4  # fewer leave no freedom to tell apart what a replicate and what a pair has in common

_TOO_FEW = "too few arrivals for this figure: products of different replicates have no positive mean; try more paths"

_EXTRAPOLATE = (8 / 3, -2.0, 1 / 3)  # windows of w, 2w, 4w
# An edge that fills a share f of its cells shifts the sum by f (1 - f) in place of its average, 1/6. Straight
# edges along the border of the map fill the same share everywhere: give them the share that has no shift.
_EDGE = float(0.5 - np.sqrt(1 / 12))
# Cells along each side of the map, and the widest window: w is 1/16 to 1/48 of the side, then 1/80 to 1/240.
_PLANES = ((96, 24), (480, 24))
_LINE_CELLS, _LINE_WIDEST = 4096, 256  # w is 1/64 of the line and less
_NARROWEST = (1, 3)  # cells; doubled from there
_LEAST_WINDOWS = 13  # of w across the equivalent area or length: a normal spot then errs by 0.2 % at most
_AGREE = 0.0005  # relative
_TAIL = 0.02  # of the light, cut off at each end when the core of the map is sought
_TAIL_CELLS = 1024
_SLANTED = 0.3  # of the second moments; rounder light is left as it lies
_LONG_TAIL = 1.5  # map to core; a longer one is counted apart


@dataclass(frozen=True)
class Extent:
    """Rectangle on a plane map (any unit of length)."""

    low: tuple[float, float]
    size: tuple[float, float]

    @property
    def area(self) -> float:
        return self.size[0] * self.size[1]

    def grown(self, by: float) -> Extent:
        """The same, larger by so much on every side."""
        return Extent((self.low[0] - by, self.low[1] - by), (self.size[0] + 2 * by, self.size[1] + 2 * by))

    def steps(self, cells: tuple[int, int]) -> tuple[float, float]:
        """Size of a cell of histograms along x and y."""
        return (self.size[0] / (cells[0] - 2 * _EDGE), self.size[1] / (cells[1] - 2 * _EDGE))

    def middle(self, column: int, row: int, cells: tuple[int, int]) -> tuple[float, float]:
        """Middle (x, y) of a cell of histograms."""
        step = self.steps(cells)
        return (self.low[0] + (column + 0.5 - _EDGE) * step[0], self.low[1] + (row + 0.5 - _EDGE) * step[1])

    def holds(self, x: Floats, y: Floats) -> NDArray[np.bool_]:
        """Which points lie inside, (n,)."""
        inside = np.ones(len(x), bool)
        for along, low, size in zip((x, y), self.low, self.size, strict=True):
            inside &= (along >= low) & (along <= low + size)
        return inside


def extent_of(x: Floats, y: Floats) -> Extent:
    """Smallest upright rectangle around points, x and y (n,), n > 0."""
    low = (float(x.min()), float(y.min()))
    size = (float(x.max()) - low[0], float(y.max()) - low[1])
    largest = max(*size, 1e-9)
    return Extent(low, (max(size[0], 1e-6 * largest), max(size[1], 1e-6 * largest)))


def pair_mean(pairs: Floats) -> float:
    """Mean of products of different replicates, pairs (R, R): unbiased for the product of the means."""
    count = len(pairs)
    return float((pairs.sum() - np.trace(pairs)) / (count * (count - 1)))


def pair_error(pairs: Floats) -> float:
    """Standard error of pair_mean, pairs (R, R) symmetric, R >= 4.

    Splits each pair into mean + own share of either replicate + what is peculiar to the pair (least squares);
    the variance is 4 / R of the shares' variance plus 2 / (R (R - 1)) of the peculiar one's. A negative
    variance of the shares counts as none. Source: Hoeffding 1948; the least-squares split derived here.
    """
    count = len(pairs)
    if count < LEAST_REPLICATES:
        raise ValueError(f"replicates = {count}: this error bar needs at least {LEAST_REPLICATES}")
    mean = pair_mean(pairs)
    apart = np.where(np.eye(count, dtype=bool), 0.0, pairs - mean)
    share = apart.sum(axis=1) / (count - 2)
    left = np.where(np.eye(count, dtype=bool), 0.0, apart - share[:, None] - share[None, :])
    peculiar = (left**2).sum() / (count * (count - 3))
    own = max(share @ share / (count - 1) - peculiar / (count - 2), 0.0)
    return float(np.sqrt(4 * own / count + 2 * peculiar / (count * (count - 1))))


def quotient(top: Floats, bottom: Floats) -> Estimate:
    """pair_mean(top) / pair_mean(bottom), both (R, R), its error to first order in both.

    Raises ValueError where the bottom is not positive: too few samples to say anything.
    """
    upper, lower = pair_mean(top), pair_mean(bottom)
    if not lower > 0:
        raise ValueError(_TOO_FEW)
    value = upper / lower
    return Estimate(value, pair_error(top / lower - (value / lower) * bottom), len(top))


def histograms(
    x: Floats,
    y: Floats,
    weight: Floats,
    replicate: NDArray[np.integer],
    replicates: int,
    extent: Extent,
    cells: tuple[int, int],
    *,
    margin: int = 0,
) -> NDArray[np.float32]:
    """Each replicate's own light in the cells of a map, (R, margin + rows, margin + columns).

    x, y, weight, replicate: (n,), weights sum to the mean of all replicates; points outside are left out.
    cells: (columns, rows) along (x, y); margin: empty cells in front of them, along each axis.
    """
    inside = extent.holds(x, y)
    shape = (replicates, margin + cells[1], margin + cells[0])
    row = margin + _cell(y[inside], extent.low[1], extent.size[1], cells[1])
    column = margin + _cell(x[inside], extent.low[0], extent.size[0], cells[0])
    index = (replicate[inside].astype(np.intp) * shape[1] + row) * shape[2] + column
    flat = np.bincount(index, weight[inside], int(np.prod(shape))) * replicates
    return flat.astype(np.float32).reshape(shape)


def round_sums(light: NDArray[np.floating], *, radius: float) -> Floats:
    """Sum of the cells in a circle around each cell of light (rows, columns); radius in cells."""
    reach = int(radius)
    rows, columns = light.shape
    edge = np.pad(np.cumsum(np.pad(light.astype(float), reach), axis=1), ((0, 0), (1, 0)))
    result = np.zeros((rows, columns))
    for offset in range(-reach, reach + 1):
        half = int(np.sqrt(radius * radius - offset * offset))
        band = edge[reach + offset : reach + offset + rows]
        result += band[:, reach + half + 1 : reach + half + 1 + columns]
        result -= band[:, reach - half : reach - half + columns]
    return result


def _cell(along: Floats, low: float, size: float, cells: int) -> NDArray[np.intp]:
    place = _EDGE + (along - low) * ((cells - 2 * _EDGE) / size)
    index: NDArray[np.intp] = place.astype(np.intp)
    return np.minimum(index, cells - 1)


def window_products(
    maps: NDArray[np.float32], others: NDArray[np.float32] | None, *, narrowest: int, widest: int
) -> Floats:
    """Sums over all places of a window of products of two replicates' light in it, (k, R, R).

    maps: (R, cells...) on a line or a plane, with at least widest - 1 empty cells in front along each axis.
    others: the same shape, the second factor; None: maps itself.
    Windows are narrowest, 2 narrowest, 4 narrowest ... cells wide along each axis, no more than widest.
    """
    factors = [maps.copy()] if others is None else [maps.copy(), others.copy()]
    for sums in factors:
        for ahead in _axes(sums):
            one = ahead.copy() if narrowest > 1 else ahead
            for step in range(1, narrowest):
                ahead[..., :-step] += one[..., step:]
    products = []
    width = narrowest
    while True:
        rows = [sums.reshape(len(sums), -1) for sums in factors]
        products.append(rows[0] @ rows[-1].T)
        if 2 * width > widest:
            return np.array(products, float)
        for sums in factors:
            for ahead in _axes(sums):
                ahead[..., :-width] += ahead[..., width:]
        width *= 2


def _axes(sums: NDArray[np.float32]) -> list[NDArray[np.float32]]:
    """Views of an array (R, cells...), each with another axis of cells last."""
    return [np.moveaxis(sums, axis, -1) for axis in range(1, sums.ndim)]


def squares(
    maps: NDArray[np.float32], others: NDArray[np.float32] | None = None, *, cell: float, widest: int
) -> tuple[NDArray[np.intp], Floats]:
    """Integral of the product of two replicates' densities, freed of edge bias, by ever wider windows.

    maps, others: as of window_products; cell: its area or length.
    Returns w in cells (k,), growing, and the tables of all pairs (k, R, R).
    """
    near, middle, far = _EXTRAPOLATE
    widths: list[int] = []
    tables: list[Floats] = []
    for narrowest in _NARROWEST:
        products = window_products(maps, others, narrowest=narrowest, widest=widest)
        width = narrowest * 2 ** np.arange(len(products))
        blurred = products / (cell * width ** (2.0 * (maps.ndim - 1)))[:, None, None]
        widths.extend(width[:-2].tolist())
        tables.extend(near * blurred[:-2] + middle * blurred[1:-1] + far * blurred[2:])
    order = np.argsort(widths)
    return np.array(widths)[order], np.array(tables)[order]


def equivalent_area(
    x: Floats,
    y: Floats,
    weight: Floats,
    replicate: NDArray[np.integer],
    replicates: int,
    *,
    density: Floats | None = None,
) -> Estimate:
    """(int L dA)^2 / int L^2 dA of light on a plane map, in the map's unit squared.

    x, y, weight, replicate: (n,), weights sum to the mean of all replicates.
    density: (n,) L where it is known exactly, else 0 (None: nowhere). The square of that light needs no
    windows: it is the sum of weight times density. Two known lights are taken not to overlap.
    Raises ValueError where there is no light, or too little of it sampled.
    """
    light = _total(weight)
    known = np.zeros(len(weight), bool) if density is None else density > 0
    share = by_replicate(weight / light, replicate, replicates)
    top = np.outer(share, share)
    exact = np.zeros(replicates)
    if density is not None and known.any():
        exact = by_replicate(weight * density / light**2, replicate, replicates)
    bottom = (exact[:, None] + exact[None, :]) / 2
    spread = ~known & (weight > 0)
    if not spread.any():
        return quotient(top, bottom)
    x, y = _along_principal_axes(x, y, weight, spread)
    points = (x, y, weight / light, replicate)
    regions = _regions(*(column[spread] for column in points[:3]))
    spread_share = float(weight[spread].sum()) / light
    tried: list[tuple[float, Estimate]] = []
    for plane in _PLANES:
        widths, own, crossed = np.zeros(1, np.intp), np.zeros((1, 1, 1)), np.zeros((1, 1, 1))
        for region in regions:
            inside = _inside(regions, region, x, y)
            widths, table = _plane_squares(points, inside & spread, None, replicates, region, plane)
            own = own + table
            if (inside & known).any():
                both = _plane_squares(points, inside & spread, inside & known, replicates, region, plane)[1]
                crossed = crossed + both + both.transpose(0, 2, 1)
        window = widths * (np.sqrt(regions[0].area) / plane[0])
        inverse = np.array([np.sqrt(max(pair_mean(each), 0.0)) for each in own]) / spread_share
        found = _settle(top, bottom + own + crossed, _LEAST_WINDOWS * window * inverse <= 1, tried)
        if found is not None:
            return found
    return _least_bad(tried)


def equivalent_length(x: Floats, weight: Floats, replicate: NDArray[np.integer], replicates: int) -> Estimate:
    """(int P dx)^2 / int P^2 dx of light on a line, in the unit of x: its equivalent width.

    x, weight, replicate: (n,), weights sum to the mean of all replicates.
    Raises ValueError where there is no light, or too little of it sampled.
    """
    light = _total(weight)
    share = by_replicate(weight / light, replicate, replicates)
    top = np.outer(share, share)
    low = float(x.min())
    size = max(float(x.max()) - low, 1e-9)
    side = _LINE_WIDEST - 1 + _LINE_CELLS
    index = replicate.astype(np.intp) * side + _LINE_WIDEST - 1 + _cell(x, low, size, _LINE_CELLS)
    flat = np.bincount(index, weight / light, replicates * side) * replicates
    maps = flat.astype(np.float32).reshape(replicates, side)
    cell = size / (_LINE_CELLS - 2 * _EDGE)
    widths, tables = squares(maps, cell=cell, widest=_LINE_WIDEST)
    inverse = np.array([pair_mean(table) for table in tables])
    tried: list[tuple[float, Estimate]] = []
    found = _settle(top, tables, _LEAST_WINDOWS * cell * widths * inverse <= 1, tried)
    return found or _least_bad(tried)


def _settle(
    top: Floats, bottoms: Floats, enough: NDArray[np.bool_], tried: list[tuple[float, Estimate]]
) -> Estimate | None:
    """Quotient at the widest windows that are narrow enough and agree with the next; None: none do.

    bottoms: (k, R, R), narrowest first; enough: (k,) whether so many windows fit;
    tried: grows by (how far off, figure).
    """
    for level in range(len(bottoms) - 1, 0, -1):
        scale = pair_mean(bottoms[level])
        if not scale > 0:
            continue
        figure = quotient(top, bottoms[level])
        change = (bottoms[level - 1] - bottoms[level]) / scale
        step, error = abs(pair_mean(change)), pair_error(change)
        if enough[level] and step <= max(_AGREE, 3 * error):
            return figure
        tried.append((figure.value * step + figure.standard_error, figure))
    return None


def _least_bad(tried: list[tuple[float, Estimate]]) -> Estimate:
    if not tried:
        raise ValueError(_TOO_FEW)
    return min(tried, key=lambda each: each[0])[1]


def _total(weight: Floats) -> float:
    total = float(weight.sum())
    if not total > 0:
        raise ValueError("no light arrives: this figure needs some")
    return total


def _along_principal_axes(x: Floats, y: Floats, weight: Floats, chosen: NDArray[np.bool_]) -> tuple[Floats, Floats]:
    """Points turned so that the light's longest side lies along x: a slanted strip then fills its map."""
    own = np.where(chosen, weight, 0.0)
    own = own / own.sum()
    dx, dy = x - own @ x, y - own @ y
    xx, xy, yy = own @ (dx * dx), own @ (dx * dy), own @ (dy * dy)
    if np.hypot(xx - yy, 2 * xy) < _SLANTED * (xx + yy):
        return dx, dy
    angle = 0.5 * np.arctan2(2 * xy, xx - yy)
    return np.cos(angle) * dx + np.sin(angle) * dy, np.cos(angle) * dy - np.sin(angle) * dx


def _regions(x: Floats, y: Floats, weight: Floats) -> list[Extent]:
    """The map's core and, where long tails stretch far beyond it, the whole map for what lies outside.

    The cut is one more edge on either side: it biases nothing.
    """
    whole = extent_of(x, y)
    low, size = [], []
    for along, least, most in zip((x, y), whole.low, whole.size, strict=True):
        share = np.cumsum(np.bincount(_cell(along, least, most, _TAIL_CELLS), weight, _TAIL_CELLS))
        first, last = np.searchsorted(share, share[-1] * np.array([_TAIL, 1 - _TAIL]))
        reach, middle = (
            (last + 1 - first) * most / _TAIL_CELLS,
            least + (first + last + 1) / 2 * most / _TAIL_CELLS,
        )
        low.append(max(float(middle - 0.65 * reach), least))
        size.append(min(float(middle + 0.65 * reach), least + most) - low[-1])
    if whole.size[0] <= _LONG_TAIL * size[0] and whole.size[1] <= _LONG_TAIL * size[1]:
        return [whole]
    return [Extent((low[0], low[1]), (size[0], size[1])), whole]


def _inside(regions: list[Extent], region: Extent, x: Floats, y: Floats) -> NDArray[np.bool_]:
    """Points that a region counts: each counts in the first that holds it."""
    inside = region.holds(x, y)
    return inside if region is regions[0] else inside & ~regions[0].holds(x, y)


def _plane_squares(
    points: tuple[Floats, Floats, Floats, NDArray[np.integer]],
    chosen: NDArray[np.bool_],
    other: NDArray[np.bool_] | None,
    replicates: int,
    extent: Extent,
    plane: tuple[int, int],
) -> tuple[NDArray[np.intp], Floats]:
    """Squares of the chosen light, or its products with the other light; plane: cells, widest window."""
    cells, widest = plane
    size = (cells, cells)

    def spread_out(own: NDArray[np.bool_]) -> NDArray[np.float32]:
        x, y, weight, replicate = points
        return histograms(x[own], y[own], weight[own], replicate[own], replicates, extent, size, margin=widest - 1)

    step = extent.steps(size)
    second = None if other is None else spread_out(other)
    return squares(spread_out(chosen), second, cell=step[0] * step[1], widest=widest)
