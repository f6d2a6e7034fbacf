"""The highlight on a glossy ball: an insect's eye, the crown of a wing case.

The ball mirrors the source into the camera. From the arrivals comes a map of the source's luminance over the
ball's image: an arrival is luminance x solid angle, its mirror image luminance x area. The map is smoothed by
a square window, which leaves the place where a sharp straight edge falls to half; sizes are read at half of
the peak.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lightsim.light.arrivals import Arrivals
from lightsim.light.estimate import Estimate, jackknife_error
from lightsim.measure.mirror import camera_axes, mirror
from lightsim.measure.regions import (
    Maps,
    dark_gaps,
    enclosed,
    extent,
    grown,
    lit_area,
    outlines,
    separate,
    smoothed,
)
from lightsim.sheet.fresnel import fresnel

_CELLS = 64  # of the map, each way
_MARGIN = 6  # of them around the highlight
_WINDOWS = ((3,), (5,), (7,))  # cells, one pass a number: 1/17, 1/10, 1/7 of the highlight
_SOFT_WINDOW = (7, 7)  # for a spot without edges, where a wide window costs little and noise much
_NOISE = 0.1  # of a lit cell, standard error; above it the wider window
_SOFT = 0.4  # area from 0.35 to 0.65 of the peak, of that above half: 0.9 in a Gaussian spot, 0.1 in a disc
_SEAM = 7  # cells: an eighth of the highlight
_FAINTEST = 1 / 8  # of the peak: three stops
_LEAST_SHARE = 0.02  # of the light, for a highlight that counts
_ZOOMS = 10
_TIP = 1 / 24  # of the width: rows that end so near to the outermost one say where the edge is


@dataclass(frozen=True)
class Highlight:
    """The highlight on a glossy ball; None where nothing of the source is mirrored into the camera."""

    width: Estimate | None  # mm on the subject, at half of the peak, outermost edges
    height: Estimate | None  # mm
    width_pixels: Estimate | None  # px
    height_pixels: Estimate | None  # px
    disc_share: Estimate | None  # 0 to 1, of the ball's image
    stops_above_white: Estimate | None  # stops
    count: int  # separate highlights
    gap_share: Estimate | None  # 0 to 1, of the highlight with its gaps


_NOTHING = Highlight(None, None, None, None, None, None, 0, None)


@dataclass(frozen=True)
class HighlightMap:
    """The mirrored source over the ball's image; left to top in mm on the subject from the ball's middle."""

    luminance: NDArray[np.float64]  # (rows, columns), 1/(mm^2 sr) after the reflection, smoothed; first row lowest
    left: float
    right: float
    bottom: float
    top: float


@dataclass(frozen=True)
class _Spots:
    right: NDArray[np.float64]  # (n,) mm
    up: NDArray[np.float64]  # (n,) mm
    light: NDArray[np.float64]  # (n,) luminance x area of the image, as if the ball mirrored all
    mirrored: NDArray[np.float64]  # (n,) the same times Fresnel's share
    replicate: NDArray[np.int32]  # (n,)
    replicates: int


@dataclass(frozen=True)
class _Frame:
    """_CELLS x _CELLS cells, all but the margin on the highlight."""

    left: float  # mm
    bottom: float  # mm
    wide: float  # mm, of a cell
    high: float  # mm

    def maps(self, spots: _Spots, light: NDArray[np.float64], group: NDArray[np.integer], groups: int) -> Maps:
        """Light per area of the image by group, (groups, rows, columns)."""
        column, row = self.place(spots)
        inside = (column > -0.5) & (column < _CELLS - 0.5) & (row > -0.5) & (row < _CELLS - 0.5)
        cell = (np.rint(row).astype(np.intp) * _CELLS + np.rint(column).astype(np.intp))[inside]
        sums = np.bincount(group[inside] * _CELLS**2 + cell, light[inside], groups * _CELLS**2)
        return sums.reshape(groups, _CELLS, _CELLS) / (self.wide * self.high)

    def place(self, spots: _Spots) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Column and row of the spots in cells, 0 in the middle of the first."""
        return (spots.right - self.left) / self.wide - 0.5, (spots.up - self.bottom) / self.high - 0.5


@dataclass(frozen=True)
class _Places:
    """The brightest cell as each half of the replicates has it."""

    even: int
    odd: int

    def peak(self, even: NDArray[np.float64], odd: NDArray[np.float64]) -> NDArray[np.float64]:
        """Peak of maps (m, rows, columns) of both halves, each read where the other is brightest, (m,)."""
        size = _CELLS**2
        return (odd.reshape(-1, size)[:, self.even] + even.reshape(-1, size)[:, self.odd]) / 2


