"""Apparent size of the source as the subject sees it, and its hot spot.

All functions take the arrivals of the source alone: light that last left a head or the diffuser. They look
at an equal-area map of the directions, Lambert's azimuthal projection around the direction that the light
comes from (Snyder, Map Projections: A Working Manual, USGS PP 1395, 1987, ch. 24, from memory): true near the
source, and it covers all directions but the opposite one. Luminance and solid angle as in CIE S 017:2020.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from lightsim.light.arrivals import Arrivals
from lightsim.light.estimate import Estimate, by_replicate
from lightsim.measure.windows import equivalent_area, equivalent_length, extent_of, histograms, round_sums

SPOT = np.radians(5.0)  # full angle of the circle that a hot spot is averaged over
SPOT_SOLID_ANGLE = 2 * np.pi * (1 - np.cos(SPOT / 2))

_OVERHEAD = 0.02  # sine of the angle to the world's vertical, below which "horizontal" follows the world's x
_CELLS_ACROSS_SPOT = 8


def centre_direction(arrivals: Arrivals) -> NDArray[np.float64]:
    """Unit vector (3,) from the point towards the light: against the illuminance vector (CIE S 017:2020).

    Light that is the same from everywhere has no such direction: then towards the lens, +z.
    Raises ValueError if no light arrives.
    """
    if not arrivals.weight.sum() > 0:
        raise ValueError("no light arrives from the source: its direction needs some")
    vector = arrivals.weight @ arrivals.direction
    length = float(np.linalg.norm(vector))
    return vector / length if length > 1e-9 * arrivals.weight.sum() else np.array([0.0, 0.0, 1.0])


def axes_of(centre: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Horizontal and vertical unit vectors (3,) across the direction centre (3,).

    Horizontal is perpendicular to centre and to the world's y; for light from straight above or below it
    follows the world's x. Towards the lens (+z) they are +x and +y.
    """
    across = np.array([centre[2], 0.0, -centre[0]])
    if np.linalg.norm(across) < _OVERHEAD:
        across = np.array([1.0, 0.0, 0.0]) - centre[0] * centre
    across = across / np.linalg.norm(across)
    return across, np.cross(centre, across)


