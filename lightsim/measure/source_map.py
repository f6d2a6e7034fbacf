"""The source as the subject sees it: a map of luminance over the half-space around the optical axis."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lightsim.light.light import SUBJECT, Light
from lightsim.measure.falloff import FACING_LENS
from lightsim.measure.illuminance import illuminance
from lightsim.measure.size import SPOT, centre_direction, directions_of, map_of
from lightsim.measure.source import source_only
from lightsim.measure.view import View, first_met, luminance, view_of
from lightsim.measure.windows import round_sums
from lightsim.sheet.fresnel import fresnel

AHEAD = np.array([0.0, 0.0, 1.0])  # the middle of the map: the optical axis, towards the lens
RIM = float(np.sqrt(2.0))  # of the half-space on the map
_CELLS = 320  # of each map, each way
_NAMED = 0.03  # of the half-space, for a part of camera or surroundings to be named
_CALLED = {"lens front": "lens"}
_WITHIN = ((0.1, 0.2), (-0.3, 0.1), (0.2, -0.3), (-0.1, -0.2))  # a window, as shares of its sides
_MARGIN = 1.15  # of the close map around what is at least half as bright as the brightest place


@dataclass(frozen=True)
class LuminanceMap:
    """Luminance on a rectangle of the equal-area map around the optical axis: areas on it are solid angles [sr]."""

    luminance: NDArray[np.float64]  # (rows, columns), 1/(mm^2 sr) per lumen-second emitted; first row lowest
    left: float  # on the map of lightsim.measure.size.map_of: 2 sin(a / 2) from the middle at the angle a
    right: float
    bottom: float
    top: float


@dataclass(frozen=True)
class SourceMap:
    """What the subject sees, as pictures need it."""

    title: str
    whole: LuminanceMap  # the half-space; 0 outside
    close: LuminanceMap  # around what is at least half as bright as the brightest place
    brightest: float  # luminance there, mean over a circle of 5 degrees where the source is larger than that
    spot: NDArray[np.float64] | None  # (3,) unit, middle of that circle; None for a smaller source
    centre: NDArray[np.float64] | None  # (3,) unit, where the source's light comes from on the whole; None if dark
    white: float  # luminance whose mirror image in the rig's ball, straight on, is as bright as a white card
    around: tuple[tuple[str, tuple[float, float]], ...]  # parts of camera and surroundings, and where they are
    dark: NDArray[np.int32]  # (rows, columns) which of them a cell of the half-space shows, from 1; 0: none
    behind: float  # share of the light that comes from behind the plane of focus, and is not on the map


def source_map(light: Light, *, view: View | None = None) -> SourceMap:
    """Map of what the subject sees. view: what view_of(light) returns, where it is known.

    Source: Lambert's azimuthal equal-area projection (Snyder, USGS PP 1395, 1987, ch. 24, from memory).
    """
    view = view_of(light) if view is None else view
    seen = light.at(SUBJECT)
    source = source_only(light, seen)
    centre = centre_direction(source) if source.weight.sum() > 0 else None
    around, dark = _around_it(view)
    whole = _mapped(view, -RIM, RIM, -RIM, RIM)
    brightest, spot = _brightest(whole)
    # A window smaller than a cell is met by no ray of the map.
    brightest = brightest if spot is not None else max(brightest, _of_heads(view))
    close = _mapped(view, *_around(whole, brightest / 2))
    index = light.placed.rig.subject.ball.refractive_index
    total = max(float(seen.weight.sum()), 1e-300)
    return SourceMap(
        title=light.placed.rig.title,
        whole=whole,
        close=close,
        brightest=brightest,
        spot=spot,
        centre=centre,
        white=illuminance(seen, FACING_LENS).value / np.pi / fresnel(refractive_index=index, cosine=1.0).item(),
        around=around,
        dark=dark,
        behind=float(seen.weight[seen.direction[:, 2] <= 0].sum()) / total,
    )


def circle(centre: NDArray[np.float64], angle: float, *, points: int = 361) -> NDArray[np.float64]:
    """A circular cone of this full angle [deg] around centre (3,) on the map, (points, 2), closed.

    Its area on the map is the cone's solid angle, wherever it lies. Points behind the subject lie outside the rim.
    """
    turn = np.linspace(0, 2 * np.pi, points)
    reach = 2 * np.sin(np.radians(angle) / 4)
    x, y = map_of(directions_of(reach * np.cos(turn), reach * np.sin(turn), centre), AHEAD)
    return np.column_stack([x, y])


def _grid(
    left: float, right: float, bottom: float, top: float, cells: int
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Middles of the cells of a map, (cells^2,) each, row by row from below."""
    step = (np.arange(cells) + 0.5) / cells
    x, y = np.meshgrid(left + step * (right - left), bottom + step * (top - bottom))
    return x.ravel(), y.ravel()