def highlight(
    arrivals: Arrivals,
    *,
    centre: ArrayLike,
    radius: float,
    refractive_index: float,
    camera: ArrayLike,
    pixel: float,
    illuminance: Estimate | NDArray[np.float64],
) -> Highlight:
    """The highlight of a source on a glossy ball, with true distances.

    arrivals: of the source alone (light that last left a head or the diffuser), at the ball's centre, the
        ball itself not in the scene; at least 2 replicates
    centre: (3,) mm, of the ball; radius: mm; refractive_index: 1.56 for insect cuticle
    camera: (3,) mm, middle of the lens front
    pixel: mm, size of a pixel at the subject
    illuminance: 1/mm^2 on a plane facing the lens at the subject, an Estimate, or each replicate's own (R,)
        from the same replicates, so that common noise cancels

    width, height [mm on the subject, px]: between the outermost places where the luminance falls to half of
        the peak, across and upright, over all that is lit, gaps and the space between two highlights
        included: what one measures on the picture of the bright spot. Each side is a quadratic through the
        edges of the rows that end within 1/24 of the width of the outermost one; read at its tip, or, as far
        as noise could have made the tip, in its middle.
    disc_share [1]: area at or above half of the peak, of the ball's visible disc. A far source of solid angle
        O gives O / (4 pi).
    stops_above_white [stops]: log2 of the mean luminance of that area in the ball (Fresnel's share at the
        true angle) over illuminance / pi, the luminance of a white surface of reflectance 1 that faces the
        lens. None if no light falls on that surface.
    count: separate highlights: regions that come within three stops of the peak, hold at least 2 % of the
        light each, and are parted by cells below half of the smaller one's peak.
    gap_share [1]: area of dark gaps (lens hole, seams), of the area of the highlight with its gaps. A gap
        lies between lit cells along row and column, or is a seam at most an eighth of the highlight across,
        and falls below a quarter of the peak somewhere.

    The peak is the luminance in one window at the brightest place, chosen on one half of the replicates and
    read on the other, both ways, so noise does not raise it. The window is 1/17 to 1/7 of the highlight's
    extent, wider where the arrivals are few or the spot has no edges. Half of the peak is that of the
    source's luminance: with Fresnel's rise toward the rim in it a thin bright rim would hide the highlight
    itself. Errors: delete-one-replicate jackknife, map and places held.
    What remains (16 x 512 arrivals): discs, rectangles and rings within 0.3 % of the width; a spot without
    edges up to 2 % wide, with independent random arrivals 4 %; a slanting edge that ends in a corner up to 3
    % short; details narrower than the window are washed out.
    Raises ValueError for fewer than 2 replicates, a camera in the ball, a radius or pixel that is not
    positive.
    Source: derived here.
    """
    if not pixel > 0:
        raise ValueError(f"pixel size at the subject = {pixel} mm: it must be more than 0")
    spots = _mirrored(arrivals, centre, radius, refractive_index, camera)
    if not len(spots.light):
        return _NOTHING
    frame, places = _framed(spots, 0.5)
    replicates = spots.replicates
    own = frame.maps(spots, spots.light, spots.replicate, replicates) * replicates
    window = _window(own, places)
    smooth_own = smoothed(own, window)
    smooth = _with_left_out(smooth_own)
    places = _brightest(smooth_own[0::2].mean(axis=0), smooth_own[1::2].mean(axis=0), window)
    level = _peaks(smooth_own, places) / 2
    # Noise far from the highlight is not its edge; the map smoothed once more knows which is which.
    near = grown(smoothed(smooth[0], window) >= level[0], window[0])
    smooth = smooth * near

    # Smoothing moves a round edge inward by its curvature times so much (cells^2): derived here.
    lost = 0.0 if window == _SOFT_WINDOW else window[0] ** 2 / 24
    edges = outlines(smooth[0] >= level[0])
    width = extent(smooth, level, lost=lost, tip=_TIP) * frame.wide
    height = extent(smooth.transpose(0, 2, 1), level, lost=lost, tip=_TIP) * frame.high
    apart = camera_axes(centre, camera)[3]
    disc = np.pi * radius**2 * (1 - (radius / apart) ** 2)
    area = lit_area(smooth, level)
    # So few arrivals that what one half shows bright the other does not: nothing to measure.
    if not area.min() > 0:
        return _NOTHING
    luminance = _luminance(spots, frame, window, smooth, level, area)
    return Highlight(
        width=_estimate(width),
        height=_estimate(height),
        width_pixels=_estimate(width / pixel),
        height_pixels=_estimate(height / pixel),
        disc_share=_estimate((area + 2 * np.pi * lost * edges) * frame.wide * frame.high / disc),
        stops_above_white=_stops(luminance, illuminance),
        count=_count(spots),
        gap_share=_estimate(_gap_share(smooth, level, area)),
    )


