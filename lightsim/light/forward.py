"""Forward paths: from the windows of the heads through the parts until they escape or die.

Every interaction from which light could leave toward a point goes into the light cloud.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lightsim.light.beam import sample
from lightsim.light.cast import MISS, OFFSET, Rays
from lightsim.light.cloud import Cloud, Emission, Hits, MetalHits, Tally, join, spacing, take
from lightsim.light.lattice import Lattice
from lightsim.light.scene import Scene
from lightsim.sheet.scatter import (
    Floats,
    Vector,
    dot,
    interaction,
    lambertian,
    reflect_off_metal,
    scaled,
    straight_through,
    taken,
    vector,
)

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


@dataclass(frozen=True)
class _Shares:
    """What becomes of the light at each landing, (n,) each; the arrays of absent lobes are None."""

    diffuse: Floats  # back and through together
    total: Floats  # of all lobes
    until_back: Floats  # straight + metal + diffuse back, for choosing a lobe
    seen: Floats | None  # light takes part in diffuse scattering in this proportion; 1 at normal incidence
    straight: Floats | None
    metal: Floats | None


def trace(scene: Scene, *, points: int, replicates: int, seed: int) -> Cloud:
    """Light cloud of so many paths (points) in each of so many independent replicates.

    points: a power of two, at most 65,536. Raises ValueError otherwise.
    """
    lattice = Lattice(replicates=replicates, points=points, seed=seed)
    total, parts = points * replicates, len(scene.parts)
    absorbed, escaped, residual, rays = np.zeros(parts), np.zeros(parts), 0.0, 0
    emissions: list[Emission] = []
    diffuse: list[Hits] = []
    metal: list[MetalHits] = []
    for first in range(0, total, _CHUNK):
        path = lattice.paths[first : first + _CHUNK]
        emission, start, direction, weight = _emit(scene, lattice, path, total, points)
        emissions.append(emission)
        residual += len(path) / total - float(weight.sum())
        last = np.array(scene.head_part, np.int32)[emission.head]
        for bounce in range(_MOST_BOUNCES):
            rays += len(path)
            triangle, distance = scene.everything.nearest(start, direction)
            out = triangle == MISS
            if out.any():
                escaped += np.bincount(last[out], weight[out], parts)
                hit = np.flatnonzero(~out)
                triangle, distance, weight, path = triangle[hit], distance[hit], weight[hit], path[hit]
                # take: four times faster on rows than an index
                start, direction = start.take(hit, axis=0), direction.take(hit, axis=0)
            if not len(path):
                break
            landing = _land(scene, triangle, distance, start, direction)
            shares = _shares(scene, landing)
            _keep(landing, shares, weight, (path // points).astype(np.int32), diffuse, metal)
            kept = weight * shares.total
            absorbed += np.bincount(landing.part, weight - kept, parts)
            going, start, direction, change, swallowed = _scatter(scene, lattice, path, bounce, landing, shares)
            path, last, weight = path[going], landing.part[going], weight[going] * change
            residual += float(kept.sum() - weight.sum())
            if swallowed is not None:
                lost = weight * swallowed
                absorbed += np.bincount(last, lost, parts)
                weight = weight - lost
        else:
            residual += float(weight.sum())
    scattered, shone = join(Hits, diffuse), join(MetalHits, metal)
    return Cloud(
        scene=scene,
        replicates=replicates,
        points=points,
        seed=seed,
        emission=join(Emission, emissions),
        diffuse=scattered,
        metal=shone,
        tally=Tally(absorbed, escaped, residual),
        rays=rays,
        spacing=spacing(scene, replicates, (scattered, shone)),
        landed_on=np.flatnonzero(np.bincount(np.concatenate([scattered.triangle, shone.triangle]))),
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
        cosine, change = sample(lamp.beam, profile[own])
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


def _shares(scene: Scene, landing: _Landing) -> _Shares:
    table = scene.sheets
    side = landing.part * 2 + ~landing.front
    back: Floats = table.reflectance.take(side)
    through: Floats = table.transmittance.take(landing.part)
    seen = straight = metal = None
    if scene.has_straight:
        normal_incidence = table.straight.take(landing.part)
        cosine = dot(landing.normal, landing.heading)
        straight = straight_through(normal_incidence, cosine)
        seen = interaction(normal_incidence, cosine)
        back, through = back * seen, through * seen
    diffuse = total = back + through
    until_back = back
    if straight is not None:
        total, until_back = total + straight, until_back + straight
    if scene.has_metal:
        metal = table.metal.take(side)
        total, until_back = total + metal, until_back + metal
    return _Shares(diffuse, total, until_back, seen, straight, metal)


def _keep(
    landing: _Landing,
    shares: _Shares,
    weight: NDArray[np.float64],
    replicate: NDArray[np.int32],
    diffuse: list[Hits],
    metal: list[MetalHits],
) -> None:
    """Put what can send light on into the cloud's lists."""
    light = weight.astype(np.float32)
    seen = light if shares.seen is None else light * shares.seen
    hits = Hits(*landing.position, landing.triangle, landing.front, seen, replicate)
    diffuse.append(hits if shares.diffuse.all() else take(hits, np.flatnonzero(shares.diffuse)))
    if shares.metal is not None:
        shiny = np.flatnonzero(shares.metal)
        x, y, z = landing.heading
        glint = MetalHits(*landing.position, landing.triangle, landing.front, light, replicate, -x, -y, -z)
        metal.append(take(glint, shiny))


