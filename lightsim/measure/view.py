"""What a point sees: the luminance of whatever a ray from it, or from close by, meets.

For pictures: figures are sums over arrivals and need no map. Where light goes straight from a head, its luminance is
known exactly. Everything else is a map for each part, made of the arrivals at the point: their light against the
solid angle that the part fills there, both smoothed alike. So the outline of a part stays as sharp as the part
itself, and only its brightness is smoothed.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lightsim.light.arrivals import Arrivals
from lightsim.light.beam import intensity, off_axis
from lightsim.light.cast import MISS, OFFSET
from lightsim.light.light import SUBJECT, Light
from lightsim.light.scene import Scene
from lightsim.measure.size import centre_direction, directions_of, map_of
from lightsim.sheet.scatter import straight_through

_CELLS = 96  # of a part's map, each way
_RAYS = 2  # each way in a cell, to see how much of it the part fills
_SPREADS = tuple(0.8 * 1.25**step for step in range(13))  # cells, standard deviations of the smoothing
_NOISE = 0.03  # relative standard error that the smoothing leaves; a part that needs more of it is drawn even
_FAR = 3.0  # times as wide, for places that the point does not see but its neighbours do
_THIN = 1e-3  # share of a cell, smoothed, below which the part is not there
_SHEETS = 12  # clear ones behind each other


@dataclass(frozen=True)
class PartView:
    """Luminance of one part on the equal-area map (see lightsim.measure.size) around its own middle."""

    centre: NDArray[np.float64]  # (3,) unit
    low: tuple[float, float]  # corner of the map
    size: tuple[float, float]
    luminance: NDArray[np.float64]  # (rows, columns), 1/(mm^2 sr) per lumen-second emitted; first row lowest

    def at(self, direction: NDArray[np.float64]) -> NDArray[np.float64]:
        """Luminance in directions (n, 3), between the cells' middles in proportion."""
        x, y = map_of(direction, self.centre)
        rows, columns = self.luminance.shape
        column = np.clip((x - self.low[0]) / self.size[0] * columns - 0.5, 0, columns - 1)
        row = np.clip((y - self.low[1]) / self.size[1] * rows - 0.5, 0, rows - 1)
        left, below = np.minimum(column.astype(int), columns - 2), np.minimum(row.astype(int), rows - 2)
        across, upward = column - left, row - below
        lower = self.luminance[below, left] * (1 - across) + self.luminance[below, left + 1] * across
        upper = self.luminance[below + 1, left] * (1 - across) + self.luminance[below + 1, left + 1] * across
        return np.asarray(lower * (1 - upward) + upper * upward)


@dataclass(frozen=True)
class View:
    """What a point sees. Ask it by luminance()."""

    scene: Scene
    point: NDArray[np.float64]  # (3,) mm
    parts: tuple[PartView | None, ...]  # by the scene's numbers; None where no scattered light comes from


def view_of(light: Light, point: ArrayLike = SUBJECT) -> View:
    """What point (3,) mm sees in the light of a rig, by the arrivals there."""
    place = np.asarray(point, float)
    seen = light.at(place)
    scattered = seen.only(~seen.straight & (seen.weight > 0))
    parts = [
        _part_view(light.scene, place, number, scattered.only(scattered.part == number))
        for number in range(len(light.scene.parts))
    ]
    return View(light.scene, place, tuple(parts))


def luminance(view: View, start: NDArray[np.float64], direction: NDArray[np.float64]) -> NDArray[np.float64]:
    """Luminance of what rays meet, (n,) 1/(mm^2 sr) per lumen-second emitted; 0 where they meet nothing.

    start: (n, 3) mm, at or near the view's point; direction: (n, 3) unit
    A ray looks up the place where it lands as the view's point sees it: exact for matt parts and small distances from
    the point. Heads are exact from anywhere.
    """
    scene = view.scene
    result = np.zeros(len(start))
    for active, triangle, place, passed in _met(scene, start, direction):
        part = scene.part[triangle]
        apart = place - view.point
        reach = np.linalg.norm(apart, axis=1)
        toward = apart / np.maximum(reach, 1e-9)[:, None]
        for number in np.unique(part):
            own = np.flatnonzero(part == number)
            map_of_part = view.parts[number]
            if map_of_part is not None:
                result[active[own]] += map_of_part.at(toward[own])
            if number in scene.head_part:
                result[active[own]] += _head(scene, int(number), direction[active[own]]) * passed[own]
    return result


def first_met(view: View, start: NDArray[np.float64], direction: NDArray[np.float64]) -> NDArray[np.int32]:
    """Number of the part that each ray meets first, (n,); -1 where it meets none. start, direction: as luminance."""
    found = np.full(len(start), MISS, np.int32)
    triangle, _ = view.scene.everything.nearest(
        np.ascontiguousarray(start, np.float32), np.ascontiguousarray(direction, np.float32)
    )
    hit = triangle != MISS
    found[hit] = view.scene.part[triangle[hit]]
    return found


def _met(
    scene: Scene, start: NDArray[np.float64], direction: NDArray[np.float64]
) -> Sequence[tuple[NDArray[np.intp], NDArray[np.int32], NDArray[np.float64], NDArray[np.float64]]]:
    """What rays meet one after the other as long as sheets let them straight through: which rays, the triangle, the
    place (k, 3) mm, and the share that came through what stands before it."""
    way = np.ascontiguousarray(direction, np.float32)
    begin = np.ascontiguousarray(start, np.float32)
    active: NDArray[np.intp] = np.arange(len(start))
    passed: NDArray[np.float64] = np.ones(len(start))
    found = []
    for _ in range(_SHEETS):
        triangle, distance = scene.everything.nearest(begin, way)
        hit = np.flatnonzero(triangle != MISS)
        active, passed, begin, way = active[hit], passed[hit], begin[hit], way[hit]
        triangle, distance = triangle[hit], distance[hit]
        if not len(active):
            break
        place = begin + distance[:, None] * way
        found.append((active, triangle, place.astype(float), passed))
        part = scene.part[triangle]
        clear = np.flatnonzero(scene.sheets.clear[part])
        if not len(clear):
            break
        cosine = np.abs((scene.normal[:, triangle[clear]].T * way[clear]).sum(axis=1))
        passed = passed[clear] * straight_through(scene.sheets, part[clear], cosine)
        active, way = active[clear], way[clear]
        begin = place[clear] + np.float32(OFFSET) * way
    return found


