"""Forward paths: from the windows of the heads through the parts until they escape or die.

Every interaction from which light could leave toward a point goes into the light cloud.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray

from lightsim.light.beam import sample as sample_beam
from lightsim.light.cast import MISS, OFFSET, Rays
from lightsim.light.cloud import Cloud, Emission, Hits, ShapedHits, Tally, join, spacing, take
from lightsim.light.lattice import Lattice
from lightsim.light.scene import Scene
from lightsim.sheet.scatter import Shares, chosen_shares, evaluate, interaction, sample, shares, straight_through
from lightsim.sheet.tables import Sheets
from lightsim.sheet.vectors import Floats, Vector, dot, scaled, taken, vector

# Weights shrink by what is absorbed for so many bounces; from then on the same share of paths ends instead.
_ROULETTE_AFTER = 8
_MOST_BOUNCES = 1000  # a cavity of reflectance 0.99 ends long before; what is left goes into the residual
_CHUNK = 16_384  # paths at a time: their arrays stay in the processor's cache
_HEAD_CHOICE = 4  # lattice dimension after two of place and two of direction; bounces take three each after it


@dataclass(frozen=True)
class _Landing:
    """Paths that just hit something, (n,) each."""

    position: Vector
    normal: Vector  # to the front
    heading: Vector
    front: NDArray[np.bool_]
    triangle: NDArray[np.int32]
    part: NDArray[np.int32]


def trace(scene: Scene, *, points: int, replicates: int, seed: int) -> Cloud:
    """Light cloud of so many paths (points) in each of so many independent replicates.

    points: a power of two, at most 65,536. Raises ValueError otherwise.
    """
    lattice = Lattice(replicates=replicates, points=points, seed=seed)
    total, parts = points * replicates, len(scene.parts)
    absorbed, escaped, residual, rays = np.zeros(parts), np.zeros(parts), 0.0, 0
    emissions: list[Emission] = []
    diffuse: list[Hits] = []
    shaped: list[ShapedHits] = []
    for first in range(0, total, _CHUNK):
        path = lattice.paths[first : first + _CHUNK]
        emission, start, direction, weight = _emit(scene, lattice, path, total, points)
        emissions.append(emission)
        residual += len(path) / total - float(weight.sum())
        last = np.array(scene.head_part, np.int32)[emission.head]
        worth: Floats = np.ones((len(path), len(scene.others)), np.float32)
        for bounce in range(_MOST_BOUNCES):
            rays += len(path)
            triangle, distance = scene.everything.nearest(start, direction)
            out = triangle == MISS
            if out.any():
                escaped += np.bincount(last[out], weight[out], parts)
                hit = np.flatnonzero(~out)
                triangle, distance, weight, path = triangle[hit], distance[hit], weight[hit], path[hit]
                last, worth = last[hit], worth[hit]
                # take: four times faster on rows than an index
                start, direction = start.take(hit, axis=0), direction.take(hit, axis=0)
            if not len(path):
                break
            landing = _land(scene, triangle, distance, start, direction)
            share = shares(scene.sheets, landing.part, landing.front, dot(landing.normal, landing.heading))
            _keep(scene, landing, share, weight, (path // points).astype(np.int32), last, worth, diffuse, shaped)
            kept = weight * share.total
            absorbed += np.bincount(landing.part, weight - kept, parts)
            going, start, direction, change, ratio = _scatter(scene, lattice, path, bounce, landing, share)
            path, last, weight = path[going], landing.part[going], weight[going] * change
            worth = worth[going] * ratio
            residual += float(kept.sum() - weight.sum())
        else:
            residual += float(weight.sum())
    even, uneven = join(Hits, diffuse), join(ShapedHits, shaped)
    return Cloud(
        scene=scene,
        replicates=replicates,
        points=points,
        seed=seed,
        emission=join(Emission, emissions),
        diffuse=even,
        shaped=uneven,
        tally=Tally(absorbed, escaped, residual),
        rays=rays,
        spacing=spacing(scene, replicates, (even, uneven)),
        landed_on=np.flatnonzero(np.bincount(np.concatenate([even.triangle, uneven.triangle]))),
    )


def _emit(
    scene: Scene, lattice: Lattice, path: NDArray[np.uint32], total: int, points: int
) -> tuple[Emission, Rays, Rays, NDArray[np.float64]]:
    head = np.zeros(len(path), np.int32)
    if len(scene.heads) > 1:
        edges = np.cumsum([lamp.share for lamp in scene.heads])[:-1]
        head = np.searchsorted(edges, lattice.coordinates(_HEAD_CHOICE, 1, path)[0], side="right").astype(np.int32)
    u, v, profile, turn = lattice.coordinates(0, 4, path)
    point, start, direction = (np.empty((len(path), 3), np.float32) for _ in range(3))
    weight = np.full(len(path), 1.0 / total)
    for number, lamp in enumerate(scene.heads):
        own = np.flatnonzero(head == number) if len(scene.heads) > 1 else slice(None)
        across, upward = (u[own] - 0.5) * lamp.width, (v[own] - 0.5) * lamp.height
        cosine, change = sample_beam(lamp.beam, profile[own])
        sine = np.sqrt(np.maximum(1.0 - cosine * cosine, 0.0))
        sideways, lifted = sine * np.cos(2 * np.pi * turn[own]), sine * np.sin(2 * np.pi * turn[own])
        for axis in range(3):
            point[own, axis] = lamp.centre[axis] + across * lamp.right[axis] + upward * lamp.up[axis]
            start[own, axis] = point[own, axis] + OFFSET * lamp.forward[axis]
            direction[own, axis] = sideways * lamp.right[axis] + lifted * lamp.up[axis] + cosine * lamp.forward[axis]
        weight[own] *= change
    emission = Emission(
        x=point[:, 0],
        y=point[:, 1],
        z=point[:, 2],
        head=head,
        light=np.full(len(path), 1.0 / total, np.float32),
        replicate=(path // points).astype(np.int32),
    )
    return emission, start, direction, weight


def _land(scene: Scene, triangle: NDArray[np.int32], distance: Floats, start: Rays, direction: Rays) -> _Landing:
    heading = vector(np.ascontiguousarray(direction.T).T)
    x, y, z = (start[:, axis] + distance * heading[axis] for axis in range(3))
    normal = scene.normals(triangle)
    return _Landing((x, y, z), normal, heading, dot(heading, normal) < 0, triangle, scene.part.take(triangle))


def _keep(
    scene: Scene,
    landing: _Landing,
    share: Shares,
    weight: NDArray[np.float64],
    replicate: NDArray[np.int32],
    last: NDArray[np.int32],
    worth: Floats,
    diffuse: list[Hits],
    shaped: list[ShapedHits],
) -> None:
    """Put what can send light on into the cloud's lists."""
    light = weight.astype(np.float32)
    sends = share.scattered > 0
    uneven = sends & scene.sheets.shaped.take(landing.part) if scene.sheets.shaped.any() else None
    seen: Floats = light
    if scene.sheets.tables is not None:
        side = landing.part * 2 + ~landing.front
        seen = light * interaction(scene.sheets, side, dot(landing.normal, landing.heading))
    own_worth = worth
    if scene.others:
        own_worth = worth * scene.weighed(landing.part, partial(_seen, landing))
    hits = Hits(*landing.position, landing.triangle, landing.front, seen, replicate, own_worth)
    even = sends if uneven is None else sends & ~uneven
    diffuse.append(hits if even.all() else take(hits, np.flatnonzero(even)))
    if uneven is not None:
        x, y, z = landing.heading
        whole = ShapedHits(
            *landing.position, landing.triangle, landing.front, light, replicate, worth, -x, -y, -z, last
        )
        shaped.append(take(whole, np.flatnonzero(uneven)))


