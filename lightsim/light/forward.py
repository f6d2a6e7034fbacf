"""Forward paths: from the windows of the heads through the parts until they escape or die.

Every interaction from which light could leave toward a point goes into the light cloud.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray

from lightsim.light.beam import directions
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
class Paths:
    """Paths on their way, (n,) each but for start and direction (n, 3)."""

    number: NDArray[np.uint32]  # of the path
    start: Rays  # mm
    direction: Rays  # unit
    weight: NDArray[np.float64]  # lm s per lm s emitted; 1 in all as they leave the heads
    last: NDArray[np.int32]  # part that they left
    worth: Floats  # (n, others) under the scene's other materials


@dataclass(frozen=True)
class Landing:
    """Paths that just hit something, (n,) each."""

    position: Vector
    normal: Vector  # to the front
    heading: Vector
    front: NDArray[np.bool_]
    triangle: NDArray[np.int32]
    part: NDArray[np.int32]


@dataclass(frozen=True)
class Missed:
    """Some of n paths met nothing."""

    paths: Paths  # all n, as they set out
    out: NDArray[np.bool_]  # (n,) which of them


@dataclass(frozen=True)
class Landed:
    """n paths that landed, and k that go on from there."""

    paths: Paths  # (n) as they set out
    landing: Landing
    share: Shares
    onward: Paths  # (k)


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
        emission, paths = emit(scene, lattice, lattice.paths[first : first + _CHUNK])
        emissions.append(emission)
        under_way = float(paths.weight.sum())
        residual += len(paths.number) / total - under_way
        for step in follow(scene, lattice, paths):
            if isinstance(step, Missed):
                gone = step.paths.weight[step.out]
                rays += len(gone)
                escaped += np.bincount(step.paths.last[step.out], gone, parts)
                under_way = 0.0 if len(gone) == len(step.out) else under_way
                continue
            rays += len(step.paths.number)
            replicate = (step.paths.number // points).astype(np.int32)
            _keep(scene, step, replicate, diffuse, shaped)
            kept = step.paths.weight * step.share.total
            absorbed += np.bincount(step.landing.part, step.paths.weight - kept, parts)
            under_way = float(step.onward.weight.sum())
            residual += float(kept.sum()) - under_way
        residual += under_way
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


def follow(
    scene: Scene, lattice: Lattice, paths: Paths, *, roulette_after: int = _ROULETTE_AFTER
) -> Iterator[Missed | Landed]:
    """What becomes of paths, bounce by bounce, until none is under way.

    roulette_after: bounces for which weights shrink by what is absorbed; from then on paths end at random instead.
    """
    for bounce in range(_MOST_BOUNCES):
        if not len(paths.number):
            return
        triangle, distance = scene.everything.nearest(paths.start, paths.direction)
        out = triangle == MISS
        if out.any():
            yield Missed(paths, out)
            hit = np.flatnonzero(~out)
            if not len(hit):
                return
            triangle, distance, paths = triangle[hit], distance[hit], _taken(paths, hit)
        landing = _land(scene, triangle, distance, paths.start, paths.direction)
        share = shares(scene.sheets, landing.part, landing.front, dot(landing.normal, landing.heading))
        onward = _scatter(scene, lattice, paths, bounce, landing, share, roulette_after)
        yield Landed(paths, landing, share, onward)
        paths = onward


def _taken(paths: Paths, chosen: NDArray[np.intp]) -> Paths:
    return Paths(
        number=paths.number[chosen],
        # take: four times faster on rows than an index
        start=paths.start.take(chosen, axis=0),
        direction=paths.direction.take(chosen, axis=0),
        weight=paths.weight[chosen],
        last=paths.last[chosen],
        worth=paths.worth[chosen],
    )


def emit(scene: Scene, lattice: Lattice, path: NDArray[np.uint32]) -> tuple[Emission, Paths]:
    """Where the numbered paths of a lattice leave the heads, and the paths as they set out."""
    total, points = len(lattice.paths), lattice.points
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
        cosine, around, change = directions(lamp.beam, profile[own], turn[own])
        sine = np.sqrt(np.maximum(1.0 - cosine * cosine, 0.0))
        sideways, lifted = sine * np.cos(around), sine * np.sin(around)
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
    last = np.array(scene.head_part, np.int32)[head]
    worth: Floats = np.ones((len(path), len(scene.others)), np.float32)
    return emission, Paths(path, start, direction, weight, last, worth)


def _land(scene: Scene, triangle: NDArray[np.int32], distance: Floats, start: Rays, direction: Rays) -> Landing:
    heading = vector(np.ascontiguousarray(direction.T).T)
    x, y, z = (start[:, axis] + distance * heading[axis] for axis in range(3))
    normal = scene.normals(triangle)
    return Landing((x, y, z), normal, heading, dot(heading, normal) < 0, triangle, scene.part.take(triangle))


def _keep(
    scene: Scene, step: Landed, replicate: NDArray[np.int32], diffuse: list[Hits], shaped: list[ShapedHits]
) -> None:
    """Put what can send light on into the cloud's lists."""
    landing, share, worth = step.landing, step.share, step.paths.worth
    light = step.paths.weight.astype(np.float32)
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
            *landing.position, landing.triangle, landing.front, light, replicate, worth, -x, -y, -z, step.paths.last
        )
        shaped.append(take(whole, np.flatnonzero(uneven)))


def _scatter(
    scene: Scene, lattice: Lattice, paths: Paths, bounce: int, landing: Landing, share: Shares, roulette_after: int
) -> Paths:
    """The paths that go on, and how."""
    choice, u, v = lattice.coordinates(_HEAD_CHOICE + 1 + 3 * bounce, 3, paths.number)
    going: NDArray[np.intp] | slice
    if bounce < roulette_after:
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

    return Paths(
        number=paths.number[going],
        start=start,
        direction=direction,
        weight=paths.weight[going] * (change * weight),
        last=part,
        worth=paths.worth[going] * scene.weighed(part, sent),
    )


def _seen(landing: Landing, sheets: Sheets, own: NDArray[np.intp]) -> Floats:
    side = (landing.part * 2 + ~landing.front)[own]
    return interaction(sheets, side, dot(taken(landing.normal, own), taken(landing.heading, own)))
