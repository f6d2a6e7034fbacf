"""The light of a rig as the renderer takes it: samples with their true positions, and a map for mirror images."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from lightsim.light.arrivals import Arrivals
from lightsim.light.light import Light
from lightsim.measure.source import last_left
from lightsim.measure.view import View, luminance
from lightsim.picture.coat import coat_of
from lightsim.picture.solids import Rays

Array = NDArray[np.float64]
Mirror = Callable[[Array, Array], Array]  # start (n, 3) mm, direction (n, 3) unit -> luminance (n,)

SAMPLES = 1024
ROOM = 9.0  # mm about the subject: a rig's leaf nearer than this makes room for the portrait's own
_CLUSTER, _MANY = 8, 1024  # neighbours that sums take as one, where there are so many samples
_HEIGHTS, _TURNS = 16, 32  # cells of normals for drawing samples
_MARGIN = 0.15  # cosine below the horizon of a cell's own normal that is still drawn
_BITS = 8  # of each coordinate of the curve through the map of directions
_BLOCK = 100_000  # pairs of point and sample at a time


@dataclass(frozen=True, eq=False)
class Illumination:
    """Light samples about a reference point, k of them, per lumen-second emitted."""

    position: Array  # (k, 3) mm, in the order of a curve that keeps neighbours together
    weight: Array  # (k,) illuminance on a plane that faces each at the reference point, 1/mm^2
    reference: Array  # (3,) mm
    mirrored: Mirror  # luminance that a ray meets, 1/(mm^2 sr)
    white: float = field(default=0.0)  # luminance of a white card facing the lens; 0: as the samples have it

    def __post_init__(self) -> None:
        if self.position.shape != (len(self.weight), 3) or not len(self.weight):
            raise ValueError(f"positions {self.position.shape} and weights {self.weight.shape} of light do not match")
        if not (np.isfinite(self.weight).all() and np.isfinite(self.position).all() and (self.weight >= 0).all()):
            raise ValueError("light samples must be finite, and no weight below 0")
        if not self.white:
            apart = self.position - self.reference
            cosine = np.maximum(apart[:, 2], 0) / np.maximum(np.linalg.norm(apart, axis=1), 1e-12)
            object.__setattr__(self, "white", float(self.weight @ cosine / np.pi))
        if not self.white > 0:
            raise ValueError("no light falls on a white card that faces the lens: there is nothing to expose by")


def illumination_of(light: Light, view: View, *, samples: int = SAMPLES, room: float = ROOM) -> Illumination | None:
    """The light at the subject, as so many samples of equal weight; None where none falls on a card facing the lens.

    view: the luminance map that mirror images show; room: mm, surroundings nearer to the subject light nothing, though
    mirror images still show them.
    """
    arrivals = light.at((0, 0, 0))
    white = float(arrivals.weight @ np.maximum(arrivals.direction[:, 2], 0)) / np.pi
    near = last_left(light, arrivals, "surroundings") & ((arrivals.origin**2).sum(axis=1) < room**2)
    if not (white > 0 and arrivals.weight[~near].sum() > 0):
        return None
    position, weight = resampled(arrivals.only(~near), samples)
    return Illumination(
        position, weight, arrivals.point, lambda start, direction: luminance(view, start, direction), white
    )


def resampled(arrivals: Arrivals, samples: int) -> tuple[Array, Array]:
    """Positions (samples, 3) and equal weights (samples,) that stand for arrivals.

    Part by part, along a Hilbert curve through an equal-area map of directions, one arrival from the middle of each
    equal share.
    """
    # Parts one after another: neighbours on the curve then are neighbours in space.
    order = np.argsort(_along_curve(arrivals.direction) + (arrivals.part.astype(np.int64) << 2 * _BITS), kind="stable")
    edge = np.cumsum(arrivals.weight[order])
    total = float(edge[-1])
    chosen = np.searchsorted(edge, (np.arange(samples) + 0.5) / samples * total)
    return arrivals.origin[order[np.minimum(chosen, len(order) - 1)]], np.full(samples, total / samples)


def _along_curve(direction: Array) -> NDArray[np.int64]:
    """Place of directions (n, 3) on a Hilbert curve over their cylindrical equal-area map about the x axis."""
    side = 1 << _BITS
    height = (np.clip(direction[:, 0], -1, 1) + 1) / 2
    turn = np.arctan2(direction[:, 1], direction[:, 2]) / (2 * np.pi) + 0.5  # cut behind the subject
    x, y = (np.minimum((axis * side).astype(np.int64), side - 1) for axis in (turn, height))
    place = np.zeros(len(x), np.int64)
    step = side // 2
    while step:
        right, up = (x & step) > 0, (y & step) > 0
        place += step * step * ((3 * right) ^ up)
        # Turn the quadrant so that the curve goes on without a jump.
        mirrored, swapped = ~up & right, ~up
        x, y = np.where(mirrored, side - 1 - x, x), np.where(mirrored, side - 1 - y, y)
        x, y = np.where(swapped, y, x), np.where(swapped, x, y)
        step //= 2
    return place


@dataclass(frozen=True, eq=False)
class Discs:
    """Light samples as small discs that face whatever they light, k of them."""

    position: Rays  # (k, 3) mm
    strength: Rays  # (k,) weight x (distance^2 + spread) at the reference point
    spread: Rays  # (k,) mm^2, squared radius


@dataclass(frozen=True, eq=False)
class Lamps:
    """Light samples ready for use: for sums over all of them, and for drawing a few by what they give a normal."""

    single: Discs
    together: Discs  # neighbours taken as one
    drawn: NDArray[np.int32]  # (cells of normals, quantiles) numbers of samples, in proportion to what they give
    chance: Rays  # (cells, k) in proportion to that of each

    @property
    def quantiles(self) -> int:
        """How many samples a normal has to draw from."""
        return int(self.drawn.shape[1])


def lamps_of(illumination: Illumination, *, quantiles: int = 2 * SAMPLES) -> Lamps:
    """Prepare light samples. quantiles: how many a normal has to draw from, no fewer than there are samples."""
    position, weight = illumination.position, illumination.weight
    apart = position - illumination.reference
    square = (apart**2).sum(axis=1)
    spread = _spread(position, square)
    single = _discs(position, weight, spread, illumination)
    count = len(weight)
    together = single
    if count >= _MANY:
        group = np.arange(count) // _CLUSTER
        light, members = np.bincount(group, weight), np.bincount(group)
        wide = np.bincount(group, spread) / members
        sums = np.stack([np.bincount(group, weight * axis) for axis in position.T], axis=1)
        # A group without light may stand anywhere but at the point it does not light.
        middle = np.where(light[:, None] > 0, sums / np.maximum(light, 1e-300)[:, None], position[::_CLUSTER])
        together = _discs(np.asarray(middle), np.asarray(light, float), wide, illumination)
    way = apart / np.sqrt(np.maximum(square, 1e-12))[:, None]
    chance = weight * np.maximum(_normals() @ way.T + _MARGIN, 0)
    total = chance.sum(axis=1, keepdims=True)
    chance = np.where(total > 0, chance, weight)  # normals that no light reaches: any sample
    edge = np.cumsum(chance, axis=1)
    edge = np.floor(edge / edge[:, -1:] * quantiles + 0.5).astype(np.int64)
    times = np.diff(edge, axis=1, prepend=0)
    drawn = np.repeat(np.tile(np.arange(count, dtype=np.int32), len(times)), times.ravel())
    return Lamps(single, together, drawn.reshape(len(times), quantiles), (chance / chance.max()).astype(np.float32))


def _discs(position: Array, weight: Array, spread: Array, illumination: Illumination) -> Discs:
    square = ((position - illumination.reference) ** 2).sum(axis=1)
    return Discs(*(each.astype(np.float32) for each in (position, weight * (square + spread), spread)))


def _spread(position: Array, far: Array) -> Array:
    """Squared radius of the disc that each sample stands for, (k,) mm^2: half-way to the nearest other one, and at
    most a quarter of its distance. far: (k,) mm^2, squared distances from the reference point."""
    if len(position) < 2:
        return np.zeros(len(position))
    square = (position**2).sum(axis=1)
    nearest = np.empty(len(position))
    for first in range(0, len(position), 1024):
        block = slice(first, first + 1024)
        apart = square[block, None] + square - 2 * position[block] @ position.T
        apart[np.arange(len(apart)), np.arange(first, first + len(apart))] = np.inf
        nearest[block] = apart.min(axis=1)
    # Rounding: equal places may come out a little apart.
    return np.asarray(np.minimum(np.where(nearest > 1e-9 * square, nearest, 0.0) / 4, far / 16))


def _normals() -> Array:
    """Unit normals of the middles of the cells, (cells, 3)."""
    height = (np.arange(_HEIGHTS) + 0.5) / _HEIGHTS * 2 - 1
    turn = (np.arange(_TURNS) + 0.5) / _TURNS * 2 * np.pi - np.pi
    z, phi = (axis.ravel() for axis in np.meshgrid(height, turn, indexing="ij"))
    flat = np.sqrt(1 - z * z)
    return np.stack([flat * np.cos(phi), flat * np.sin(phi), z], axis=1)


def cell_of(normal: Rays) -> NDArray[np.int32]:
    """Number of the cell of unit normals (n, 3)."""
    row = np.clip((normal[:, 2] + 1) * (_HEIGHTS / 2), 0, _HEIGHTS - 1).astype(np.int32)
    turn = np.arctan2(normal[:, 1], normal[:, 0]) * (_TURNS / (2 * np.pi)) + _TURNS / 2
    return np.asarray(row * _TURNS + np.clip(turn, 0, _TURNS - 1).astype(np.int32))


def unshadowed(lamps: Lamps, point: Array, normal: Array, *, index: float = 1.0) -> Array:
    """Illuminance by all samples as if nothing stood in the way, (n,) 1/mm^2; under a coat what it lets in.

    point (n, 3) mm, normal (n, 3) unit. Each sample counts as a small disc that faces the point: strength /
    (distance^2 + spread), the closed form of a Lambertian disc, so that none spikes nearby.
    """
    discs = lamps.together
    position, strength, spread = discs.position, discs.strength, discs.spread
    coat = coat_of(index)
    value = np.empty(len(point))
    step = max(1, _BLOCK // len(strength))
    own = (position**2).sum(axis=1)
    for first in range(0, len(point), step):
        block = slice(first, first + step)
        here, way = point[block].astype(np.float32), normal[block].astype(np.float32)
        square = here @ (-2 * position.T)
        square += own
        square += np.einsum("kx,kx->k", here, here)[:, None]
        np.maximum(square, 1e-6, out=square)
        cosine = way @ position.T
        cosine -= np.einsum("kx,kx->k", way, here)[:, None]
        cosine /= np.sqrt(square)
        np.clip(cosine, 0, 1, out=cosine)
        if index > 1:
            cosine *= coat.lets_in(cosine)
        square += spread
        cosine /= square
        value[block] = cosine @ strength
    return value
