"""A small lamp seen through a sheet: how bright the sheet is about the spot, and what that says of its forward lobe.

The lamp is a hole in black card over an evenly bright window, so it shines as a Lambertian disc. The camera looks
squarely at the sheet from the other side. A place at r from the middle of the sheet gets, of each bit dA of the lamp
at distance d from it, the illuminance L dA (a / d^2)^2 per area, a being the distance of lamp and sheet, and sends on
to the camera

    forward lobe:  F g(b_in - b_out)        evenly:  D / pi

of it, b being directions projected on the sheet (lightsim.sheet.lobes; derived here). Where lobes lose a little near
grazing (docs/theory.md, Sheets) is left out: no reading is taken there.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from lightsim.measure.posterior import drawn
from lightsim.measure.readings import SpotReadings
from lightsim.sheet.lobes import narrowness, peak

Floats = NDArray[np.float64]

NARROWEST, WIDEST = 0.5, 59.0  # degrees; wider lobes cannot be told from even light
CHI_SQUARE_95 = 5.991  # of two readings: above it even light does not explain them
_RULER = 1.0  # mm, standard uncertainty of the spot's width
_SEED = 20_413
_RINGS, _SPOKES = 4, 8  # of the lamp's disc


def lobe_and_even(spot: SpotReadings, *, radius: float, narrow: Floats) -> tuple[Floats, float]:
    """Luminance of the sheet at radius [mm] from the middle, over that of the lamp, for a share of 1.

    narrow : q of the forward lobe (lightsim.sheet.lobes.narrowness), any shape
    Returns that of the lobe, of the same shape, and that of even light.
    """
    x, y, area = _disc(spot.lamp_width / 2)
    across, up = radius - x, -y
    square = across**2 + up**2 + spot.distance**2
    received = area * (spot.distance / square) ** 2
    reach, away = np.sqrt(square), np.hypot(radius, spot.camera)
    # Light comes outward and leaves inward, toward the lens: the difference of direction cosines is a sum.
    apart = (across / reach + radius / away) ** 2 + (up / reach) ** 2
    q = np.asarray(narrow, float)[..., None]
    return (peak(q) * np.exp(-q * apart)) @ received, float(received.sum() / np.pi)


def stops_below_middle(spot: SpotReadings, *, radius: float, forward: Floats, narrow: Floats) -> Floats:
    """Stops by which the sheet is darker at radius [mm] than in the middle of the spot.

    forward : share of the scattered light that goes into the forward lobe; narrow : its q; broadcast together
    """
    lobe, even = lobe_and_even(spot, radius=radius, narrow=narrow)
    lobe_0, even_0 = lobe_and_even(spot, radius=0.0, narrow=narrow)
    here, middle = (forward * a + (1 - forward) * b for a, b in ((lobe, even), (lobe_0, even_0)))
    return np.asarray(np.log2(middle / np.maximum(here, 1e-300)))


def misfit(spot: SpotReadings, *, forward: Floats, narrow: Floats, uncertainty: float) -> Floats:
    """Chi-square of width and side, of shares in the forward lobe and its q (broadcast together); 0 for even light.

    Raises ValueError if the spot has no width and side.
    """
    residual, deviation = _residuals(spot, forward, narrow, uncertainty)
    return np.asarray(((residual / deviation) ** 2).sum(axis=-1))


def forward_share_and_angle(spot: SpotReadings, *, uncertainty: float) -> tuple[Floats, Floats]:
    """Draws of the share of scattered light in the forward lobe and of its half-value angle [degrees], (n,) each.

    uncertainty : standard uncertainty of readings that have none of their own, stops
    All shares and all angles are taken to be equally likely beforehand.
    Raises ValueError if the spot has no width and side.
    """

    def density(logit: Floats, ln_angle: Floats) -> Floats:
        share, angle = _share(logit[:, :1]), np.exp(ln_angle[:1, :])  # rows and columns of a grid
        residual, deviation = _residuals(spot, share, narrow_of(angle), uncertainty)
        fit = -0.5 * (residual / deviation) ** 2 - np.log(deviation)
        return np.asarray(fit.sum(axis=-1) + np.log(share * (1 - share) * angle))

    box = ((-9.0, 14.0), (float(np.log(NARROWEST)), float(np.log(WIDEST))))
    fit = drawn(density, box=box, seed=_SEED)
    return _share(fit.first), np.exp(fit.second)


def _residuals(spot: SpotReadings, forward: Floats, narrow: Floats, uncertainty: float) -> tuple[Floats, Floats]:
    """Width and side, read less expected, and their standard uncertainties, (..., 2) stops each."""
    if spot.width is None or spot.side is None:
        raise ValueError("a forward lobe is read from the width of the spot and the stops beside it")
    side = stops_below_middle(spot, radius=spot.distance, forward=forward, narrow=narrow)
    half, farther = (
        stops_below_middle(spot, radius=radius, forward=forward, narrow=narrow)
        for radius in (spot.width / 2, (spot.width + _RULER) / 2)
    )
    # What the ruler leaves open counts as far as the light falls there.
    of_width = np.hypot(uncertainty, farther - half)
    of_side = np.full_like(side, spot.side.uncertainty or uncertainty)
    return np.stack([1 - half, spot.side.stops - side], axis=-1), np.stack([of_width, of_side], axis=-1)


def _share(logit: Floats) -> Floats:
    return np.asarray(1 / (1 + np.exp(-logit)))


def narrow_of(angle: Floats) -> Floats:
    """q of lobes of these half-value angles [degrees], of any shape, read off a table of a few hundred."""
    node, table = _table()
    return np.exp(np.interp(np.log(angle), node, table))


@lru_cache(maxsize=1)
def _table() -> tuple[Floats, Floats]:
    node = np.geomspace(NARROWEST, WIDEST, 512)
    return np.log(node), np.log([narrowness(float(each)) for each in node])


@lru_cache(maxsize=32)
def _disc(radius: float) -> tuple[Floats, Floats, Floats]:
    """Places across a disc and the area that each stands for, (k,) each: Gauss-Legendre in the square of the radius."""
    node, weight = np.polynomial.legendre.leggauss(_RINGS)
    ring = radius * np.sqrt(0.5 * (node + 1))
    turn = 2 * np.pi * (np.arange(_SPOKES) + 0.5) / _SPOKES
    x, y = np.outer(ring, np.cos(turn)).ravel(), np.outer(ring, np.sin(turn)).ravel()
    return x, y, np.repeat(0.5 * weight, _SPOKES) * (np.pi * radius**2 / _SPOKES)