def _scatter(
    scene: Scene, lattice: Lattice, path: NDArray[np.uint32], bounce: int, landing: _Landing, share: Shares
) -> tuple[NDArray[np.intp] | slice, Rays, Rays, Floats, Floats]:
    """Which paths go on, from where, where to, the factor on their weight, and what that step is worth under the
    scene's other materials."""
    choice, u, v = lattice.coordinates(_HEAD_CHOICE + 1 + 3 * bounce, 3, path)
    going: NDArray[np.intp] | slice
    if bounce < _ROULETTE_AFTER:
        choice *= share.total
        going = slice(None) if share.total.all() else np.flatnonzero(share.total)
        change: Floats = share.total[going]
    else:
        going = np.flatnonzero(choice < share.total)
        change = np.ones(len(going), np.float32)
    if not isinstance(going, slice):
        share = chosen_shares(share, going)
    normal = taken(landing.normal, going)
    back = scaled(np.full(1, -1, np.float32), taken(landing.heading, going))
    part, front, choice = landing.part[going], landing.front[going], choice[going]
    out, side, weight, _ = sample(scene.sheets, part, front, normal, back, share, choice, u[going], v[going])
    start, direction = np.empty((len(side), 3), np.float32), np.empty((len(side), 3), np.float32)
    step = OFFSET * side
    for number in range(3):
        direction[:, number] = out[number]
        start[:, number] = landing.position[number][going] + step * normal[number]
    straight = np.zeros(len(part), bool) if share.straight is None else choice < share.straight

    def sent(sheets: Sheets, own: NDArray[np.intp]) -> Floats:
        value = evaluate(sheets, part[own], front[own], taken(normal, own), taken(back, own), taken(out, own))
        ahead = straight[own]
        value[ahead] = straight_through(sheets, part[own][ahead], dot(taken(normal, own), taken(back, own))[ahead])
        return value

    return going, start, direction, change * weight, scene.weighed(part, sent)


def _seen(landing: _Landing, sheets: Sheets, own: NDArray[np.intp]) -> Floats:
    side = (landing.part * 2 + ~landing.front)[own]
    return interaction(sheets, side, dot(taken(landing.normal, own), taken(landing.heading, own)))