def _head(scene: Scene, number: int, direction: NDArray[np.float64]) -> NDArray[np.float64]:
    """Luminance of a head's window towards rays that come to it, (n,): intensity over its area as seen."""
    lamp = scene.heads[scene.head_part.index(number)]
    cosine = -(direction @ lamp.forward)
    profile = intensity(lamp.beam, cosine, off_axis(lamp, direction, sign=-1.0))
    bright = lamp.share * profile / (lamp.width * lamp.height * np.maximum(cosine, 1e-9))
    return np.asarray(np.where(cosine > 0, bright, 0.0))


def _part_view(scene: Scene, point: NDArray[np.float64], number: int, seen: Arrivals) -> PartView | None:
    if not len(seen.weight):
        return None
    centre = centre_direction(seen)
    x, y = map_of(seen.direction, centre)
    low = np.array([x.min(), y.min()])
    size = np.maximum(np.array([x.max(), y.max()]) - low, 1e-4)
    low, size = low - 0.01 * size, 1.02 * size
    filled = _filled(scene, point, number, centre, low, size)
    column, row = (
        np.minimum(((along - start) / length * _CELLS).astype(int), _CELLS - 1)
        for along, start, length in zip((x, y), low, size, strict=True)
    )
    place = (seen.replicate % 2) * _CELLS**2 + row * _CELLS + column
    halves = np.bincount(place, seen.weight, 2 * _CELLS**2).astype(float).reshape(2, _CELLS, _CELLS)
    calm = bisect_left(_SPREADS, True, key=lambda spread: _noise(halves, filled, spread) <= _NOISE)
    if calm == len(_SPREADS):
        return _even(scene, point, number, centre, float(seen.weight.sum()))
    spread = _SPREADS[calm]
    light = halves.sum(axis=0)
    cell = size[0] * size[1] / _CELLS**2
    luminance = np.zeros((_CELLS, _CELLS))
    for wide in (_FAR * spread, spread):
        bright, there = _smoothed(light, wide), _smoothed(filled, wide)
        known = there > _THIN
        luminance[known] = bright[known] / (there[known] * cell)
    # Smoothing moves light over outlines, both ways; as much as arrives shall be seen.
    luminance *= light.sum() / max(float((luminance * filled).sum()) * cell, 1e-300)
    return PartView(centre, (float(low[0]), float(low[1])), (float(size[0]), float(size[1])), luminance)


def _even(
    scene: Scene, point: NDArray[np.float64], number: int, centre: NDArray[np.float64], light: float
) -> PartView | None:
    """A part that sends too little to tell bright from dark: its light over all that the point sees of it."""
    low, size = np.array([-2.0, -2.0]), np.array([4.0, 4.0])
    solid_angle = _filled(scene, point, number, centre, low, size).sum() * 16 / _CELLS**2
    if not solid_angle > 0:
        return None
    return PartView(centre, (-2.0, -2.0), (4.0, 4.0), np.full((2, 2), light / solid_angle))


def _noise(halves: NDArray[np.float64], filled: NDArray[np.float64], spread: float) -> float:
    """Relative standard error of the smoothed light where the point sees the part, from two halves of the replicates.

    halves: (2, rows, columns)
    """
    one, other = (_smoothed(half, spread)[filled > 0] for half in halves)
    total = float(((one + other) ** 2).sum())
    return float(np.sqrt(((one - other) ** 2).sum() / total)) if total > 0 else np.inf


def _filled(
    scene: Scene,
    point: NDArray[np.float64],
    number: int,
    centre: NDArray[np.float64],
    low: NDArray[np.float64],
    size: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Share of each cell in which the point sees the part, (rows, columns)."""
    steps = _CELLS * _RAYS
    step = (np.arange(steps) + 0.5) / steps
    x, y = (grid.ravel() for grid in np.meshgrid(low[0] + step * size[0], low[1] + step * size[1]))
    inside = x * x + y * y < 4.0
    rays = directions_of(x[inside], y[inside], centre)
    seen = np.zeros(len(rays))
    for active, triangle, _, _ in _met(scene, np.broadcast_to(point, rays.shape), rays):
        seen[active[scene.part[triangle] == number]] = 1.0
    whole = np.zeros(len(x))
    whole[inside] = seen
    return np.asarray(whole.reshape(_CELLS, _RAYS, _CELLS, _RAYS).mean(axis=(1, 3)))


def _smoothed(cells: NDArray[np.float64], spread: float) -> NDArray[np.float64]:
    """By a normal distribution of this standard deviation in cells; what it spreads over the border is lost.

    By Fourier transform: products of matrices this small keep both processors waiting for each other.
    """
    shape = (2 * _CELLS, 2 * _CELLS)
    across, upright = np.fft.rfftfreq(shape[1]), np.fft.fftfreq(shape[0])
    gain = np.exp(-2 * (np.pi * spread) ** 2 * (across**2 + upright[:, None] ** 2))
    spectrum = np.fft.rfft2(cells, shape) * gain
    return np.asarray(np.maximum(np.fft.irfft2(spectrum, shape)[:_CELLS, :_CELLS], 0.0))
