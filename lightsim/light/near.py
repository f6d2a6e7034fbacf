"""Arrivals at a point, with a final gather for surfaces so near that plain connections would spike.

A connection carries 1 / d^2: next to a leaf 2 mm away a few vertices outweigh all others. For such parts stratified
rays go out from the point, and the cloud is connected to where they land (design and trial in docs/theory.md).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from lightsim.light.arrivals import Arrivals, merge
from lightsim.light.beam import intensity
from lightsim.light.cast import MISS, OFFSET
from lightsim.light.cloud import Cloud, Hits, LightByReplicate, MetalHits, take
from lightsim.light.gather import connect, leaving
from lightsim.light.lattice import Lattice
from lightsim.light.scene import Scene
from lightsim.sheet.scatter import Floats, Vector, dot, interaction, scaled, straight_through, taken, vector

# Spacings of a part's vertices. Over an evenly lit leaf plain connections err by 3 % at one spacing, 0.6 % at two
# and 0.3 % at three, where the final gather errs by 0.2 to 0.3 % at any; their error bars are honest from one on.
_NEAR = 2.5
# The links of a final gather seldom meet the narrow lobe of a smoother metal, so there plain connections do better.
_NEAR_GLOSSY, _GLOSSY = 1.0, 0.15
_RAYS, _PATHS_A_RAY = 128, 16  # least number of rays from the point, per replicate; more with more paths
_LINKS = 8  # connections of each landing to scattered light, and half as many to the heads


def arrivals(cloud: Cloud, point: NDArray[np.float64], *, ignore: Sequence[str] = ()) -> Arrivals:
    """All light arriving at point (3,) mm, but for what the parts named in ignore send (they still block)."""
    point = np.asarray(point, float)
    ignored = np.array([part.name in ignore for part in cloud.scene.parts])
    near = near_parts(cloud, point) & ~ignored
    left_out = near | ignored
    plain = connect(cloud, point, leave_out=left_out if left_out.any() else None)
    return merge([plain, _final_gather(cloud, point, near)]) if near.any() else plain


def near_parts(cloud: Cloud, point: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Parts nearer to point than a few times the spacing of their vertices, (p,)."""
    scene, sheets = cloud.scene, cloud.scene.sheets
    metal = sheets.metal.reshape(-1, 2).max(axis=1)
    sends = metal + sheets.reflectance.reshape(-1, 2).max(axis=1) + sheets.transmittance > 0
    glossy = (metal > 0) & (sheets.roughness < _GLOSSY)
    reach = np.where(sends, np.where(glossy, _NEAR_GLOSSY, _NEAR) * cloud.spacing, -1.0)
    return np.asarray(scene.distance(point, reach) < reach)