def luminance_map(
    arrivals: Arrivals, *, centre: ArrayLike, radius: float, refractive_index: float, camera: ArrayLike
) -> HighlightMap | None:
    """The highlight as the camera sees it, for pictures: with Fresnel's share; parameters as highlight.

    It covers all that comes within three stops of the peak, with a margin. None if nothing is mirrored.
    """
    spots = _mirrored(arrivals, centre, radius, refractive_index, camera)
    if not len(spots.light):
        return None
    frame, places = _framed(spots, _FAINTEST)
    own = frame.maps(spots, spots.light, spots.replicate, spots.replicates) * spots.replicates
    everyone = np.zeros(len(spots.light), np.intp)
    luminance = smoothed(frame.maps(spots, spots.mirrored, everyone, 1)[0], _window(own, places))
    return HighlightMap(
        luminance,
        left=frame.left,
        right=frame.left + _CELLS * frame.wide,
        bottom=frame.bottom,
        top=frame.bottom + _CELLS * frame.high,
    )


def _mirrored(
    arrivals: Arrivals, centre: ArrayLike, radius: float, refractive_index: float, camera: ArrayLike
) -> _Spots:
    if arrivals.replicates < 2:
        raise ValueError(f"replicates = {arrivals.replicates}: the peak of a highlight needs at least 2")
    image = mirror(arrivals.origin, centre=centre, radius=radius, camera=camera)
    # Solid angles are seen from the arrivals' point; the mirror counts them from the ball's centre.
    apart = [((arrivals.origin - np.asarray(place, float)) ** 2).sum(axis=1) for place in (arrivals.point, centre)]
    light = arrivals.weight * image.magnification * apart[0] / np.maximum(apart[1], 1e-300)
    seen = np.flatnonzero(image.visible & (light > 0))
    share = fresnel(refractive_index=refractive_index, cosine=image.cosine[seen])
    return _Spots(
        right=image.right[seen],
        up=image.up[seen],
        light=light[seen],
        mirrored=light[seen] * share,
        replicate=arrivals.replicate[seen],
        replicates=arrivals.replicates,
    )