def map_of(
    direction: NDArray[np.float64], centre: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Directions (n, 3) on the equal-area map around centre (3,): horizontal and vertical, (n,) each.

    Areas on it are solid angles [sr]; a direction at an angle a from the centre lies 2 sin(a / 2) from the
    middle.
    """
    across, upward = axes_of(centre)
    scale = np.sqrt(2 / np.maximum(1 + direction @ centre, 1e-12))
    return scale * (direction @ across), scale * (direction @ upward)


def directions_of(x: NDArray[np.float64], y: NDArray[np.float64], centre: NDArray[np.float64]) -> NDArray[np.float64]:
    """Directions (n, 3) of points x, y (n,) of the map around centre (3,), x^2 + y^2 <= 4: undoes map_of."""
    across, upward = axes_of(centre)
    square = np.minimum(x * x + y * y, 4.0)
    scale = np.sqrt(1 - square / 4)
    result: NDArray[np.float64] = (
        np.outer(scale * x, across) + np.outer(scale * y, upward) + np.outer(1 - square / 2, centre)
    )
    return result


def effective_solid_angle(arrivals: Arrivals) -> Estimate:
    """Effective solid angle of the source [sr]: (int L dO)^2 / int L^2 dO.

    The solid angle itself for an evenly bright source; less where part of it outshines the rest. Light
    straight from a head whose luminance is known enters in closed form. Two heads are taken not to stand in
    one line with the point: the product of their luminances where they overlap is left out.
    Raises ValueError if no light arrives, or too few samples of it.
    Source: derived here, after the participation ratio of physics.
    """
    centre = centre_direction(arrivals)
    x, y = map_of(arrivals.direction, centre)
    density = np.where(arrivals.straight, arrivals.luminance, 0.0)
    return equivalent_area(x, y, arrivals.weight, arrivals.replicate, arrivals.replicates, density=density)


def known(figure: Callable[[], Estimate]) -> Estimate | None:
    """A figure of this module, or None where too little light arrives to tell it."""
    try:
        return told(figure())
    except ValueError:
        return None


def known_extents(arrivals: Arrivals) -> tuple[Estimate | None, Estimate | None]:
    """equivalent_width_height, each None where too little light arrives to tell it."""
    try:
        width, height = equivalent_width_height(arrivals)
    except ValueError:
        return None, None
    return told(width), told(height)


def told(figure: Estimate) -> Estimate | None:
    """The figure, or None where it is not known to better than a third."""
    return figure if figure.value > 0 and figure.standard_error <= figure.value / 3 else None


def cone_angle(solid_angle: Estimate) -> Estimate:
    """Full angle [deg] of the circular cone of a solid angle [sr]: 2 acos(1 - O / (2 pi)).

    360 for 4 pi and more, which sampling error alone can bring about; 0 for none.
    Source: CIE S 017:2020 for the solid angle; error by the derivative, derived here.
    """
    value = min(max(solid_angle.value, 0.0), 4 * np.pi)
    cosine = 1 - value / (2 * np.pi)
    # The slope is infinite for no and for all directions: there take it one standard error inside.
    least = solid_angle.standard_error * (4 * np.pi - solid_angle.standard_error) / (4 * np.pi**2)
    sine = np.sqrt(max(1 - cosine * cosine, least, 1e-300))
    error = np.degrees(solid_angle.standard_error / (np.pi * sine))
    return Estimate(float(np.degrees(2 * np.arccos(cosine))), float(error), solid_angle.replicates)


def equivalent_width_height(arrivals: Arrivals) -> tuple[Estimate, Estimate]:
    """Equivalent width and height of the source [deg], full angles along the axes of axes_of.

    (int P)^2 / int P^2 of the map's marginal P along either axis, a length W on the map, told as the angle
    that such a length spans around the centre: 4 asin(W / 4). An upright rectangle on the map yields its own
    sides. An evenly bright disc of map radius r yields 3 pi^2 / 16 r = 1.8506 r, 0.925 of its diameter: its
    marginal is 2 sqrt(r^2 - x^2), whose integral is pi r^2 and whose square's integral is 16 r^3 / 3.
    Light straight from a head counts as samples like the rest: unbiased, as replicates differ.
    Raises ValueError if no light arrives, or too few samples of it.
    Source: derived here, after the participation ratio of physics.
    """
    both = map_of(arrivals.direction, centre_direction(arrivals))
    width, height = (
        _spanned(equivalent_length(along, arrivals.weight, arrivals.replicate, arrivals.replicates)) for along in both
    )
    return width, height


def _spanned(length: Estimate) -> Estimate:
    """Full angle [deg] of a length through the centre of the map."""
    sine = min(length.value / 4, 1.0)
    slope = 1 / np.sqrt(max(1 - sine * sine, 1e-6))
    angle, error = np.degrees(4 * np.arcsin(sine)), np.degrees(slope * length.standard_error)
    return Estimate(float(angle), float(error), length.replicates)


def hot_spot(arrivals: Arrivals, solid_angle: Estimate) -> Estimate | None:
    """Highest mean luminance over a circle of 5 degrees against the mean over the source [stops].

    solid_angle: of effective_solid_angle; the mean over the source is int L dO divided by it. The place is
    chosen on half of the replicates and the value taken from the other half, so that noise is not taken for a
    hot spot; then with the halves exchanged, and the mean of both. The place has the highest mean over all
    circles whose centre lies within one more such circle, which keeps it off the rim and steadies the choice.
    What the choice misses makes the figure err low, never high.
    None where the source is smaller than the circle (equal cone under 5 degrees), or sampled too thinly.
    Error: jackknife within the halves at the chosen places, and that of the solid angle.
    Source: derived here. Raises ValueError if no light arrives.
    """
    centre = centre_direction(arrivals)
    if cone_angle(solid_angle).value < np.degrees(SPOT):
        return None
    count = arrivals.replicates
    halves = [np.arange(count) % 2 == parity for parity in (0, 1)]
    spots = np.empty(count)
    for chooser, half in zip(halves[::-1], halves, strict=True):
        place = _brightest(arrivals.only(chooser[arrivals.replicate]), centre)
        within = arrivals.direction @ place >= np.cos(SPOT / 2)
        inside = np.where(within, arrivals.weight, 0.0) / SPOT_SOLID_ANGLE
        spots[half] = by_replicate(inside, arrivals.replicate, count)[half]
    total = by_replicate(arrivals.weight, arrivals.replicate, count)

    def stops(kept: NDArray[np.bool_]) -> float:
        spot = np.mean([spots[half & kept].mean() for half in halves])
        whole = np.mean([total[half & kept].mean() for half in halves])
        return float(np.log2(spot * solid_angle.value / whole))

    everyone = np.ones(count, bool)
    if any(np.count_nonzero(spots[half]) < 2 for half in halves):
        return None
    value = stops(everyone)
    variance = (solid_angle.standard_error / solid_angle.value / np.log(2)) ** 2
    shift = 0.0
    for half in halves:
        left_out = np.array([stops(np.arange(count) != each) for each in np.flatnonzero(half)])
        spare = len(left_out) - 1
        variance += spare / len(left_out) * ((left_out - left_out.mean()) ** 2).sum()
        # The logarithm of a noisy mean is low on average; the jackknife sees by how much.
        shift += spare * (value - left_out.mean())
    return Estimate(float(value + shift), float(np.sqrt(variance)), count)


def _brightest(arrivals: Arrivals, centre: NDArray[np.float64]) -> NDArray[np.float64]:
    """Direction (3,) with most light around it."""
    x, y = map_of(arrivals.direction, centre)
    cell = SPOT / _CELLS_ACROSS_SPOT
    extent = extent_of(x, y).grown(cell)
    cells = (int(np.ceil(extent.size[0] / cell)), int(np.ceil(extent.size[1] / cell)))
    one = np.zeros(len(x), np.intp)
    light = histograms(x, y, arrivals.weight, one, 1, extent, cells)[0]
    for _ in range(2):
        light = round_sums(light, radius=_CELLS_ACROSS_SPOT / 2)
    row, column = np.unravel_index(int(np.argmax(light)), light.shape)
    place = extent.middle(int(column), int(row), cells)
    found: NDArray[np.float64] = directions_of(np.array([place[0]]), np.array([place[1]]), centre)[0]
    return found