def _final_gather(cloud: Cloud, point: NDArray[np.float64], near: NDArray[np.bool_]) -> Arrivals:
    scene = cloud.scene
    # The same random numbers at every point: noise then cancels in the ratio of two points.
    rng = np.random.default_rng([cloud.seed, 0x9A7])
    rays = max(_RAYS, cloud.points // _PATHS_A_RAY)
    lattice = Lattice(replicates=cloud.replicates, points=rays, seed=int(rng.integers(2**31)))
    u, v = lattice.coordinates(0, 2, lattice.paths)
    height, turn = 1 - 2 * u, (2 * np.pi) * v
    flat = np.sqrt(np.maximum(1 - height * height, 0))
    direction = np.stack([flat * np.cos(turn), flat * np.sin(turn), height], axis=1).astype(np.float32)
    replicate = np.repeat(np.arange(cloud.replicates, dtype=np.int32), rays)
    number, landing, passed = _landings(scene, point, direction, near)
    luminance = passed * _luminance(cloud, landing, direction[number], replicate[number], rng)
    lit = np.flatnonzero(luminance > 0)
    return Arrivals(
        point=point,
        direction=direction[number[lit]].astype(float),
        origin=np.stack([landing.x, landing.y, landing.z], axis=1)[lit].astype(float),
        weight=luminance[lit] * (4 * np.pi / rays),
        part=scene.part[landing.triangle[lit]],
        straight=np.zeros(len(lit), bool),
        luminance=np.zeros(len(lit)),
        replicate=replicate[number[lit]],
        replicates=cloud.replicates,
    )


def _landings(
    scene: Scene, point: NDArray[np.float64], direction: NDArray[np.float32], near: NDArray[np.bool_]
) -> tuple[NDArray[np.intp], Hits, NDArray[np.float64]]:
    """Where rays from the point meet near parts: ray number, landing (unlit), transmittance on the way."""
    number = np.arange(len(direction))
    start = np.repeat(point.astype(np.float32)[None, :], len(direction), axis=0)
    passed = np.ones(len(direction))
    found: list[tuple[NDArray[np.intp], NDArray[np.float32], NDArray[np.int32], NDArray[np.float64]]] = []
    while len(number):
        triangle, distance = scene.everything.nearest(start, direction[number])
        hit = np.flatnonzero(triangle != MISS)
        number, triangle, passed = number[hit], triangle[hit], passed[hit]
        place = start[hit] + distance[hit][:, None] * direction[number]
        part = scene.part[triangle]
        wanted = np.flatnonzero(near[part])
        found.append((number[wanted], place[wanted], triangle[wanted], passed[wanted]))
        cosine = (scene.normal[:, triangle].T * direction[number]).sum(axis=1)
        onward = straight_through(scene.sheets.straight[part], cosine)
        clear = np.flatnonzero(onward > 0)
        number, passed = number[clear], passed[clear] * onward[clear]
        start = place[clear] + np.float32(OFFSET) * direction[number]
    number, place, triangle, passed = (np.concatenate(column) for column in zip(*found, strict=True))
    facing = (scene.normal[:, triangle].T * direction[number]).sum(axis=1) < 0
    hits = Hits(
        x=place[:, 0],
        y=place[:, 1],
        z=place[:, 2],
        triangle=triangle,
        front=facing,
        light=np.zeros(len(number), np.float32),
        replicate=np.zeros(len(number), np.int32),
    )
    return number, hits, passed


def _luminance(
    cloud: Cloud,
    landing: Hits,
    direction: NDArray[np.float32],
    replicate: NDArray[np.int32],
    rng: np.random.Generator,
) -> NDArray[np.float64]:
    """Luminance of each landing as seen from the point, per lm s emitted, (n,)."""
    scene = cloud.scene
    luminance = np.zeros(len(landing.x))
    if not len(landing.x):
        return luminance
    normal, out = scene.normals(landing.triangle), vector(-direction)
    cos_out = np.abs(dot(normal, out))
    for group, links in ((cloud.emission, _LINKS // 2), (cloud.diffuse, _LINKS), (cloud.metal, _LINKS)):
        if not len(group.x):
            continue
        which, owner, scale = _resample(cloud.by_replicate(group), replicate, links, rng)
        source, target = take(group, which), take(landing, owner)
        dx, dy, dz = target.x - source.x, target.y - source.y, target.z - source.z
        square = np.maximum(dx * dx + dy * dy + dz * dz, np.float32(1e-6))
        reach = np.sqrt(square)
        way = (dx / reach, dy / reach, dz / reach)
        if isinstance(source, Hits):
            sent = leaving(scene, source, way)
            facing = scene.normals(source.triangle)
            away = np.stack(scaled(np.float32(OFFSET) * np.sign(dot(facing, way)), facing), axis=1)
        else:
            sent = np.zeros(len(which), np.float32)
            for lamp_number, lamp in enumerate(scene.heads):
                own = source.head == lamp_number
                cosine = np.stack(taken(way, own), axis=1) @ lamp.forward
                sent[own] = source.light[own] * intensity(lamp.beam, cosine)
            away = OFFSET * np.array([lamp.forward for lamp in scene.heads])[source.head]
        cos_in = -dot(way, taken(normal, owner))
        received = sent * scale * np.abs(cos_in) / square
        worth = np.flatnonzero(received > 0)
        start = (np.stack([source.x, source.y, source.z], axis=1)[worth] + away[worth]).astype(np.float32)
        ray = np.stack(way, axis=1, dtype=np.float32)[worth]
        # Stops short of the landing, so that its own surface does not block it: by more where the light grazes it.
        short = np.minimum(4 * OFFSET / np.abs(cos_in[worth]), 0.5 * reach[worth])
        received = received[worth] * scene.transmission(start, ray, reach[worth] - short)
        towards = vector(-ray)
        value = _sent_on(scene, take(target, worth), received, cos_in[worth], towards, taken(out, owner[worth]))
        luminance += np.bincount(owner[worth], value / np.maximum(cos_out[owner[worth]], 1e-6), len(luminance))
    return luminance


def _sent_on(
    scene: Scene,
    target: Hits,
    received: Floats,
    cos_in: Floats,
    towards: Vector,
    out: Vector,
) -> NDArray[np.float64]:
    """Intensity per area in direction out of light received per area, by the diffuse and the metal lobe."""
    part = scene.part[target.triangle]
    lit = cos_in > 0
    seen = received * interaction(scene.sheets.straight[part], cos_in) if scene.has_straight else received
    base = (target.x, target.y, target.z, target.triangle, lit)
    value = leaving(scene, Hits(*base, seen, target.replicate), out).astype(float)
    if scene.has_metal:
        glint = MetalHits(*base, received, target.replicate, towards[0], towards[1], towards[2])
        value = value + leaving(scene, glint, out)
    return value


def _resample(
    light: LightByReplicate, wanted: NDArray[np.int32], links: int, rng: np.random.Generator
) -> tuple[NDArray[np.intp], NDArray[np.intp], Floats]:
    """links sources for each landing, from its own replicate, in proportion to their light.

    wanted: (n,) replicate of each landing. Returns source numbers, landing numbers and the factor that keeps the sum
    unbiased, all (k,).
    """
    order = np.argsort(wanted, kind="stable")
    landings = np.bincount(wanted, minlength=len(light.total))
    landings = np.where(light.total > 0, landings, 0)
    owner = np.repeat(order[light.total[wanted[order]] > 0], links)
    replicate = wanted[owner]
    # Systematic sampling: equal steps through the light of a replicate from a random start.
    step = light.total / np.maximum(landings * links, 1)
    rank = np.arange(len(owner)) - np.repeat(np.cumsum(landings * links) - landings * links, landings * links)
    at = light.before[replicate] + (rank + rng.random(len(light.total))[replicate]) * step[replicate]
    place = np.searchsorted(light.edge, at, side="right")
    place = np.clip(place, light.first[replicate], light.first[replicate + 1] - 1)
    # Shuffled within each replicate, or neighbours in the list would all light the same landing.
    place = place[np.lexsort((rng.random(len(place)), replicate))]
    picked = light.order[place]
    scale = light.total[replicate] / (light.light[place] * links)
    return picked, owner, scale.astype(np.float32)