def _framed(spots: _Spots, share: float) -> tuple[_Frame, _Places]:
    """A frame that the cells at or above so much of the peak just fill, and the brightest places in it."""
    half = spots.replicate % 2
    members = np.array([(spots.replicates + 1) // 2, spots.replicates // 2]) / spots.replicates
    frame = _around(spots.right.min(), spots.right.max(), spots.up.min(), spots.up.max())
    window = _WINDOWS[1]
    for _ in range(_ZOOMS):
        even, odd = smoothed(frame.maps(spots, spots.light, half, 2) / members[:, None, None], window)
        places = _brightest(even, odd, window)
        mean = even * members[0] + odd * members[1]
        peak = float(places.peak(even, odd)[0])
        lit = mean >= share * (peak if peak > 0 else mean.max())
        rows, columns = np.flatnonzero(lit.any(axis=1)), np.flatnonzero(lit.any(axis=0))
        inner = _CELLS - 2 * _MARGIN
        if min(np.ptp(rows), np.ptp(columns)) + 3 > 0.8 * inner:
            break
        frame = _around(
            frame.left + frame.wide * max(columns[0] - 1, _MARGIN),
            frame.left + frame.wide * min(columns[-1] + 2, _CELLS - _MARGIN),
            frame.bottom + frame.high * max(rows[0] - 1, _MARGIN),
            frame.bottom + frame.high * min(rows[-1] + 2, _CELLS - _MARGIN),
        )
    return frame, places


def _around(left: float, right: float, bottom: float, top: float) -> _Frame:
    inner = _CELLS - 2 * _MARGIN
    least = 1e-6 * max(abs(left), abs(right), abs(bottom), abs(top), 1e-6)
    wide, high = max(right - left, least) / inner, max(top - bottom, least) / inner
    middle, centre = (left + right) / 2, (bottom + top) / 2
    return _Frame(float(middle - _CELLS / 2 * wide), float(centre - _CELLS / 2 * high), float(wide), float(high))


def _brightest(even: Maps, odd: Maps, window: tuple[int, ...]) -> _Places:
    """Brightest cells of two maps, smoothed twice more: less noise, still on the ridge of a line."""
    calm = smoothed(np.stack([even, odd]), window * 2)
    return _Places(int(np.argmax(calm[0])), int(np.argmax(calm[1])))


def _peaks(own: Maps, places: _Places) -> NDArray[np.float64]:
    """Peak of the mean of all maps (R, rows, columns), then without each one of them, (1 + R,)."""
    cells = own.reshape(len(own), -1)
    peaks = np.zeros(1 + len(own))
    for parity, place in ((0, places.odd), (1, places.even)):
        values = cells[parity::2, place]
        halves = np.full(1 + len(own), values.mean())
        if len(values) > 1:
            halves[1 + parity :: 2] = (values.sum() - values) / (len(values) - 1)
        peaks += halves / 2
    return peaks if (peaks > 0).all() else np.full(1 + len(own), cells.mean(axis=0).max())


def _stops(luminance: NDArray[np.float64], illuminance: Estimate | NDArray[np.float64]) -> Estimate | None:
    """Stops of luminance (1 + R,) over a white surface; None if no light falls on it."""
    if isinstance(illuminance, Estimate):
        if not illuminance.value > 0:
            return None
        stops = _estimate(np.log2(luminance * np.pi / illuminance.value))
        white_error = illuminance.standard_error / illuminance.value / np.log(2)
        return Estimate(stops.value, float(np.hypot(stops.standard_error, white_error)), stops.replicates)
    white = _with_left_out(np.asarray(illuminance, float))
    return _estimate(np.log2(luminance * np.pi / white)) if (white > 0).all() else None


def _with_left_out(own: NDArray[np.float64]) -> NDArray[np.float64]:
    """Mean of all replicates (R, ...), then without each one of them, (1 + R, ...)."""
    total = own.sum(axis=0)
    return np.concatenate([total[None] / len(own), (total - own) / (len(own) - 1)])


def _estimate(values: NDArray[np.float64]) -> Estimate:
    return Estimate(float(values[0]), jackknife_error(values[1:]), len(values) - 1)


def _window(own: Maps, places: _Places) -> tuple[int, ...]:
    """The narrowest window in which the replicates' maps (R, rows, columns) agree well enough."""
    smooth = smoothed(own, _WINDOWS[0])
    mean = smooth.mean(axis=0)
    peak = _peaks(smooth, places)[0]
    low, half, high = (np.count_nonzero(mean >= share * peak) for share in (0.35, 0.5, 0.65))
    if low - high > _SOFT * half:
        return _SOFT_WINDOW
    lit = mean >= peak / 2
    variance = ((smooth - mean) ** 2).sum(axis=0) / (len(own) - 1) / len(own)
    noise = float(np.sqrt(variance[lit].mean()) / mean[lit].mean())
    # Independent arrivals: the error goes with the number of them in a window.
    return next((window for window in _WINDOWS if noise * 3 / window[0] <= _NOISE), _WINDOWS[-1])


def _luminance(
    spots: _Spots,
    frame: _Frame,
    window: tuple[int, ...],
    smooth: Maps,
    level: NDArray[np.float64],
    area: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Mean luminance in the mirror over the cells at or above the level, (1 + R,)."""
    # The mean by the place of each arrival, exact across sharp edges; what leaving one out does, by cells.
    column, row = (np.clip(axis, 0, _CELLS - 1.001) for axis in frame.place(spots))
    across, up = column.astype(np.intp), row.astype(np.intp)
    right, above = column - across, row - up
    here = (smooth[0, up, across] * (1 - right) + smooth[0, up, across + 1] * right) * (1 - above) + (
        smooth[0, up + 1, across] * (1 - right) + smooth[0, up + 1, across + 1] * right
    ) * above
    value = spots.mirrored[here >= level[0]].sum() / (area[0] * frame.wide * frame.high)
    maps = frame.maps(spots, spots.mirrored, spots.replicate, spots.replicates) * spots.replicates
    # A sharp edge falls from the peak to nothing within the window: how much of each cell lies inside.
    lit = np.clip((smooth / level[:, None, None] - 1) * (window[0] / 2) + 0.5, 0, 1)
    cells = (_with_left_out(maps) * lit).sum(axis=(1, 2)) / np.maximum(lit.sum(axis=(1, 2)), 1e-9)
    return np.asarray((value or cells[0]) * np.maximum(cells / cells[0], 1e-9))


def _gap_share(smooth: Maps, level: NDArray[np.float64], area: NDArray[np.float64]) -> NDArray[np.float64]:
    gaps = dark_gaps(smooth[0], float(level[0]), _SEAM)
    if not gaps.any():
        return np.zeros(len(smooth))
    dark = enclosed(smooth >= level[:, None, None], _SEAM) & grown(gaps, 2)
    dark[0] = gaps
    size = dark.sum(axis=(1, 2))
    return np.asarray(size / (area + size))


def _count(spots: _Spots) -> int:
    frame, places = _framed(spots, _FAINTEST)
    own = frame.maps(spots, spots.light, spots.replicate, spots.replicates) * spots.replicates
    window = _window(own, places)
    calm = smoothed(own.mean(axis=0), window * 2)
    return separate(calm, peak=float(calm.max()), faintest=_FAINTEST, least_share=_LEAST_SHARE)
