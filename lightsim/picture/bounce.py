"""What the parts of a subject send each other: shadowed light at the vertices of its triangles, and a bounce of it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from threading import Lock
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lightsim.light.cast import Rays
from lightsim.picture.coat import coat_of
from lightsim.picture.illumination import Array, Lamps, cell_of, unshadowed
from lightsim.picture.solids import Subject

OFF = 5e-3  # mm; more than a chord of a triangle lies below its arc
ONCE = Lock()  # what several lights share is reckoned once, though they are rendered side by side
_RAYS = 16  # from each vertex
_SHADOWS = 8  # rays toward light samples from each vertex
_SHIFT = (0.7548776662466927, 0.5698402909980532)  # of neighbours against each other: Roberts' R2 sequence


@dataclass(frozen=True, eq=False)
class Exchange:
    """What the vertices of a subject see of it, k rays in proportion to the cosine."""

    vertex: NDArray[np.intp]  # (k,) where each ray started
    corner: NDArray[np.int64]  # (k, 3) vertices of the triangle that it met from outside
    share: NDArray[np.float32]  # (k, 3) of each
    rays: int  # from each vertex


@dataclass(frozen=True, eq=False)
class Lit:
    """Light at the n vertices of a subject, per lumen-second emitted; under a coat what it lets in."""

    direct: Array  # (n,) illuminance without shadows, 1/mm^2
    indirect: Array  # (n, 3) from other parts of the subject, red, green, blue
    sent: Array  # (n, 3) mean luminance, 1/(mm^2 sr)


def shadowed(
    subject: Subject,
    lamps: Lamps,
    point: Rays,
    normal: Rays,
    index: Array,
    *,
    first: NDArray[np.floating[Any]],
    samples: int,
    turn: float = 0.0,
) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """What points would get from some light samples, and what of it gets past the subject, (k,) each.

    The ratio of the two is the share of the unshadowed illuminance that gets to a point. Where no sample drawn can
    reach a point's own normal both are 0: share_of then takes it for lit.

    point (k, 3) mm, normal (k, 3), index (k,) of the coat; first: (k,) where each begins among its quantiles, 0 to 1;
    samples: how many each takes, evenly apart; turn: 0 to 1, of the gap between two.

    Samples are drawn in proportion to what a normal of the cell gets from them, so that the share is 1 exactly where
    nothing is in the way. It is a ratio of two sums over the same samples: biased by less than 1 / samples times the
    spread of their worth, which is small because the drawing evens it out.
    """
    cell = cell_of(normal)
    given, got = np.zeros(len(point), np.float32), np.zeros(len(point), np.float32)
    start = point + np.float32(OFF) * normal
    coats = [(coat_of(float(each)), np.flatnonzero(index == each)) for each in np.unique(index) if each > 1]
    for number in range(samples):
        quantile = ((first + (number + turn) / samples) % 1.0 * lamps.quantiles).astype(np.int32)
        lamp = lamps.drawn[cell, np.minimum(quantile, lamps.quantiles - 1)]
        way = lamps.single.position[lamp] - start
        square = np.einsum("kx,kx->k", way, way)
        reach = np.sqrt(square)
        way /= reach[:, None]
        cosine = np.clip(np.einsum("kx,kx->k", way, normal), 0, 1)
        worth = cosine * lamps.single.strength[lamp] / ((square + lamps.single.spread[lamp]) * lamps.chance[cell, lamp])
        for coat, here in coats:
            worth[here] *= coat.lets_in(cosine[here])
        ahead = np.flatnonzero(worth > 0)
        given += worth
        clear = ~subject.caster.blocked(start[ahead], way[ahead], reach[ahead])
        got[ahead] += np.where(clear, worth[ahead], 0)
    return given, got


def share_of(given: NDArray[np.float32], got: NDArray[np.float32]) -> NDArray[np.float32]:
    """Share of light that gets through; 1 where there is none."""
    return np.asarray(np.where(given > 0, got / np.maximum(given, np.float32(1e-37)), 1), np.float32)


def lit(subject: Subject, lamps: Lamps, *, bounces: int = 1, rays: int = _RAYS, samples: int = _SHADOWS) -> Lit:
    """Light at the vertices of a subject: direct, and what its parts send each other by so many bounces."""
    index = subject.index[subject.owner]
    direct, body, mean = np.empty(len(index)), np.empty((len(index), 3)), np.ones(len(index))
    for each in np.unique(index):
        here, coat = np.flatnonzero(index == each), coat_of(float(each))
        direct[here] = unshadowed(lamps, subject.vertices[here], subject.normals[here], index=float(each))
        body[here] = coat.body(subject.reflectance[here]) * coat.mean
        mean[here] = coat.mean
    point, normal = subject.vertices.astype(np.float32), subject.normals.astype(np.float32)
    first = np.arange(len(index)) * _SHIFT[0] % 1.0
    primary = direct[:, None].copy()
    if not subject.convex:
        share = share_of(*shadowed(subject, lamps, point, normal, index, first=first, samples=samples))
        primary *= share[:, None]
    indirect = np.zeros((len(index), 3))
    if bounces:
        with ONCE:
            seen = exchange(subject, rays)
        for _ in range(bounces):
            sent = body * (primary + indirect)
            received = np.einsum("kc,kcx->kx", seen.share, sent[seen.corner])
            for colour in range(3):
                indirect[:, colour] = np.bincount(seen.vertex, received[:, colour], len(index)) / seen.rays * mean
    return Lit(direct, indirect, body * (primary + indirect) / np.pi)


@lru_cache(maxsize=4)
def exchange(subject: Subject, rays: int) -> Exchange:
    """What the vertices of a subject see of it; cast once for all lights."""
    count = len(subject.vertices)
    normal = subject.normals
    aside = np.cross(normal, np.eye(3)[np.abs(normal).argmin(axis=1)])
    aside /= np.maximum(np.linalg.norm(aside, axis=1), 1e-30)[:, None]
    other = np.cross(normal, aside)
    start = (subject.vertices + OFF * normal).astype(np.float32)
    number = np.arange(count)
    vertex, corner, share = [], [], []
    for each in range(rays):
        out = (each + (number * _SHIFT[0]) % 1.0) / rays
        turn = 2 * np.pi * ((each * 0.6180339887498949 + number * _SHIFT[1]) % 1.0)
        flat = np.sqrt(out)
        way = (flat * np.cos(turn))[:, None] * aside + (flat * np.sin(turn))[:, None] * other
        way += np.sqrt(1 - out)[:, None] * normal
        landing = subject.meet(start, way.astype(np.float32))
        outside = landing.front
        vertex.append(landing.ray[outside])
        corner.append(subject.faces[landing.triangle[outside]])
        share.append(landing.share[outside])
    return Exchange(np.concatenate(vertex), np.concatenate(corner), np.concatenate(share), rays)