def _scatter(
    scene: Scene, lattice: Lattice, path: NDArray[np.uint32], bounce: int, landing: _Landing, shares: _Shares
) -> tuple[NDArray[np.intp] | slice, Rays, Rays, Floats, Floats | None]:
    """Which paths go on, from where, where to, the factor on their weight, and the share of it that metal swallows.

    Light that hits a second facet of rough metal is lost in this model (single scattering).
    """
    choice, u, v = lattice.coordinates(_HEAD_CHOICE + 1 + 3 * bounce, 3, path)
    going: NDArray[np.intp] | slice
    if bounce < _ROULETTE_AFTER:
        choice *= shares.total
        going = slice(None) if shares.total.all() else np.flatnonzero(shares.total)
        change: Floats = shares.total[going]
    else:
        going = np.flatnonzero(choice < shares.total)
        change = np.ones(len(going), np.float32)
    choice, u, v = choice[going], u[going], v[going]
    normal, heading = taken(landing.normal, going), taken(landing.heading, going)
    lit = np.where(landing.front[going], np.float32(1), np.float32(-1))
    side = np.where(choice < shares.until_back[going], lit, -lit)  # on which the light leaves
    out = lambertian(scaled(side, normal), u, v)
    edge: Floats | float = 0.0  # of the lobes chosen so far
    swallowed: Floats | None = None
    if shares.straight is not None:
        edge = shares.straight[going]
        onward = choice < edge
        side = np.where(onward, -lit, side)
        out = _choose(onward, heading, out)
        normal_incidence = scene.sheets.straight.take(landing.part[going])
        mean = scene.sheets.mean_interaction.take(landing.part[going])
        lobe = interaction(normal_incidence, dot(normal, out)) / mean
        change = change * np.where(onward, np.float32(1), lobe)
    if shares.metal is not None:
        shiny = np.flatnonzero((choice >= edge) & (choice < edge + shares.metal[going]))
        turned, weight = reflect_off_metal(
            scene.sheets.roughness.take(landing.part[going][shiny]),
            taken(scaled(lit, normal), shiny),
            taken(scaled(np.full(1, -1, np.float32), heading), shiny),
            u[shiny],
            v[shiny],
        )
        for axis, value in zip(out, turned, strict=True):
            axis[shiny] = value
        swallowed = np.zeros(len(choice), np.float32)
        swallowed[shiny] = 1 - weight
    start, direction = np.empty((len(choice), 3), np.float32), np.empty((len(choice), 3), np.float32)
    step = OFFSET * side
    for number in range(3):
        direction[:, number] = out[number]
        start[:, number] = landing.position[number][going] + step * normal[number]
    return going, start, direction, change, swallowed


def _choose(condition: NDArray[np.bool_], yes: Vector, no: Vector) -> Vector:
    a, b, c = (np.where(condition, left, right) for left, right in zip(yes, no, strict=True))
    return a, b, c