def _around_it(view: View) -> tuple[tuple[tuple[str, tuple[float, float]], ...], NDArray[np.int32]]:
    """Parts of camera and surroundings that take up a good part of the half-space."""
    cells = _CELLS
    x, y = _grid(-RIM, RIM, -RIM, RIM, cells)
    inside = np.flatnonzero(x * x + y * y < RIM * RIM)
    ways = directions_of(x[inside], y[inside], AHEAD)
    met = first_met(view, np.broadcast_to(view.point, ways.shape), ways)
    found: list[tuple[str, tuple[float, float]]] = []
    dark = np.zeros(cells * cells, np.int32)
    for number, part in enumerate(view.scene.parts):
        own = inside[met == number]
        if part.role in ("camera", "surroundings") and len(own) > _NAMED * len(inside):
            found.append((_CALLED.get(part.name, part.name), (float(np.median(x[own])), float(np.median(y[own])))))
            dark[own] = len(found)
    return tuple(found), dark.reshape(cells, cells)


def _mapped(view: View, left: float, right: float, bottom: float, top: float) -> LuminanceMap:
    x, y = _grid(left, right, bottom, top, _CELLS)
    inside = x * x + y * y < RIM * RIM
    ways = directions_of(x[inside], y[inside], AHEAD)
    cells = np.zeros(_CELLS**2)
    cells[inside] = luminance(view, np.broadcast_to(view.point, ways.shape), ways)
    return LuminanceMap(cells.reshape(_CELLS, _CELLS), left, right, bottom, top)


def _brightest(whole: LuminanceMap) -> tuple[float, NDArray[np.float64] | None]:
    """Highest mean luminance over a circle of 5 degrees and where it is; of a smaller source the highest at all."""
    cell = 2 * RIM / _CELLS
    radius = 2 * np.sin(SPOT / 4) / cell
    around = round_sums(whole.luminance, radius=radius)
    means = around / round_sums(np.ones((_CELLS, _CELLS)), radius=radius).max()
    row, column = np.unravel_index(int(np.argmax(means)), means.shape)
    highest, mean = float(whole.luminance.max()), float(means[row, column])
    if mean <= highest / 2:
        return highest, None
    x, y = (np.array([-RIM + (place + 0.5) * cell]) for place in (column, row))
    spot: NDArray[np.float64] = directions_of(x, y, AHEAD)[0]
    return mean, spot


def _of_heads(view: View) -> float:
    """Highest luminance of any head; 0 where none is seen."""
    places = np.array(
        [
            head.centre + across * head.width * head.right + up * head.height * head.up
            for head in view.scene.heads
            for across, up in _WITHIN
        ]
    )
    ways = (places - view.point) / np.linalg.norm(places - view.point, axis=1)[:, None]
    return float(luminance(view, np.broadcast_to(view.point, ways.shape), ways)[ways[:, 2] > 0].max(initial=0.0))


def _around(whole: LuminanceMap, level: float) -> tuple[float, float, float, float]:
    lit = whole.luminance >= level
    if not (lit.any() and level > 0):
        return -RIM, RIM, -RIM, RIM
    cell = 2 * RIM / _CELLS
    ends = []
    for axis in (0, 1):
        places = np.flatnonzero(lit.any(axis=axis))
        low, high = -RIM + cell * (places[0] - 1), -RIM + cell * (places[-1] + 2)
        middle, half = (low + high) / 2, _MARGIN * (high - low) / 2
        ends.extend([middle - half, middle + half])
    left, right, bottom, top = ends
    return left, right, bottom, top
